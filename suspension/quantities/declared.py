"""The uncertainty of a number as a person gives it: with ±, or assumed, and the remark that says so."""

from __future__ import annotations

from dataclasses import dataclass, replace

from suspension.errors import QuantityError
from suspension.quantities.grammar import quote
from suspension.quantities.lengths import parse_length
from suspension.quantities.quantity import Quantity
from suspension.quantities.stated import Stated, read_stated
from suspension.quantities.units import Dimension

# 95 % half-widths, mm, of a dimension that is given without ±; half the last digit or fraction given counts
# instead where that is more.
CALIPER_U95_MM = 0.04  # a caliper on a round, hard shaft: the project's own requirement
RULE_U95_MM = 0.5  # a steel rule or tape, two ends read to half a millimetre [common practice, no source]
STROKE_U95_MM = 1.0  # a figure from a manual, or zip-tie to zip-tie by rule [common practice, no source]
STRAP_U95_MM = 0.1  # a caliper on a soft strap or O-ring [common practice, no source]

# Refused outside, mm: no fork tube or shock shaft; and what is usual: fork tubes and shock shafts of the
# trade, 6-16 and 33-50 [common practice, no source].
SHAFT_RANGE_MM = (3.0, 80.0)
SHAFT_USUAL_MM = (6.0, 50.0)
# Ties of 2.5, 3.6 and 4.8 mm and O-ring sections of 2-4 mm are usual [common practice, no source].
MARKER_RANGE_MM = (1.0, 15.0)
# Exposed lengths, strokes and bumpers: from a small shock's bumper to a long-travel fork's whole tube.
ALONG_SHAFT_RANGE_MM = (5.0, 1000.0)


@dataclass(frozen=True)
class Amount:
    """A number with its unit as somebody gave it, with its uncertainty.

    Attributes
    ----------
    quantity : Quantity
        Value and standard uncertainty, in `unit`.
    unit : str
        mm, kg, N/mm, N, deg, kPa or ml: one for each dimension.
    as_written : str
    uncertainty_given : bool
        Whether a ± was written, or the uncertainty assumed.
    remark : str
        A sentence for the person: what the uncertainty was taken to be; "" where nothing is said of it.
    """

    quantity: Quantity
    unit: str
    as_written: str
    uncertainty_given: bool
    remark: str = ""

    @property
    def value(self) -> float:
        """The value alone, in `unit`."""
        return self.quantity.value

    @property
    def mm(self) -> Quantity:
        """The quantity of a length, mm.

        Raises
        ------
        QuantityError
            It is no length.
        """
        if self.unit != "mm":
            raise QuantityError(f"{quote(self.as_written)} is no length.", "Give it in mm or inches.")
        return self.quantity


@dataclass(frozen=True)
class Expected:
    """What a number may be, and its uncertainty where no ± is written.

    Attributes
    ----------
    dimension : Dimension
    range : tuple of two floats
        Refused outside, in the dimension's unit.
    u95_least, u95_share : float
        95 % half-width where no ± is written: at least so much, and at least so large a share of the value; half
        the last digit given counts where it is more. All [common practice, no source].
    example : str
    """

    dimension: Dimension
    range: tuple[float, float]
    u95_least: float
    u95_share: float
    example: str


def amount(expected: Expected, text: str, *, name: str) -> Amount:
    """Read a number with its unit, and its uncertainty where one is given.

    Parameters
    ----------
    expected : Expected
    text : str
        Such as ``9.0 N/mm``, ``52 lbf/in``, ``210 kg ± 2 kg``.
    name : str
        What it is, as messages call it.

    Raises
    ------
    QuantityError
        What `read_stated` refuses, or a number out of range.
    """
    stated = read_stated(text, expected.dimension, name=name, example=expected.example)
    unit = expected.dimension.unit
    _check_range(
        stated, name, expected.range, f"Check the number and its unit, for example {expected.example}.", unit
    )
    return _amount(stated, unit, max(expected.u95_least, expected.u95_share * stated.value))


def by_rule(text: str, *, name: str, allow_zero: bool = False, u95_mm: float = RULE_U95_MM) -> Amount:
    """Read a length; without ± it is taken as measured with a ruler (95 % within 0.5 mm), or as `u95_mm` says.

    Raises
    ------
    QuantityError
        Text that is no length.
    """
    return _amount(parse_length(text, name=name, example="20 mm", allow_zero=allow_zero), "mm", u95_mm)


def shaft_diameter(text: str) -> Amount:
    """Read a shaft's diameter; without ± it is taken as measured with a caliper.

    Parameters
    ----------
    text : str
        Such as ``41.02 mm``, ``41 mm ± 0.05 mm``, ``1 5/8 in``.

    Returns
    -------
    Amount
        Without ±: 95 % within 0.04 mm, or half the last digit or fraction given, whichever is larger.

    Raises
    ------
    QuantityError
        Text that is no length, or a diameter outside 3 to 80 mm.
    """
    stated = parse_length(text, name="shaft diameter", example="41.0 mm")
    low, high = SHAFT_RANGE_MM
    if not low <= stated.value <= high:
        usual_low, usual_high = SHAFT_USUAL_MM
        raise QuantityError(
            f"A shaft diameter of {quote(stated.as_written)} is {stated.value:.4g} mm: shafts are "
            f"usually {usual_low:g} to {usual_high:g} mm, and this tool takes {low:g} to {high:g} mm.",
            "Measure the bare shaft across with a caliper and check the unit, for example --shaft 41.0mm.",
        )
    return _with_remark(stated, "Shaft diameter", "measured with a caliper", CALIPER_U95_MM)


def extended_length(text: str) -> Amount:
    """Read E0, exposed with the wheel hanging free; without ± it is taken as with a ruler (95 % within 0.5 mm).

    Raises
    ------
    QuantityError
        Text that is no length, or a length that no leg exposes.
    """
    return _along_shaft(text, "extended length", "measured with a ruler", RULE_U95_MM, "205 mm")


def stroke_length(text: str) -> Amount:
    """Read the stroke to the hard stop, S; without ± it is taken as from a manual (95 % within 1 mm).

    Raises
    ------
    QuantityError
        Text that is no length, or a stroke that no leg has.
    """
    return _along_shaft(text, "stroke", "from a manual or measured with a ruler", STROKE_U95_MM, "120 mm")


def marker_width(text: str) -> Amount:
    """Read the marker's width along the shaft; without ± it is taken as with a caliper (95 % within 0.1 mm).

    Raises
    ------
    QuantityError
        Text that is no length, or a width that no tie or O-ring has.
    """
    stated = parse_length(text, name="marker width", example="3.6 mm")
    _check_range(
        stated, "marker width", MARKER_RANGE_MM, "Measure the strap's width along the shaft, e.g. 3.6 mm."
    )
    return _with_remark(stated, "Marker width", "measured with a caliper on a soft strap", STRAP_U95_MM)


def _along_shaft(text: str, name: str, how: str, u95_mm: float, example: str) -> Amount:
    stated = parse_length(text, name=name, example=example)
    remedy = f"Check the number and its unit, for example {example}."
    _check_range(stated, name, ALONG_SHAFT_RANGE_MM, remedy)
    return _with_remark(stated, name.capitalize(), how, u95_mm)


def _check_range(
    stated: Stated, name: str, allowed: tuple[float, float], remedy: str, unit: str = "mm"
) -> None:
    low, high = allowed
    if not low <= stated.value <= high:
        raise QuantityError(
            f"A {name} of {quote(stated.as_written)} is {stated.value:.4g} {unit}; this tool takes "
            f"{low:g} to {high:g} {unit}.",
            remedy,
        )


def _amount(stated: Stated, unit: str, usual_u95: float) -> Amount:
    given = stated.half_width is not None
    return Amount(stated.quantity(usual_u95), unit, stated.as_written, given)


def _with_remark(stated: Stated, title: str, how: str, usual_u95_mm: float) -> Amount:
    """Say what the uncertainty was taken to be: the given one, else the usual one or half the last place."""
    found = _amount(stated, "mm", usual_u95_mm)
    within = f"95 % within {found.quantity.u95:.3g} mm"
    remark = f"{title} {stated.as_written}: "
    if found.uncertainty_given:
        remark += f"the ± is taken as given, {within}."
    elif found.quantity.u95 > usual_u95_mm:
        remark += (
            f"no ± is given, so it is taken as {how}, but only as fine as it is written: {within} "
            "(half the last digit or fraction). More digits, or a ±, would make the reading more accurate."
        )
    else:
        remark += f"no ± is given, so it is taken as {how}, {within}."
    return replace(found, remark=remark)
