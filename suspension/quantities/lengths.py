"""Lengths with units at the edge: text in, floats in mm out, and back to text.

A ± states the half-width of the 95 % interval (k = 2, JCGM 100, 6.2), so the standard uncertainty is half of
it. What a length without ± is taken for depends on what it is: see `declared`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache

from suspension.errors import QuantityError
from suspension.quantities.grammar import Term, quote, read_term, split_doubt, tidy
from suspension.quantities.quantity import COVERAGE_FACTOR

# Nothing on a motorcycle that this tool asks for is longer: wheelbases end near 2 m [common practice, no
# source].
LONGEST_MM = 3000.0

# What people write, in any case: phones turn "mm" into "Mm", which a units library takes for megametres.
_SPELLINGS = {
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
    "in": "inch",
    "inch": "inch",
    "inches": "inch",
    '"': "inch",
}


class Units(StrEnum):
    """The units that a person may want lengths shown in."""

    MM = "mm"
    IN = "in"


@dataclass(frozen=True)
class DeclaredLength:
    """A length as somebody stated it.

    Attributes
    ----------
    value_mm : float
    sd_mm : float or None
        Standard uncertainty, mm: half of what stands after ±. None where no ± is written.
    as_written : str
        The text, tidied.
    uncertainty_given : bool
        Whether a ± is written.
    last_place_mm : float
        Worth of the last digit or fraction given, mm: 1 for "41 mm", 0.1 for "41.0 mm", 3.175 for "1 5/8 in".
    """

    value_mm: float
    sd_mm: float | None
    as_written: str
    uncertainty_given: bool
    last_place_mm: float


def parse_length(
    text: str, *, name: str, example: str = "41.0 mm", allow_zero: bool = False
) -> DeclaredLength:
    """Read a length with its unit, and its doubt where one is stated.

    Parameters
    ----------
    text : str
        As typed: ``41mm``, ``41,5 mm``, ``1.614 in``, ``1 3/8 in``, ``1-3/8"``, ``41 ± 0.05 mm``,
        ``41 mm +/- 0.05 mm``, ``(41 ± 0.05) mm``. Fractions are for inches only.
    name : str
        What the length is, as messages call it ("shaft diameter").
    example : str
        A right one, shown when the text is refused.
    allow_zero : bool
        Whether 0 makes sense for this length.

    Returns
    -------
    DeclaredLength

    Raises
    ------
    QuantityError
        No unit, no number, negative, zero, not finite, another dimension, ambiguous, over `LONGEST_MM`, or a
        doubt that is zero, has no unit, or is as large as the length itself.
    """
    remedy = f"Write one number and its unit, for example {_examples(example)}."
    tidied = tidy(text)
    stated, doubt = split_doubt(tidied, name=name, remedy=remedy)
    value = read_term(stated, name=name, remedy=remedy)
    half_width = None if doubt is None else read_term(doubt, name=f"doubt of the {name}", remedy=remedy)
    if half_width is not None and half_width.unit and not value.unit:
        value = Term(value.number, half_width.unit)  # 41 ± 0.05 mm: one unit for both
    if half_width is not None and not half_width.unit:
        raise QuantityError(
            f"The doubt of the {name} has no unit: {quote(tidied)}.",
            f"Give the doubt its unit too, for example {example} ± 0.1 mm.",
        )
    value_mm = _to_mm(value, name, tidied, remedy)
    if value_mm > LONGEST_MM:
        raise QuantityError(
            f"A {name} of {quote(tidied)} is over {LONGEST_MM / 1000:g} m: nothing on a motorcycle is that "
            "long.",
            remedy,
        )
    if value_mm == 0.0 and not allow_zero:
        raise QuantityError(f"The {name} cannot be zero.", remedy)
    return DeclaredLength(
        value_mm=value_mm,
        sd_mm=None
        if half_width is None
        else _doubt_sd_mm(half_width, value_mm, name, tidied, remedy, allow_zero),
        as_written=tidied,
        uncertainty_given=half_width is not None,
        last_place_mm=float(value.number.place * _mm_per(value.unit, name, tidied, remedy)),
    )


def format_length(mm: float, units: Units | str = Units.MM, *, u95_mm: float | None = None) -> str:
    """Write a length for a person: ``92.0 mm``, ``3.622 in``, or with its doubt ``92.0 ± 0.5 mm``.

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
    """
    try:
        chosen = Units(units)
    except ValueError:
        raise QuantityError(f"Lengths are not shown in {quote(str(units))}.", "Choose mm or in.") from None
    # 0.1 mm and 0.001 in: the next finer digit would show nothing but doubt.
    mm_per, decimals = (1.0, 1) if chosen is Units.MM else (float(_mm_per("in", "length", "in", "")), 3)
    numbers = [mm] if u95_mm is None else [mm, u95_mm]
    # + 0.0 turns a rounded -0.0 into 0.0
    return " ± ".join(f"{round(x / mm_per, decimals) + 0.0:.{decimals}f}" for x in numbers) + f" {chosen}"


def _examples(example: str) -> str:
    return f"{example}, 41,5 mm, 1.614 in or 1 3/8 in"


def _to_mm(term: Term, name: str, written: str, remedy: str) -> float:
    mm_per = _mm_per(term.unit, name, written, remedy)
    number = term.number
    if number.is_fraction and mm_per != _mm_per("in", name, written, remedy):
        raise QuantityError(f"Fractions are for inches; the {name} is given as {quote(written)}.", remedy)
    # "1,614 in" can only mean 1.614 in, for 1614 in is 41 m; "1,234 mm" can mean 1.234 mm or 1234 mm.
    if number.if_thousands is not None and number.if_thousands * mm_per <= LONGEST_MM:
        point, none = f"{float(number.value):g}", f"{int(number.if_thousands)}"
        raise QuantityError(
            f"The comma in {quote(written)} can be a decimal comma or a thousands separator.",
            f"Write {point} {term.unit} or {none} {term.unit}, whichever you mean.",
        )
    try:
        return float(number.value * mm_per)
    except OverflowError:
        return float("inf")  # refused by the caller as too long


def _doubt_sd_mm(
    half_width: Term, value_mm: float, name: str, written: str, remedy: str, allow_zero: bool
) -> float:
    doubt_mm = _to_mm(half_width, f"doubt of the {name}", written, remedy)
    if doubt_mm == 0.0:
        raise QuantityError(
            f"A doubt of zero is stated for the {name}: no measurement is exact.",
            "State the half-width within which the value lies 95 times in 100, or leave the ± out.",
        )
    if doubt_mm >= value_mm and not allow_zero:
        raise QuantityError(f"The doubt of the {name} is as large as the {name}: {quote(written)}.", remedy)
    return doubt_mm / COVERAGE_FACTOR


def _mm_per(unit: str, name: str, written: str, remedy: str) -> Fraction:
    """Millimetres in one of this unit; refuse what is not a unit of length."""
    if not unit:
        raise QuantityError(
            f"The {name} {quote(written)} has no unit, and mm cannot be told from inches.",
            remedy,
        )
    factor = _pint_mm_per(_SPELLINGS.get(unit.lower(), unit))
    if factor is None:
        raise QuantityError(f"The {name} {quote(written)} has no unit that is known.", remedy)
    if factor == 0:
        raise QuantityError(f"The {name} must be a length, and {quote(unit)} is no unit of length.", remedy)
    return factor


@cache
def _registry():  # type: ignore[no-untyped-def]
    import pint  # a third of a second, and `strandline --help` needs none of it

    return pint, pint.UnitRegistry(non_int_type=Fraction)  # exact: an inch is 25.4 mm, not 25.399…


@cache
def _pint_mm_per(unit: str) -> Fraction | None:
    """Millimetres in one of this unit; 0 where it is of something else, None where there is no such unit."""
    pint, registry = _registry()
    try:
        quantity = registry.Quantity(Fraction(1), registry.Unit(unit))
        return Fraction(quantity.to("millimeter").magnitude)
    except (pint.DimensionalityError, pint.OffsetUnitCalculusError):
        return Fraction(0)
    except (pint.PintError, ValueError, TypeError, AttributeError):
        return None
