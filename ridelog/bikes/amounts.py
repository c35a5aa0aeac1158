"""What the numbers in a bike's file and the log may be, and what they are worth where no ± is written.

A number without a unit is refused: it may be kilograms or pounds. How numbers are read is suspension's, see
`suspension.quantities.declared`.
"""

from __future__ import annotations

from suspension.quantities import units
from suspension.quantities.declared import Expected

DONT_KNOW = "don't know"
_DONT_KNOW = {"don't know", "dont know", "do not know", "unknown", "not known", "?", ""}

MASS = Expected(
    units.MASS,
    (0.1, 1500.0),  # from a tank bag's map to a loaded outfit
    1.0,  # bathroom scales, and plates printed in whole kilograms
    0.0,
    "180 kg",
)
RATE = Expected(
    units.RATE,
    (1.0, 500.0),  # usual: 6 to 160
    0.0,
    0.05,  # springs of one batch
    "9.0 N/mm",
)
FORCE = Expected(units.FORCE, (0.0, 50000.0), 5.0, 0.02, "400 N")
STRESS = Expected(
    units.STRESS,
    (10000.0, 200000.0),  # titanium 44000, steel 77000 to 82000
    500.0,
    0.0,
    "79 GPa",
)
ANGLE = Expected(units.ANGLE, (0.0, 90.0), 0.5, 0.0, "25 deg")
PRESSURE = Expected(
    units.PRESSURE,
    (0.0, 3000.0),
    5.0,  # a garage gauge
    0.0,
    "2.5 bar",
)
VOLUME = Expected(units.VOLUME, (1.0, 5000.0), 3.0, 0.0, "300 ml")


def is_dont_know(text: str) -> bool:
    """Whether a person said that they do not know; ’ and ' are the same."""
    return " ".join(text.replace("’", "'").lower().split()).rstrip(".") in _DONT_KNOW
