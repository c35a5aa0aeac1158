"""Parse the options that state what is known of a photo, with a sentence on everything that is assumed."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

from strandline.read.hand_marks import StatedMarks, parse_edges, parse_hand_error, parse_rims
from strandline.read.inputs import PhotoInputs, ReadInputs, bumper_remark, known_color
from strandline.shared.messages import ROOM_ERRORS, wrong_usage
from suspension.errors import QuantityError
from suspension.quantities.declared import (
    Amount,
    by_rule,
    extended_length,
    marker_width,
    shaft_diameter,
    stroke_length,
)
from suspension.quantities.grammar import quote, tidy
from suspension.quantities.lengths import Units
from suspension.quantities.print_scale import print_scale
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import Layout, Leg, State
from suspension.stroke.marker import LockFacing, Marker, MarkerKind

T = TypeVar("T")
S = TypeVar("S")

# A bumper, free or crushed, mm: figures of the trade are 10 to 30 free, 0.3 to 0.5 of it crushed [common
# practice, no source]; half and twice that are still believed.
BUMPER_RANGE_MM = (1.5, 60.0)


@dataclass(frozen=True)
class ReadOptions:
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
    edges: str | None = None
    hand_error: str | None = None
    units: str = "mm"


def parse_options(options: ReadOptions) -> ReadInputs:
    """Parse the options.

    Parameters
    ----------
    options : ReadOptions

    Returns
    -------
    ReadInputs

    Raises
    ------
    click.BadParameter
        Naming the option, what is wrong with it, and what would be right.
    """
    shaft = _parsed("--shaft", shaft_diameter, options.shaft)
    scale = _parsed("--print-scale", print_scale, options.print_scale)
    width = _parsed_or_none("--marker-width", marker_width, options.marker_width)
    extended = _parsed_or_none("--extended", extended_length, options.extended)
    stroke = _parsed_or_none("--stroke", stroke_length, options.stroke)
    free = _parsed_or_none("--bumper", _bumper("bumper"), options.bumper)
    crushed = _parsed_or_none("--bumper-crushed", _bumper("crushed bumper"), options.bumper_crushed)
    layout = Layout(options.layout)
    _refuse_halves(options, layout)
    kind = MarkerKind(options.marker or "unknown")
    lock = LockFacing.MEETS_SEAL if options.tie_lock == "at-seal" else LockFacing.UNKNOWN
    color, color_remark = known_color(options.marker_color)
    remarks = [one.remark for one in (shaft, scale, width, extended, stroke) if one is not None]
    if free is not None:
        remarks.append(bumper_remark(str(options.bumper), str(options.bumper_crushed)))
    if color_remark:
        remarks.append(color_remark)
    leg = _parsed("--stroke", lambda _: Leg(layout, _plain(extended), _plain(stroke), free, crushed), "")
    return ReadInputs(
        shaft_mm=shaft.mm,
        print=scale,
        leg=leg,
        marker=Marker(kind, _plain(width), lock),
        marker_color=color,
        state=State(options.state or "unknown"),
        focal_35mm=_parsed_or_none("--focal-35mm", _focal_35mm, options.focal_35mm),
        marks=parsed_marks(options.rims, options.edges, options.hand_error),
        units=Units(options.units),
        asks_stroke=any((options.extended, options.stroke, options.bumper, options.state)),
        assumed=tuple(remarks),
        bumper_met_mm=extended.value if extended is not None and layout.has_visible_bumper else None,
    )


def parse_photo_options(
    print_scale_text: str | None, focal_35mm: str | None, state: State = State.UNKNOWN
) -> PhotoInputs:
    """Parse what a person types of photos whose shaft a bike's file describes.

    Raises
    ------
    click.BadParameter
        Naming the option, what is wrong with it, and what would be right.
    """
    return PhotoInputs(
        _parsed("--print-scale", print_scale, print_scale_text),
        _parsed_or_none("--focal-35mm", _focal_35mm, focal_35mm),
        state,
    )


def parsed_marks(rims: str | None, edges: str | None, hand_error: str | None) -> StatedMarks | None:
    """Parse marks set by hand.

    Raises
    ------
    click.BadParameter
    """
    if rims is None:
        for option, text in (("--edges", edges), ("--hand-error", hand_error)):
            if text is not None:
                error = QuantityError("It needs the rims that were set by hand.", "Add --rims.")
                raise wrong_usage(error, option)
        return None
    marks = _parsed("--rims", parse_rims, rims)
    lines = _parsed_or_none("--edges", parse_edges, edges)
    sd_px = _parsed_or_none("--hand-error", parse_hand_error, hand_error)
    return replace(marks, edges=lines or (), sd_px=sd_px)


def _parsed(option: str, understand: Callable[[S], T], text: S) -> T:
    """Understand a value, or blame its option."""
    try:
        return understand(text)
    except ROOM_ERRORS as error:
        raise wrong_usage(error, option) from error


def _parsed_or_none(option: str, understand: Callable[[str], T], text: str | None) -> T | None:
    return None if text is None else _parsed(option, understand, text)


def _plain(dimension: Amount | None) -> Quantity | None:
    return None if dimension is None else dimension.mm


def _bumper(name: str) -> Callable[[str], Quantity]:
    def understand(text: str) -> Quantity:
        found = by_rule(text, name=name)
        low, high = BUMPER_RANGE_MM
        if not low <= found.value <= high:
            raise QuantityError(
                f"A {name} of {quote(found.as_written)} is {found.value:.4g} mm; this tool takes "
                f"{low:g} to {high:g} mm.",
                "Check the number and its unit, for example 20 mm.",
            )
        return found.mm

    return understand


def _refuse_halves(options: ReadOptions, layout: Layout) -> None:
    """Refuse options that mean nothing without, or beside, each other."""
    if (options.bumper is None) != (options.bumper_crushed is None):
        missing, given = "--bumper-crushed", "--bumper"
        if options.bumper is None:
            missing, given = given, missing
        raise wrong_usage(
            QuantityError(
                f"{given} is given without {missing}: the hard stop needs both.",
                "Crushed is usually 0.3 to 0.5 of free; give what you know with its ±, for example "
                "--bumper 20mm --bumper-crushed '8 ± 2 mm'.",
            ),
            given,
        )
    if options.bumper is not None and not layout.has_visible_bumper:
        raise wrong_usage(
            QuantityError(
                "A fork's bumper is inside and cannot be seen.",
                "Give the fork's stroke with --stroke instead.",
            ),
            "--bumper",
        )
    if options.tie_lock not in (None, "unknown") and options.marker != "tie":
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
            f"{quote(text)} is not a 35 mm-equivalent focal length.",
            "Phones have 13 to 120 mm: look in the phone's data sheet, and write, for example, "
            "--focal-35mm 26.",
        )
    return value
