"""Invented settings of eight owners of the demo's motorcycle, to try the pool with; nobody rode any of them.

The scenario: solo riders of 58 to 104 kg, three who take a passenger, one with luggage. One rider likes it firm, one
has a softer spring than the others, so that owners differ and the pool has something to say about it.
"""

from __future__ import annotations

from ridelog.names import AdjusterKind, End
from strandline.pool.file import FORMAT, PoolRow, owner_label
from suspension.quantities.quantity import Quantity

KIND = "Sandpiper (invented)"
"""The kind of bike that the invented owners share; the demo's bike is one of it."""

# Owner, kg on the rear axle, count, its u95, rides.
_REAR = (
    (1, 131.0, 2.0, 1.6, 4),
    (2, 138.5, 3.0, 2.0, 3),
    (3, 142.0, 4.0, 1.4, 6),
    (3, 189.5, 13.0, 2.4, 3),
    (4, 144.0, 7.0, 1.8, 3),  # likes it firm
    (4, 184.0, 14.0, 2.2, 3),
    (5, 147.5, 5.0, 1.6, 5),
    (6, 149.0, 8.0, 2.0, 4),  # the softer spring
    (6, 187.0, 15.0, 1.8, 4),
    (7, 153.0, 6.0, 2.2, 3),
    (8, 156.5, 7.0, 2.6, 2),
    (8, 171.0, 10.0, 2.8, 2),
)
_FRONT = (
    (1, 127.0, 2.0, 1.0, 4),
    (2, 130.5, 2.0, 1.2, 3),
    (3, 132.0, 3.0, 0.8, 6),
    (4, 134.5, 4.0, 1.0, 3),
    (5, 136.0, 3.0, 1.0, 5),
    (6, 137.0, 3.0, 1.2, 4),
    (7, 141.5, 4.0, 1.2, 3),
    (8, 143.5, 4.0, 1.6, 2),
)


def demo_rows() -> tuple[PoolRow, ...]:
    """Make the rows, each marked as invented."""
    return tuple(
        PoolRow(
            FORMAT,
            KIND,
            end,
            owner_label(f"invented {owner}"),
            load,
            Quantity.from_u95(count, u95),
            kind,
            rides,
            True,
        )
        for end, kind, rows in (
            (End.FRONT, AdjusterKind.TURNS, _FRONT),
            (End.REAR, AdjusterKind.CLICKS, _REAR),
        )
        for owner, load, count, u95, rides in rows
    )
