"""Lengths at the edge: text in, floats in mm, and back to text."""

from __future__ import annotations

from enum import StrEnum

from suspension.errors import QuantityError
from suspension.quantities.grammar import quote
from suspension.quantities.stated import Stated, read_stated
from suspension.quantities.units import LENGTH, LONGEST_MM


class Units(StrEnum):
    """The units that a person may want lengths shown in."""

    MM = "mm"
    IN = "in"


def parse_length(text: str, *, name: str, example: str = "41.0 mm", allow_zero: bool = False) -> Stated:
    """Read a length with its unit, and its uncertainty where one is given.

    Parameters
    ----------
    text : str
        See `stated.read_stated`. Fractions are for inches only.
    name : str
        What the length is, as messages call it ("shaft diameter").
    example : str
        A right one, shown when the text is refused.
    allow_zero : bool
        Whether 0 makes sense for this length.

    Returns
    -------
    Stated
        In mm.

    Raises
    ------
    QuantityError
        What `read_stated` refuses; zero, over `LONGEST_MM`, or an uncertainty as large as the length itself.
    """
    stated = read_stated(text, LENGTH, name=name, example=example)
    remedy = f"Check the number and its unit, for example {example}."
    if stated.value > LONGEST_MM:
        raise QuantityError(
            f"A {name} of {quote(stated.as_written)} is over {LONGEST_MM / 1000:g} m: nothing on a motorcycle is "
            "that long.",
            remedy,
        )
    if stated.value == 0.0 and not allow_zero:
        raise QuantityError(f"The {name} cannot be zero.", remedy)
    if stated.half_width is not None and stated.half_width >= stated.value and not allow_zero:
        raise QuantityError(
            f"The uncertainty of the {name} is as large as the {name}: {quote(stated.as_written)}.", remedy
        )
    return stated


def format_length(mm: float, units: Units | str = Units.MM, *, u95_mm: float | None = None) -> str:
    """Write a length for a person: ``92.0 mm``, ``3.622 in``, or with its uncertainty ``92.0 ± 0.5 mm``.

    Parameters
    ----------
    mm : float
        Length, mm.
    units : Units or "mm" or "in"
    u95_mm : float, optional
        Expanded uncertainty (k = 2), mm.

    Raises
    ------
    QuantityError
        Units other than mm and in.

    Examples
    --------
    >>> format_length(92.04, u95_mm=0.52)
    '92.0 ± 0.5 mm'
    >>> format_length(34.925, "in")
    '1.375 in'
    """
    try:
        chosen = Units(units)
    except ValueError:
        raise QuantityError(f"Lengths are not shown in {quote(str(units))}.", "Choose mm or in.") from None
    # 0.1 mm and 0.001 in: further digits are below the uncertainty.
    factor = LENGTH.factor(chosen)
    assert factor is not None
    mm_per, decimals = float(factor), 1 if chosen is Units.MM else 3
    numbers = [mm] if u95_mm is None else [mm, u95_mm]
    # + 0.0 turns a rounded -0.0 into 0.0
    return " ± ".join(f"{round(x / mm_per, decimals) + 0.0:.{decimals}f}" for x in numbers) + f" {chosen}"
