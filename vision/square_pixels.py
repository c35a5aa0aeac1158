"""Refusal of photos whose width and height were scaled differently."""

from __future__ import annotations

import math

import numpy as np

from calibration.camera import Camera
from calibration.errors import CalibrationError
from calibration.find_card import CardSighting
from calibration.pixel_aspect import LensPrior, pixel_aspect
from vision.adjustment.observations import CENTRE_SD_PX
from vision.reading import Note, Reading, Status
from vision.reasons import Reason
from vision.request import Request, placed_outline_px

# Standard uncertainties from which pixels are surely not square. Of 200 photos that were not scaled so, the largest
# is 1.9; of 134 whose one side was scaled by 0.80 to 0.97, two thirds lie above 3.
STRETCHED_FROM_SD = 3.0


def stretched(pixels: np.ndarray, request: Request, sighting: CardSighting) -> Reading | None:
    """Refuse a photo whose width and height were scaled differently; None where they were not, as far as is seen.

    Only photos whose file shows that they were reshaped are looked at: from one scaled so, nothing else is left.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    request : Request
    sighting : CardSighting
    """
    if request.centre_sd_px <= CENTRE_SD_PX:
        return None
    d = request.declared
    camera = Camera.centred(request.focal_px, pixels.shape[1], pixels.shape[0])
    lens = LensPrior(camera, request.focal_rel_sd, request.centre_sd_px)
    try:
        aspect = pixel_aspect(sighting, lens, d.print_along, d.print_across)
    except CalibrationError:
        return None  # said where the pose is needed
    if abs(aspect.log) <= STRETCHED_FROM_SD * aspect.sd:
        return None
    share = math.expm1(abs(aspect.log))
    squeezed = "width" if aspect.log > 0 else "height"
    text = f"the photo's {squeezed} was shrunk by about {share:.0%} more than its other side"
    note = Note(Reason.STRETCHED, None, text)
    outline_px = placed_outline_px(pixels, request, sighting)
    return Reading(Status.REFUSED, (note,), card=sighting.number, card_outline_px=outline_px)
