"""Where card and diameter disagree about the scale: which one is believed, and how far."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.adjustment.observations import CARD_DEPTH_SD_MM
from vision.adjustment.scale_mixture import scale_priors
from vision.reading import ScaleCheck
from vision.shaft.fit import ShaftFit
from vision.shaft.scale_check import DEPTH_LIMIT_SDS, DEPTH_SIGNIFICANCE, scale_check, scale_conflict

# A card on the tube's front is believed where the diameter determines its depth to this, mm: an eighth of the radius of
# the widest tubes, a third of that of the narrowest forks.
FRONT_DEPTH_SD_MM = 6.0
# It lies within so many combined standard uncertainties of the front.
FRONT_SDS = 1.2
# Share up to which card and diameter may disagree, and the lengths carry it: silhouettes on white ground are seen
# 2 to 4 % too wide in real photographs, while prints fitted to another page are 3 to 6 % off. It matters from some
# 300 mm on; nearer, this is less than what a card's depth explains.
MILD_SHARE = 0.045


def reconciled(fit: ShaftFit, scale: ScaleCheck) -> ShaftFit | None:
    """Widen or move what card and diameter say of the scale until they agree.

    Parameters
    ----------
    fit : ShaftFit
    scale : ScaleCheck
        Its own.

    Returns
    -------
    ShaftFit or None
        None where they contradict each other.
    """
    conflict = scale_conflict(scale, fit.observations.card_depth_sd_mm)
    if conflict and not lies_on_front(fit, scale) and not mild_conflict(fit, scale):
        return None
    return with_scale_mixture(fit, scale)


def only_vaguer(stated: ShaftFit, own: ShaftFit) -> bool:
    """Whether the photo's own focal length only makes vague what contradicts each other with the one stated.

    Card and diameter scale alike with the focal length: a false one is no cause for their contradiction, and no
    cure. But a card printed at another size looks like another focal length, too.

    Parameters
    ----------
    stated : ShaftFit
        With the focal length stated or assumed.
    own : ShaftFit
        With that of the photo itself.
    """
    if reconciled(stated, scale_check(stated)) is not None:
        return False
    return abs(scale_check(own).depth_gap_mm) > DEPTH_LIMIT_SDS * own.observations.card_depth_sd_mm


def lies_on_front(fit: ShaftFit, scale: ScaleCheck) -> bool:
    """Whether the card lies as near as the front of a tube whose diameter determines the scale.

    Parameters
    ----------
    fit : ShaftFit
    scale : ScaleCheck
        Its own, in conflict with a card that lies level.
    """
    off_mm = scale.depth_gap_mm - fit.solution.cylinder.radius_mm
    allowed_mm = FRONT_SDS * np.hypot(CARD_DEPTH_SD_MM, scale.depth_gap_sd_mm)
    return bool(abs(off_mm) < allowed_mm and scale.depth_gap_sd_mm < FRONT_DEPTH_SD_MM)


def mild_conflict(fit: ShaftFit, scale: ScaleCheck) -> bool:
    """Whether card and diameter disagree by less than a print of the wrong size does."""
    distance_mm = float(np.linalg.norm(fit.solution.cylinder.point_cam))
    return abs(scale.depth_gap_mm) < MILD_SHARE * distance_mm


def with_scale_mixture(fit: ShaftFit, scale: ScaleCheck) -> ShaftFit:
    """Widen the priors of the card's depth and of the diameter as far as their disagreement asks for.

    Parameters
    ----------
    fit : ShaftFit
    scale : ScaleCheck
        Its own.

    Returns
    -------
    ShaftFit
        The same where the disagreement is within what the silhouettes leave open.
    """
    if abs(scale.depth_gap_mm) <= DEPTH_SIGNIFICANCE * scale.depth_gap_sd_mm:
        return fit
    observations = fit.observations
    declared = observations.declared
    distance_mm = float(np.linalg.norm(fit.solution.cylinder.point_cam))
    priors = scale_priors(
        scale.depth_gap_mm, scale.depth_gap_sd_mm, observations.card_depth_sd_mm, distance_mm
    )
    diameter_sd_mm = float(np.hypot(declared.diameter_sd_mm, priors.diameter_extra_sd * declared.diameter_mm))
    return replace(
        fit,
        observations=replace(
            observations,
            card_depth_sd_mm=priors.depth_sd_mm,
            declared=replace(declared, diameter_sd_mm=diameter_sd_mm),
        ),
    )
