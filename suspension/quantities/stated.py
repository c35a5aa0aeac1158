"""One number with its unit as a person gives it: decimal point or comma, inch fractions, ± its uncertainty.

A ± gives the half-width of the 95 % interval (k = 2, JCGM 100, 6.2). The uncertainty of a number without ±
depends on what it is: see `declared`.
"""

from __future__ import annotations

from dataclasses import dataclass

from suspension.errors import QuantityError
from suspension.quantities.grammar import Term, quote, read_term, split_uncertainty, tidy
from suspension.quantities.quantity import Quantity
from suspension.quantities.units import LENGTH, Dimension


@dataclass(frozen=True)
class Stated:
    """A number as somebody gave it, all in the dimension's own unit.

    Attributes
    ----------
    value : float
    half_width : float or None
        What stands after ±: the half-width of the 95 % interval. None where no ± is written.
    last_place : float
        Size of the last digit or fraction given: 1 for "41 mm", 0.1 for "41.0 mm", 3.175 for "1 5/8 in".
    as_written : str
        The text, tidied.
    """

    value: float
    half_width: float | None
    last_place: float
    as_written: str

    def quantity(self, usual_u95: float) -> Quantity:
        """Give value and uncertainty: as given, else the usual one, or half the last place where that is more."""
        if self.half_width is not None:
            return Quantity.from_u95(self.value, self.half_width)
        return Quantity.from_u95(self.value, max(usual_u95, self.last_place / 2))


@dataclass(frozen=True)
class _Text:
    """What messages need of a text that is read."""

    name: str
    written: str
    dimension: Dimension
    remedy: str


def read_stated(text: str, dimension: Dimension, *, name: str, example: str) -> Stated:
    """Read a number with its unit, and its uncertainty where one is given.

    Parameters
    ----------
    text : str
        As typed: ``41mm``, ``41,5 mm``, ``1 3/8 in``, ``9.0 N/mm``, ``210 ± 3 kg``, ``41 mm +/- 0.05 mm``,
        ``(41 ± 0.05) mm``.
    dimension : Dimension
    name : str
        What the number is, as messages call it ("shaft diameter").
    example : str
        A right one, shown when the text is refused.

    Returns
    -------
    Stated

    Raises
    ------
    QuantityError
        No number, no unit or that of something else, negative, not finite, ambiguous, or an uncertainty of zero.
    """
    tidied = tidy(text)
    *others, last = (example, *dimension.examples)
    right = f"{', '.join(others)} or {last}" if others else last
    about = _Text(name, tidied, dimension, f"Write one number and its unit, for example {right}.")
    stated, after = split_uncertainty(tidied, name=name, remedy=about.remedy)
    value = read_term(stated, name=name, remedy=about.remedy)
    if after is None:
        return Stated(_in_unit(value, about), None, _place(value, about), tidied)
    half = read_term(after, name=f"uncertainty of the {name}", remedy=about.remedy)
    if half.unit and not value.unit:
        value = Term(value.number, half.unit)  # 41 ± 0.05 mm: one unit for both
    elif value.unit and not half.unit and dimension.takes_others:
        raise QuantityError(
            f"The uncertainty of the {name} has no unit: {quote(tidied)}.",
            f"Give the uncertainty its unit too, for example {example} ± 0.1 mm.",
        )
    elif not half.unit:
        half = Term(half.number, value.unit)
    half_width = _in_unit(half, about, f"uncertainty of the {name}")
    if half_width == 0.0:
        raise QuantityError(
            f"An uncertainty of zero is given for the {name}: no measurement is exact.",
            "Give the half-width of the 95 % interval, or leave the ± out.",
        )
    return Stated(_in_unit(value, about), half_width, _place(value, about), tidied)


def _in_unit(term: Term, about: _Text, name: str | None = None) -> float:
    """Convert a term to the dimension's unit; infinite where it is too large for a float."""
    name = name or about.name
    if not term.unit:
        other = about.dimension.other
        why = "" if other is None else f": it could be {about.dimension.unit} or {other}"
        raise QuantityError(f"The {name} {quote(about.written)} has no unit{why}.", about.remedy)
    factor, number = about.dimension.factor(term.unit), term.number
    if factor is None:
        raise QuantityError(
            f"The {name} cannot be in {quote(term.unit)}; {about.dimension.known} are known.", about.remedy
        )
    if number.is_fraction and about.dimension.takes_others and factor != LENGTH.factor("in"):
        raise QuantityError(
            f"Fractions are for inches; the {name} is given as {quote(about.written)}.", about.remedy
        )
    # "1,614 in" can only mean 1.614 in, for 1614 in is 41 m; "1,234 mm" can mean 1.234 mm or 1234 mm.
    if number.if_thousands is not None and number.if_thousands * factor <= about.dimension.largest:
        point, none = f"{float(number.value):g}", f"{int(number.if_thousands)}"
        raise QuantityError(
            f"The comma in {quote(about.written)} can be a decimal comma or a thousands separator.",
            f"Write {point} {term.unit} or {none} {term.unit}, whichever you mean.",
        )
    try:
        return float(number.value * factor)
    except OverflowError:
        return float("inf")  # refused by the caller as out of range


def _place(term: Term, about: _Text) -> float:
    factor = about.dimension.factor(term.unit)
    assert factor is not None  # `_in_unit` has refused what is no unit
    return float(term.number.place * factor)
