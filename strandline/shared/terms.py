"""The ten terms a reader of this program's output needs, and the drawing that shows them.

Data only: `strandline help terms` prints it, and docs/terms.md quotes it (a test compares the two).
"""

from __future__ import annotations

DRAWING = """\
          seal            marker                   far end
  __________|                |                     |_______
     leg    |======shaft=====#=====================|
  __________|                |                     |_______
            |<seal to marker>|<-marker to far end->|
  wheel free:  |<----- hanging length: seal to far end ----->|
"""
"""A shaft between its seal and its far end, with the lengths read in a photo."""

TERMS: tuple[tuple[str, str], ...] = (
    ("shaft", "the bare tube or rod that slides into the leg"),
    ("seal", "the edge of the leg where the shaft goes in"),
    ("far end", "where the bare shaft stops: clamp, axle foot, or a shock's bumper"),
    ("marker", "tie or O-ring that the seal pushes along; read at its seal side"),
    ("hanging length", "seal to far end with the wheel hanging free"),
    ("used stroke", "how far it went in: hanging length minus marker to far end"),
    ("stroke", "how far it can go in: to the bumper (soft), to the stop (metal)"),
    ("window", "three quarters to all of the stroke to the bumper: where a hard ride should end"),
    ("sag", "how far the bike sinks on its wheels (static), or with the rider aboard"),
    ("±", "95 % uncertainty: 19 times in 20 the true value lies within"),
)
"""Term and meaning, in the order in which they build on each other."""
