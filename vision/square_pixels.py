"""What was done to a photo that was reshaped: cut, scaled unequally, or both; weighed by the card's corners.

A cut photo has square pixels, but its lens's axis may lie anywhere and its focal length is vague. A whole one that was
scaled unequally has neither: the shape of its frame says how much. Each is solved for with the card alone, and Bayes'
theorem weighs them: by how well the corners fit, and by how much of what was possible beforehand they rule out
(Laplace's approximation; docs/measurement-model.md, "Shape of the pixels").
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from calibration.camera import ASPECT_SD
from calibration.card import BOARD_WIDTH_MM
from calibration.errors import CalibrationError
from calibration.find_card import CardSighting
from calibration.pose import card_pose
from vision.adjustment.observations import CENTRE_SD_PX, Observations
from vision.adjustment.parameters import ASPECT
from vision.adjustment.residuals import ResidualModel
from vision.adjustment.solve import REGULARISATION, initial_theta, solve
from vision.reading import Note, Reading, Status
from vision.reasons import Reason
from vision.request import Request, placed_outline_px

# Shares of reshaped photos that were scaled unequally, and that were cut as well: most are only cut (judgement, no
# source). Few cards leave it so open that these matter (docs/measured.md, "Spoilt photos").
UNEQUAL_SHARE, CUT_UNEQUAL_SHARE = 0.1, 0.02
# Probability from which one of them is taken for what happened.
SURE = 0.95
# Bend of a card that may be flat or curled, mm (sd): between both of `vision.adjustment.bend_mixture`.
BEND_SD_MM = 1.5


@dataclass(frozen=True)
class _Weighed:
    """One explanation: the logarithm of its weight, up to a constant of the photo, and the pixels' aspect with it."""

    log_weight: float
    log_aspect: float
    misfit: float


def with_shape(pixels: np.ndarray, request: Request, sighting: CardSighting) -> Request | Reading:
    """Decide what was done to a reshaped photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    request : Request
    sighting : CardSighting

    Returns
    -------
    Request or Reading
        The request with the lens that the photo has; a refused reading where it was cut and scaled unequally. As it
        was where the file shows no reshaping.
    """
    if not request.reshaped:
        return request
    size = pixels.shape[1], pixels.shape[0]
    of_frames = tuple(_as_squeezed(request, k) for k in range(len(request.squeezed)))
    try:
        cut = _weighed(request, sighting, size)
        both = _weighed(request, sighting, size, ASPECT_SD)
        frames = [_weighed(one, sighting, size) for one in of_frames]
    except CalibrationError:
        return request  # said where the pose is needed
    # Corners of a blurred card err more than a sharp one's: residuals count as their own scatter says.
    spread = max(1.0, min(one.misfit for one in (cut, both, *frames)) / (2 * len(sighting.corner_ids) - 6))
    shares = [one.share * UNEQUAL_SHARE for one in request.squeezed]
    shares += [CUT_UNEQUAL_SHARE, 1 - UNEQUAL_SHARE - CUT_UNEQUAL_SHARE]
    logs = [
        one.log_weight - 0.5 * one.misfit / spread + math.log(share)
        for one, share in zip((*frames, both, cut), shares, strict=True)
    ]
    weights = np.exp(np.array(logs) - max(logs))
    weights /= weights.sum()
    if weights[-2] > SURE:
        return _stretched(pixels, request, sighting, both.log_aspect)
    of_any_frame = float(weights[:-2].sum())
    if of_any_frame > SURE:
        return of_frames[int(np.argmax(weights[:-2]))]
    return replace(request, unequal_share=min(CUT_UNEQUAL_SHARE + of_any_frame, 0.5))


def squeezed_remark(request: Request) -> str | None:
    """Say that the whole frame was scaled unequally, where it was taken so; None elsewhere."""
    if request.log_aspect == 0.0:
        return None
    return (
        f"The photo was not cut but squeezed: its {_shrunk(request.log_aspect)} was shrunk more than its other "
        "side, as the card's corners show. That was solved for; use the original file."
    )


def _as_squeezed(request: Request, which: int) -> Request:
    frame = request.squeezed[which]
    return replace(
        request,
        focal_px=frame.focal_px,
        focal_rel_sd=frame.rel_sd,
        centre_sd_px=CENTRE_SD_PX,
        log_aspect=frame.log_aspect,
        squeezed=(),
    )


def _weighed(
    request: Request, sighting: CardSighting, size: tuple[int, int], aspect_extra_sd: float = 0.0
) -> _Weighed:
    """Solve for card and lens, and integrate over both (Laplace's approximation)."""
    d, none = request.declared, np.zeros((0, 2))
    camera = request.camera(*size)
    observations = Observations(
        sighting, camera, request.focal_rel_sd, d, none, none,
        centre_sd_px=request.centre_sd_px, bend_sd_mm=BEND_SD_MM, aspect_extra_sd=aspect_extra_sd,
    )  # fmt: skip
    pose = card_pose(sighting, camera, d.print_along, d.print_across)
    found = solve(initial_theta(pose, 2 * BOARD_WIDTH_MM, 0.0, observations), observations)
    at = ResidualModel(observations).evaluate(found.theta)
    # The shaft's parameters are unknown alike in every explanation.
    information = at.jacobian.T @ at.jacobian + REGULARISATION * np.eye(at.jacobian.shape[1])
    prior_sds = (
        observations.focal_prior_sd,
        observations.centre_sd_px,
        observations.centre_sd_px,
        observations.aspect_prior_sd,
    )
    log_volume = -0.5 * float(np.linalg.slogdet(information)[1]) - sum(map(math.log, prior_sds))
    log_aspect = camera.log_aspect + float(found.theta[ASPECT])
    return _Weighed(log_volume, log_aspect, float(at.residuals @ at.residuals))


def _stretched(pixels: np.ndarray, request: Request, sighting: CardSighting, log_aspect: float) -> Reading:
    text = f"the photo was cut, and its {_shrunk(log_aspect)} was shrunk more than its other side"
    note = Note(Reason.STRETCHED, None, text)
    outline_px = placed_outline_px(pixels, request, sighting)
    return Reading(Status.REFUSED, (note,), card=sighting.number, card_outline_px=outline_px)


def _shrunk(log_aspect: float) -> str:
    """Name the side that was shrunk more, of the picture as stored, and by how much."""
    side = "width" if log_aspect > 0 else "height"
    return f"{side} ({-math.expm1(-abs(log_aspect)):.0%})"
