"""What is known of a photo before it is read, however it was stated, as the rooms take it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strandline.read.hand_rims import StatedRims
from suspension.quantities.declared import DeclaredDimension
from suspension.quantities.lengths import Units
from suspension.quantities.print_scale import PrintScale
from suspension.stroke.leg import Leg, State
from suspension.stroke.marker import Marker

if TYPE_CHECKING:
    from calibration.focal import FocalPrior
    from vision.request import HandRims, Request


@dataclass(frozen=True)
class ReadInputs:
    """What is known of a photo beforehand.

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
        What was assumed, a sentence each.
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


def request_for(inputs: ReadInputs, focal: FocalPrior) -> Request:
    """State to the reading what is known of a photo beforehand.

    Parameters
    ----------
    inputs : ReadInputs
    focal : FocalPrior
        Of this photo.
    """
    from vision.adjustment.observations import CENTRE_SD_PX, PriorInputs
    from vision.reading import Layout as ReadLayout
    from vision.request import Request

    width = inputs.marker.width
    return Request(
        declared=PriorInputs(
            diameter_mm=inputs.shaft.mm.value,
            diameter_sd_mm=inputs.shaft.mm.sigma,
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
    )


def hand_rims(rims: StatedRims) -> HandRims:
    """Give rims set by hand as arrays, px of the upright photo."""
    import numpy as np

    from vision.request import HandRims

    points = [np.array(rim, dtype=float) if rim else None for rim in (rims.seal, rims.marker, rims.far)]
    return HandRims(seal_px=points[0], marker_px=points[1], far_px=points[2])
