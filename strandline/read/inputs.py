"""What is known of a photo before it is read, whether typed or from a bike's file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridelog.bikes.bike import BikeLeg
from ridelog.errors import RecordError
from strandline.read.hand_marks import StatedMarks
from suspension.quantities.grammar import quote
from suspension.quantities.lengths import Units
from suspension.quantities.print_scale import PrintScale
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import Leg, State
from suspension.stroke.marker import LockFacing, Marker, MarkerKind

if TYPE_CHECKING:
    from calibration.focal import FocalPrior
    from vision.request import HandMarks, Request
    from vision.stated import StatedLengths


# Colours that markers come in; another word is accepted, reported as unknown, and not used.
COLORS = (
    *("black", "white", "grey", "gray", "silver", "natural", "clear"),
    *("red", "orange", "yellow", "green", "blue", "purple", "violet", "pink", "brown"),
)


@dataclass(frozen=True)
class ReadInputs:
    """What is known of a photo beforehand.

    Attributes
    ----------
    shaft_mm : Quantity
        Diameter.
    print : PrintScale
    leg : Leg
    marker : Marker
    marker_color : str or None
    state : State
    focal_35mm : float or None
        35 mm-equivalent focal length, mm.
    marks : StatedMarks or None
        Set by hand.
    units : Units
    asks_stroke : bool
        Something is known that only the used stroke needs.
    assumed : tuple of str
        What was assumed, a sentence each.
    bumper_met_mm : float or None
        Stroke at which the bumper is met.
    """

    shaft_mm: Quantity
    print: PrintScale
    leg: Leg
    marker: Marker
    marker_color: str | None
    state: State
    focal_35mm: float | None
    marks: StatedMarks | None
    units: Units
    asks_stroke: bool
    assumed: tuple[str, ...]
    bumper_met_mm: float | None = None


@dataclass(frozen=True)
class PhotoInputs:
    """What is known of a photo itself, whatever shaft it shows.

    Attributes
    ----------
    print : PrintScale
        Of the card in it.
    focal_35mm : float or None
        35 mm-equivalent focal length, mm.
    state : State
        How the bike stood.
    """

    print: PrintScale
    focal_35mm: float | None = None
    state: State = State.UNKNOWN


def inputs_of_leg(leg: BikeLeg, photo: PhotoInputs) -> ReadInputs:
    """Take what a bike's file says of a leg, and what is known of its photo.

    Parameters
    ----------
    leg : BikeLeg
    photo : PhotoInputs

    Raises
    ------
    RecordError
        The shaft's diameter is not known: without it a photo's scale cannot be cross-checked. Or a lock that meets
        the seal, of a marker that is no tie.
    """
    if leg.shaft is None:
        raise RecordError(
            f"The bike's file gives no shaft diameter for {leg.name.value}, and a photo needs it.",
            f"Measure it with a caliper: strandline bike edit ... --set leg.{leg.name.value}.shaft='41.0 mm'.",
        )
    if leg.marker_lock is LockFacing.MEETS_SEAL and leg.marker_kind is not MarkerKind.TIE:
        raise RecordError(
            "Only a tie has a lock.",
            f'Write kind = "tie" in [leg.{leg.name.value}.marker] of the bike\'s file, or leave lock out.',
        )
    plain = leg.leg
    color, color_remark = known_color(leg.marker_color)
    sizes = (leg.marker_width, leg.extended, leg.stroke)
    remarks = [leg.shaft.remark, photo.print.remark, *(one.remark for one in sizes if one is not None)]
    if plain.bumper_free_mm is not None and leg.bumper_free is not None and leg.bumper_crushed is not None:
        remarks.append(bumper_remark(leg.bumper_free.as_written, leg.bumper_crushed.as_written))
    if color_remark:
        remarks.append(color_remark)
    return ReadInputs(
        shaft_mm=leg.shaft.mm,
        print=photo.print,
        leg=plain,
        marker=leg.marker,
        marker_color=color,
        state=photo.state,
        focal_35mm=photo.focal_35mm,
        marks=None,
        units=Units.MM,
        asks_stroke=photo.state is not State.UNKNOWN
        or any(one is not None for one in (plain.extended_mm, plain.stroke_mm, plain.bumper_free_mm)),
        assumed=tuple(remarks),
        bumper_met_mm=None if leg.bumper_stroke_mm is None else leg.bumper_stroke_mm.value,
    )


def bumper_remark(free: str, crushed: str) -> str:
    """Say what the uncertainties of a bumper's two lengths were taken to be, for the person."""
    return f"Bumper {free} free, {crushed} crushed: without a ± each counts as measured with a ruler."


def known_color(text: str | None) -> tuple[str | None, str | None]:
    """Give a marker's colour as reading takes it, and a remark where it is none that is known."""
    if text is None:
        return None, None
    color = " ".join(text.lower().split())
    if any(word in COLORS for word in color.replace("-", " ").split()):
        return color, None
    return None, f"The marker's colour {quote(text)} is not known, and is not used."


def request_for(inputs: ReadInputs, focal: FocalPrior, quarter_turns: int) -> Request:
    """State to the reading what is known of a photo beforehand.

    Parameters
    ----------
    inputs : ReadInputs
    focal : FocalPrior
        Of this photo.
    quarter_turns : int
        Clockwise, that make the stored picture upright.
    """
    from vision.adjustment.observations import CENTRE_SD_PX, PriorInputs
    from vision.reading import Layout as ReadLayout
    from vision.request import Request

    width = inputs.marker.width_mm
    return Request(
        declared=PriorInputs(
            diameter_mm=inputs.shaft_mm.value,
            diameter_sd_mm=inputs.shaft_mm.sigma,
            print_along=inputs.print.along,
            print_across=inputs.print.across,
            print_sd=inputs.print.sd,
        ),
        layout=ReadLayout(inputs.leg.layout.value),
        focal_px=focal.focal_px,
        focal_rel_sd=focal.rel_sd,
        focal_source=focal.source,
        marker_width_mm=None if width is None else width.value,
        marker_color=inputs.marker_color,
        # A crop adds to what is not known of any phone's lens axis.
        centre_sd_px=float((CENTRE_SD_PX**2 + focal.centre_sd_px**2) ** 0.5),
        stated=stated_lengths(inputs.leg, inputs.state),
        squeezed=focal.squeezed,
        quarter_turns=quarter_turns,
    )


def stated_lengths(leg: Leg, state: State) -> StatedLengths | None:
    """State the leg's lengths to the reading, as evidence; None where none is stated."""
    from vision.stated import Stated, StatedLengths

    def stated(length: Quantity | None) -> Stated | None:
        return None if length is None else Stated(length.value, length.sigma)

    stroke = None if leg.layout.has_visible_bumper else leg.stroke_mm
    if leg.extended_mm is None and stroke is None:
        return None
    hanging = state is State.HANGING
    return StatedLengths(stated(leg.extended_mm), stated(stroke), hanging, leg.layout.far_end)


def hand_marks(stated: StatedMarks) -> HandMarks:
    """Give marks set by hand as arrays, px of the upright photo."""
    import numpy as np

    from vision.request import HAND_SD_PX, HandMarks

    rims = (stated.seal, stated.marker, stated.marker_end, stated.far)
    seal, near, end, far = (np.array(rim, dtype=float) if rim else None for rim in rims)
    edges = tuple(np.array(line, dtype=float) for line in stated.edges)
    return HandMarks(seal, near, end, far, edges, HAND_SD_PX if stated.sd_px is None else stated.sd_px)
