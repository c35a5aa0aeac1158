"""The ten terms a reader of this program's output needs, and the drawing that shows them.

Data only: `strandline help terms` prints it, and docs/conventions.md quotes it (a test compares the two).
"""

from __future__ import annotations

DRAWING = """\
        seal            marker                      far end
  ________                                             _______
          |              ____                         |
          |-------------|    |------------------------|
   leg    |    shaft    |    |                        |
          |-------------|____|------------------------|
  ________|                                           |_______
          |             |                             |
          |<---- d ---->|<------------ gn ----------->|
          |<------------------- E ------------------->|
"""
"""A shaft between its seal and its far end, with the three lengths read in a photo."""

TERMS: tuple[tuple[str, str], ...] = (
    ("shaft", "the bare tube or rod that slides into the leg: fork tube or shock rod"),
    ("seal", "the edge of the leg where the shaft goes in"),
    (
        "marker",
        "cable tie or O-ring round the shaft, pushed along by the seal; it is read at its seal-side edge",
    ),
    (
        "far end",
        "where the bare shaft stops: lower clamp (fork), axle foot (upside-down fork), bumper (shock)",
    ),
    ("exposed, E", "length from the seal to the far end; E0 is E with the wheel hanging free"),
    ("marker, d", "length from the seal to the marker's seal-side edge"),
    ("remaining, gn", "length from the marker's seal-side edge to the far end: E = d + gn"),
    ("used stroke, u", "how far the shaft went in at its deepest: u = E0 - gn"),
    ("stroke, S and Sb", "how far it can go in: S to the hard stop, Sb to the bumper"),
    ("±, u95", "95 % uncertainty: the expanded uncertainty with k = 2, twice the standard uncertainty"),
)
"""Term and meaning, in the order in which they build on each other."""
