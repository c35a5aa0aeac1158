"""From what a person types to what the rooms take, with a sentence on everything that was assumed."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from strandline.read.hand_rims import StatedRims, parse_rims
from strandline.shared.messages import ROOM_ERRORS, wrong_usage
from suspension.errors import QuantityError
from suspension.quantities.declared import (
    RULE_U95_MM,
    DeclaredDimension,
    extended_length,
    marker_width,
    shaft_diameter,
    stroke_length,
)
from suspension.quantities.grammar import quote, tidy
from suspension.quantities.lengths import Units, parse_length
from suspension.quantities.measured import COVERAGE_FACTOR, MeasuredLength
from suspension.quantities.print_scale import PrintScale, print_scale
from suspension.stroke.leg import Layout, Leg, State
from suspension.stroke.marker import LockFacing, Marker, MarkerKind

if TYPE_CHECKING:
    from calibration.focal import FocalPrior
    from vision.request import HandRims, Request

T = TypeVar("T")
S = TypeVar("S")

# Colours that markers come in; another word is taken, said not to be known, and not used.
COLORS = (
    *("black", "white", "grey", "gray", "silver", "natural", "clear"),
    *("red", "orange", "yellow", "green", "blue", "purple", "violet", "pink", "brown"),
)
# A bumper, free or crushed, mm: figures of the trade are 10 to 30 free, 0.3 to 0.5 of it crushed [common
# practice, no source]; half and twice that are still believed.
BUMPER_RANGE_MM = (1.5, 60.0)


@dataclass(frozen=True)
class Typed:
    """The options as typed; None where an option was not given."""

    shaft: str
    layout: str
    print_scale: str | None = None
    marker: str | None = None
    marker_color: str | None = None
    marker_width: str | None = None
    tie_lock: str | None = None
    focal_35mm: str | None = None
    extended: str | None = None
    stroke: str | None = None
    bumper: str | None = None
    bumper_crushed: str | None = None
    state: str | None = None
    rims: str | None = None
    units: str = "mm"


@dataclass(frozen=True)
class Declarations:
    """The options understood.

    Attributes
    ----------
    shaft : DeclaredDimension
    print : PrintScale
    leg : Leg
    marker : Marker
    marker_color : str or None
    state : State
    focal_35mm : float or None
        35 mm-equivalent focal length, mm.
    rims : StatedRims or None
    units : Units
    asks_stroke : bool
        Something was stated that only the used stroke needs.
    assumed : tuple of str
        What was taken for granted, a sentence each.
    """

    shaft: DeclaredDimension
    print: PrintScale
    leg: Leg
    marker: Marker
    marker_color: str | None
    state: State
    focal_35mm: float | None
    rims: StatedRims | None
    units: Units
    asks_stroke: bool
    assumed: tuple[str, ...]


def declare(typed: Typed) -> Declarations:
    """Understand the options.

    Parameters
    ----------
    typed : Typed

    Returns
    -------
    Declarations

    Raises
    ------
    click.BadParameter
        Naming the option, what is wrong with it, and what would be right.
    """
    shaft = _taken("--shaft", shaft_diameter, typed.shaft)
    scale = _taken("--print-scale", print_scale, typed.print_scale)
    width = _taken_or_none("--marker-width", marker_width, typed.marker_width)
    extended = _taken_or_none("--extended", extended_length, typed.extended)
    stroke = _taken_or_none("--stroke", stroke_length, typed.stroke)
    free = _taken_or_none("--bumper", _bumper("bumper"), typed.bumper)
    crushed = _taken_or_none("--bumper-crushed", _bumper("crushed bumper"), typed.bumper_crushed)
    layout = Layout(typed.layout)
    _refuse_halves(typed, layout)
    kind = MarkerKind(typed.marker or "unknown")
    lock = LockFacing.MEETS_SEAL if typed.tie_lock == "at-seal" else LockFacing.UNKNOWN
    color, color_remark = _color(typed.marker_color)
    remarks = [one.remark for one in (shaft, scale, width, extended, stroke) if one is not None]
    if free is not None:
        remarks.append(
            f"Bumper {typed.bumper} free, {typed.bumper_crushed} crushed: taken as by rule where no ± is "
            "stated."
        )
    if color_remark:
        remarks.append(color_remark)
    leg = _taken("--stroke", lambda _: Leg(layout, _plain(extended), _plain(stroke), free, crushed), "")
    return Declarations(
        shaft=shaft,
        print=scale,
        leg=leg,
        marker=Marker(kind, _plain(width), lock),
        marker_color=color,
        state=State(typed.state or "unknown"),
        focal_35mm=_taken_or_none("--focal-35mm", _focal_35mm, typed.focal_35mm),
        rims=_taken_or_none("--rims", parse_rims, typed.rims),
        units=Units(typed.units),
        asks_stroke=any((typed.extended, typed.stroke, typed.bumper, typed.state)),
        assumed=tuple(remarks),
    )


def request_for(declarations: Declarations, focal: FocalPrior) -> Request:
    """State to the reading what is known of a photo beforehand.

    Parameters
    ----------
    declarations : Declarations
    focal : FocalPrior
        Of this photo.
    """
    from vision.adjustment.observations import CENTRE_SD_PX, PriorInputs
    from vision.reading import Layout as ReadLayout
    from vision.request import Request

    width = declarations.marker.width
    return Request(
        declared=PriorInputs(
            diameter_mm=declarations.shaft.value_mm,
            diameter_sd_mm=declarations.shaft.sd_mm,
            print_along=declarations.print.along,
            print_across=declarations.print.across,
            print_sd=declarations.print.sd,
        ),
        layout=ReadLayout(declarations.leg.layout.value),
        focal_px=focal.focal_px,
        focal_rel_sd=focal.rel_sd,
        focal_source=focal.source,
        marker_width_mm=None if width is None else width.value_mm,
        marker_color=declarations.marker_color,
        # A crop adds to what is not known of any phone's lens axis.
        centre_sd_px=float((CENTRE_SD_PX**2 + focal.centre_sd_px**2) ** 0.5),
    )


def hand_rims(rims: StatedRims) -> HandRims:
    """Give rims set by hand as arrays, px of the upright photo."""
    import numpy as np

    from vision.request import HandRims

    points = [np.array(rim, dtype=float) if rim else None for rim in (rims.seal, rims.marker, rims.far)]
    return HandRims(seal_px=points[0], marker_px=points[1], far_px=points[2])


def _taken(option: str, understand: Callable[[S], T], text: S) -> T:
    """Understand a value, or blame its option."""
    try:
        return understand(text)
    except ROOM_ERRORS as error:
        raise wrong_usage(error, option) from error


def _taken_or_none(option: str, understand: Callable[[str], T], text: str | None) -> T | None:
    return None if text is None else _taken(option, understand, text)


def _plain(dimension: DeclaredDimension | None) -> MeasuredLength | None:
    return None if dimension is None else dimension.measured


def _bumper(name: str) -> Callable[[str], MeasuredLength]:
    def understand(text: str) -> MeasuredLength:
        declared = parse_length(text, name=name, example="20 mm")
        low, high = BUMPER_RANGE_MM
        if not low <= declared.value_mm <= high:
            raise QuantityError(
                f"A {name} of {quote(declared.as_written)} is {declared.value_mm:.4g} mm; this tool takes "
                f"{low:g} to {high:g} mm.",
                "Check the number and its unit, for example 20 mm.",
            )
        sd_mm = declared.sd_mm
        if sd_mm is None:
            sd_mm = max(RULE_U95_MM, declared.last_place_mm / 2) / COVERAGE_FACTOR
        return MeasuredLength(declared.value_mm, sd_mm)

    return understand


def _refuse_halves(typed: Typed, layout: Layout) -> None:
    """Refuse options that mean nothing without, or beside, each other."""
    if (typed.bumper is None) != (typed.bumper_crushed is None):
        missing, given = "--bumper-crushed", "--bumper"
        if typed.bumper is None:
            missing, given = given, missing
        raise wrong_usage(
            QuantityError(
                f"{given} is given without {missing}: the hard stop needs both.",
                "Crushed is usually 0.3 to 0.5 of free; state what you know with its ±, for example "
                "--bumper 20mm --bumper-crushed '8 ± 2 mm'.",
            ),
            given,
        )
    if typed.bumper is not None and not layout.has_visible_bumper:
        raise wrong_usage(
            QuantityError(
                "A fork's bumper is inside and not seen.", "Give its stroke with --stroke instead."
            ),
            "--bumper",
        )
    if typed.tie_lock not in (None, "unknown") and typed.marker != "tie":
        raise wrong_usage(
            QuantityError("Only a tie has a lock.", "Add --marker tie, or leave --tie-lock out."),
            "--tie-lock",
        )


def _focal_35mm(text: str) -> float:
    from calibration.focal import PLAUSIBLE_35MM

    words = tidy(text).lower().removesuffix("mm").strip().replace(",", ".")
    low, high = PLAUSIBLE_35MM
    try:
        value = float(words)
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        raise QuantityError(
            f"{quote(text)} is no 35 mm-equivalent focal length.",
            "Phones have 13 to 120 mm: take the figure from the phone's data sheet, for example "
            "--focal-35mm 26.",
        )
    return value


def _color(text: str | None) -> tuple[str | None, str | None]:
    if text is None:
        return None, None
    color = " ".join(text.lower().split())
    if any(word in COLORS for word in color.replace("-", " ").split()):
        return color, None
    return None, f"The marker's colour {quote(text)} is not one that is known, and is not used."
