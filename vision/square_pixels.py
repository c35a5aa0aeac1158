"""What was done to a photo: cut, scaled unequally, or both; weighed by the card's corners.

A cut photo has square pixels, but its lens's axis may lie anywhere and its focal length is vague. A whole one that was
scaled unequally has neither: the shape of its frame says how much. Each is solved for with the card alone, and Bayes'
theorem weighs them: by how well the corners fit, and by how much of what was possible beforehand they rule out
(Laplace's approximation; docs/measurement-model.md, "Shape of the pixels").
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from calibration.camera import ASPECT_SD
from calibration.errors import CalibrationError
from calibration.find_card import CardSighting
from vision.adjustment.focal_mixture import FALSE_SD, FALSE_SHARE
from vision.adjustment.observations import CENTRE_SD_PX, CORNER_SD_PX, Observations
from vision.adjustment.parameters import ASPECT
from vision.adjustment.residuals import ResidualModel
from vision.adjustment.solve import REGULARISATION, covariance_of, solve, theta_of_card
from vision.contradictions import FLATNESS_LIMIT_MM
from vision.reading import Note, Reading, Status
from vision.reasons import Reason
from vision.request import Request, placed_outline_px

# Shares of reshaped photos that were scaled unequally, and that were cut as well: most are only cut (judgement, no
# source). Few cards leave it so open that these matter (docs/measured.md, "Spoilt photos").
UNEQUAL_SHARE, CUT_UNEQUAL_SHARE = 0.1, 0.02
# Probability from which one of them is taken for what happened.
SURE = 0.95
# A photo may have been cut to the shape it had, as editors offer: its file then says nothing of it. Shares of photos so
# cut, and of those with another frame's focal length (judgement, no source, and `vision.adjustment.focal_mixture`).
CUT_ALIKE_SHARE = 0.1
# What such a cut keeps of either side: half of it to all, uniformly (`calibration.focal.DEEPEST_CROP`). Mean and
# standard deviation of the logarithm of the whole over what is kept, and of the lens's axis, as a share of the
# longer side of what is kept: within (1 / kept - 1) / 2 to either side, uniformly.
CUT_LOG_MEAN, CUT_LOG_SD, CUT_CENTRE_SHARE = 0.307, 0.193, 0.138
# Probability from which the photo is taken as cut: where another focal length explains the card as well, the
# explanation that leaves more open is taken.
OPEN_CUT = 0.25
# Logarithm of the odds of a cut, by one linear step each, below which it is not weighed: of 52 whole photos none is
# above -1.5 when solved for, and a cut that matters is above 5.
WEIGHED_FROM = -1.0
# Bend of a card that may be flat or curled, mm (sd): between both of `vision.adjustment.bend_mixture`.
BEND_SD_MM = 1.5


@dataclass(frozen=True)
class _Weighed:
    """One explanation: the logarithm of its weight, up to a constant of the photo, and the pixels' aspect with it."""

    log_weight: float
    log_aspect: float
    misfit: float


def with_shape(pixels: np.ndarray, request: Request, sighting: CardSighting) -> Request | Reading:
    """Decide what was done to a photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    request : Request
    sighting : CardSighting

    Returns
    -------
    Request or Reading
        The request with the lens that the photo has; a refused reading where it was cut and scaled unequally.
    """
    size = pixels.shape[1], pixels.shape[0]
    if not request.reshaped:
        return _perhaps_cut(request, sighting, size)
    of_frames = tuple(_as_squeezed(request, k) for k in range(len(request.squeezed)))
    try:
        cut = _weighed(request, sighting, size)
        both = _weighed(request, sighting, size, ASPECT_SD)
        frames = [_weighed(one, sighting, size) for one in of_frames]
    except CalibrationError:
        return request  # said where the pose is needed
    shares = [one.share * UNEQUAL_SHARE for one in request.squeezed]
    shares += [CUT_UNEQUAL_SHARE, 1 - UNEQUAL_SHARE - CUT_UNEQUAL_SHARE]
    weights = _weights((*frames, both, cut), shares, len(sighting.corner_ids))
    if weights[-2] > SURE:
        return _stretched(pixels, request, sighting, both.log_aspect)
    of_any_frame = float(weights[:-2].sum())
    if of_any_frame > SURE:
        return of_frames[int(np.argmax(weights[:-2]))]
    return replace(request, unequal_share=min(CUT_UNEQUAL_SHARE + of_any_frame, 0.5))


def shape_remark(request: Request) -> str | None:
    """Say what was done to a photo whose file does not say so; None elsewhere."""
    if request.cut_unsaid:
        return (
            "The photo was cut, as the card's corners show, which its file does not say: that makes the uncertainty "
            "larger. Use the original file."
        )
    if request.log_aspect == 0.0:
        return None
    return (
        f"The photo was not cut but squeezed: its {_shrunk(request.log_aspect)} was shrunk more than its other "
        "side, as the card's corners show. That was solved for; use the original file."
    )


def _perhaps_cut(request: Request, sighting: CardSighting, size: tuple[int, int]) -> Request:
    """Take a photo as cut to the shape it had where its card shows it: the lens's axis is not in its middle."""
    cut = replace(
        request,
        focal_px=request.focal_px * math.exp(CUT_LOG_MEAN),
        focal_rel_sd=math.hypot(request.focal_rel_sd, CUT_LOG_SD),
        centre_sd_px=max(CUT_CENTRE_SHARE * max(size), request.centre_sd_px),
        unequal_share=CUT_UNEQUAL_SHARE,
        cut_unsaid=True,
    )
    try:
        if _linear(cut, sighting, size) - _linear(request, sighting, size) < WEIGHED_FROM:
            return request
        false = replace(request, focal_rel_sd=max(FALSE_SD, request.focal_rel_sd))
        found = [_weighed(one, sighting, size) for one in (cut, false, request)]
    except CalibrationError:
        return request  # said where the pose is needed
    off_px = math.sqrt(found[0].misfit / len(sighting.corner_ids)) * CORNER_SD_PX
    if off_px / sighting.px_per_mm > FLATNESS_LIMIT_MM:
        return request  # the card is not flat, whatever was done to the photo
    shares = (CUT_ALIKE_SHARE, FALSE_SHARE, 1 - CUT_ALIKE_SHARE - FALSE_SHARE)
    weights = _weights(found, shares, len(sighting.corner_ids))
    return cut if weights[0] > OPEN_CUT else request


def _weights(found: Sequence[_Weighed], shares: Sequence[float], corners: int) -> np.ndarray:
    """Probabilities of explanations. Corners of a blurred card err more than a sharp one's: as their scatter says."""
    spread = max(1.0, min(one.misfit for one in found) / (2 * corners - 6))
    logs = np.array(
        [
            one.log_weight - 0.5 * one.misfit / spread + math.log(share)
            for one, share in zip(found, shares, strict=True)
        ]
    )
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum())


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
    theta, observations = _card_alone(request, sighting, size, aspect_extra_sd)
    found = solve(theta, observations)
    at = ResidualModel(observations).evaluate(found.theta)
    log_aspect = observations.camera.log_aspect + float(found.theta[ASPECT])
    return _Weighed(_log_volume(at.jacobian, observations), log_aspect, float(at.residuals @ at.residuals))


def _linear(request: Request, sighting: CardSighting, size: tuple[int, int]) -> float:
    """Estimate the logarithm of the weight of an explanation by one linear step from the card's pose alone."""
    theta, observations = _card_alone(request, sighting, size)
    at = ResidualModel(observations).evaluate(theta)
    gradient = at.jacobian.T @ at.residuals
    misfit = float(at.residuals @ at.residuals - gradient @ covariance_of(at.jacobian) @ gradient)
    return _log_volume(at.jacobian, observations) - 0.5 * misfit


def _card_alone(
    request: Request, sighting: CardSighting, size: tuple[int, int], aspect_extra_sd: float = 0.0
) -> tuple[np.ndarray, Observations]:
    d, none = request.declared, np.zeros((0, 2))
    camera = request.camera(*size)
    observations = Observations(
        sighting, camera, request.focal_rel_sd, d, none, none,
        centre_sd_px=request.centre_sd_px, bend_sd_mm=BEND_SD_MM, aspect_extra_sd=aspect_extra_sd,
    )  # fmt: skip
    return theta_of_card(observations), observations


def _log_volume(jacobian: np.ndarray, observations: Observations) -> float:
    """Logarithm of what is left of the parameters' prior volume, up to a constant of the photo."""
    # The shaft's parameters are unknown alike in every explanation.
    information = jacobian.T @ jacobian + REGULARISATION * np.eye(jacobian.shape[1])
    prior_sds = (
        observations.focal_prior_sd,
        observations.centre_sd_px,
        observations.centre_sd_px,
        observations.aspect_prior_sd,
    )
    return -0.5 * float(np.linalg.slogdet(information)[1]) - sum(map(math.log, prior_sds))


def _stretched(pixels: np.ndarray, request: Request, sighting: CardSighting, log_aspect: float) -> Reading:
    text = f"the photo was cut, and its {_shrunk(log_aspect)} was shrunk more than its other side"
    note = Note(Reason.STRETCHED, None, text)
    outline_px = placed_outline_px(pixels, request, sighting)
    return Reading(Status.REFUSED, (note,), card=sighting.number, card_outline_px=outline_px)


def _shrunk(log_aspect: float) -> str:
    """Name the side that was shrunk more, of the picture as stored, and by how much."""
    side = "width" if log_aspect > 0 else "height"
    return f"{side} ({-math.expm1(-abs(log_aspect)):.0%})"
