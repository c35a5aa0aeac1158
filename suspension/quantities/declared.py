"""What a stated dimension is worth: its doubt where no ± is written, and the remark that says so."""

from __future__ import annotations

from dataclasses import dataclass

from suspension.errors import QuantityError
from suspension.quantities.grammar import quote
from suspension.quantities.lengths import DeclaredLength, parse_length
from suspension.quantities.quantity import COVERAGE_FACTOR, Quantity

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
class DeclaredDimension:
    """A dimension as stated, with the doubt that it carries.

    Attributes
    ----------
    mm : Quantity
        Its length, mm.
    uncertainty_given : bool
        Whether the doubt was stated with ±, or assumed.
    as_written : str
    remark : str
        A sentence for the person: what the doubt was taken to be.
    """

    mm: Quantity
    uncertainty_given: bool
    as_written: str
    remark: str


def shaft_diameter(text: str) -> DeclaredDimension:
    """Read a shaft's diameter; without ± it is taken as by caliper.

    Parameters
    ----------
    text : str
        Such as ``41.02 mm``, ``41 mm ± 0.05 mm``, ``1 5/8 in``.

    Returns
    -------
    DeclaredDimension
        Without ±: 95 % within 0.04 mm, or half the last digit or fraction given, whichever is larger.

    Raises
    ------
    QuantityError
        Text that is no length, or a diameter outside 3 to 80 mm.
    """
    declared = parse_length(text, name="shaft diameter", example="41.0 mm")
    low, high = SHAFT_RANGE_MM
    if not low <= declared.value_mm <= high:
        usual_low, usual_high = SHAFT_USUAL_MM
        raise QuantityError(
            f"A shaft diameter of {quote(declared.as_written)} is {declared.value_mm:.4g} mm: shafts are "
            f"usually {usual_low:g} to {usual_high:g} mm, and this tool takes {low:g} to {high:g} mm.",
            "Measure the bare shaft across with a caliper and check the unit, for example --shaft 41.0mm.",
        )
    return _with_doubt(declared, "Shaft diameter", "by caliper", CALIPER_U95_MM)


def extended_length(text: str) -> DeclaredDimension:
    """Read E0, exposed with the wheel hanging free; without ± it is taken as by rule (95 % within 0.5 mm).

    Raises
    ------
    QuantityError
        Text that is no length, or a length that no leg exposes.
    """
    return _along_shaft(text, "extended length", "Extended length", "by rule", RULE_U95_MM, "205 mm")


def stroke_length(text: str) -> DeclaredDimension:
    """Read the stroke to the hard stop, S; without ± it is taken as from a manual (95 % within 1 mm).

    Raises
    ------
    QuantityError
        Text that is no length, or a stroke that no leg has.
    """
    return _along_shaft(text, "stroke", "Stroke", "from a manual or by rule", STROKE_U95_MM, "120 mm")


def marker_width(text: str) -> DeclaredDimension:
    """Read the marker's width along the shaft; without ± it is taken as by caliper (95 % within 0.1 mm).

    Raises
    ------
    QuantityError
        Text that is no length, or a width that no tie or O-ring has.
    """
    declared = parse_length(text, name="marker width", example="3.6 mm")
    _check_range(
        declared, "marker width", MARKER_RANGE_MM, "Measure the strap's width along the shaft, e.g. 3.6 mm."
    )
    return _with_doubt(declared, "Marker width", "by caliper on a soft strap", STRAP_U95_MM)


def _along_shaft(
    text: str, name: str, title: str, how: str, u95_mm: float, example: str
) -> DeclaredDimension:
    declared = parse_length(text, name=name, example=example)
    _check_range(
        declared, name, ALONG_SHAFT_RANGE_MM, f"Check the number and its unit, for example {example}."
    )
    return _with_doubt(declared, title, how, u95_mm)


def _check_range(declared: DeclaredLength, name: str, range_mm: tuple[float, float], remedy: str) -> None:
    low, high = range_mm
    if not low <= declared.value_mm <= high:
        raise QuantityError(
            f"A {name} of {quote(declared.as_written)} is {declared.value_mm:.4g} mm; this tool takes "
            f"{low:g} to {high:g} mm.",
            remedy,
        )


def _with_doubt(declared: DeclaredLength, title: str, how: str, usual_u95_mm: float) -> DeclaredDimension:
    """Give a dimension its doubt: the stated one, else the usual one or half the last place."""
    if declared.sd_mm is not None:
        u95_mm = COVERAGE_FACTOR * declared.sd_mm
        remark = f"{title} {declared.as_written}: its doubt is taken as stated, 95 % within {u95_mm:.3g} mm."
    else:
        half_place_mm = declared.last_place_mm / 2
        u95_mm = max(usual_u95_mm, half_place_mm)
        remark = f"{title} {declared.as_written}: no ± was stated, so it is taken as {how}, "
        if half_place_mm > usual_u95_mm:
            remark += (
                f"but only as fine as it is written: 95 % within {u95_mm:.3g} mm (half the last digit or "
                "fraction). More digits, or a ±, would make the reading surer."
            )
        else:
            remark += f"95 % within {u95_mm:.3g} mm."
    return DeclaredDimension(
        mm=Quantity.from_u95(declared.value_mm, u95_mm),
        uncertainty_given=declared.uncertainty_given,
        as_written=declared.as_written,
        remark=remark,
    )
