"""Where card and diameter disagree about the scale: which one is believed, and how far."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.adjustment.observations import CARD_DEPTH_SD_MM
from vision.adjustment.solve import solve
from vision.geometry.views import ReaderFrame
from vision.reading import ScaleCheck
from vision.shaft.fit import ShaftFit
from vision.shaft.scale_check import DEPTH_SIGNIFICANCE, scale_conflict

# From this depth on, mm, twice the standard uncertainty of a card laid with usual care, the diameter may as well be the
# wrong one: it then gets what would reconcile it with the card as its standard uncertainty. Without it 57 more lengths
# of 37 photos read with diameters 3 and 5 % off were wrong (docs/measured.md, "Cheap steps on three sets").
DIAMETER_WIDENED_FROM_MM = 10.0
# A card on the tube's front is believed where the diameter determines its depth to this, mm: an eighth of the radius of
# the widest tubes, a third of that of the narrowest forks.
FRONT_DEPTH_SD_MM = 6.0
# It lies within so many combined standard uncertainties of the front.
FRONT_SDS = 1.2
# A diameter stated 5 % too large looks like a card on the tube's front: of the 37 photos read with such a diameter 27
# lengths were wrong where the front was believed outright. So card and diameter each get what parts both readings times
# this as their standard uncertainty: 2 u of the mean of both then reaches from one reading to the other and beyond.
FRONT_SHARE = 1.2
# Share up to which card and diameter may disagree, and the lengths carry it: silhouettes on white ground are seen
# 2 to 4 % too wide in real photographs, while prints fitted to another page are 3 to 6 % off. It matters from some
# 300 mm on; nearer, this is less than what a card's depth explains.
MILD_SHARE = 0.045
# Up to so many standard uncertainties of its depth a card may be laid wrong: on a table beside the bike, against a
# spoke [judgement, no source].
CARELESS_DEPTH_SDS = 5.0
# Relative standard uncertainty of a print that the diameter disputes: bars read 1 mm wrong in 100 mm.
DISPUTED_PRINT_SD = 0.01


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
    if not scale_conflict(scale, fit.observations.card_depth_sd_mm):
        return with_wider_diameter(fit, scale)
    if lies_on_front(fit, scale):
        return with_card_on_front(fit, scale)
    if mild_conflict(fit, scale):
        return with_card_widened(with_wider_diameter(fit, scale), scale)
    return None


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


def with_card_on_front(fit: ShaftFit, scale: ScaleCheck) -> ShaftFit:
    """Solve again with the card level with the front of the tube, so vaguely that a wrong diameter is not excluded."""
    observations, gap_mm = fit.observations, abs(scale.depth_gap_mm)
    share = FRONT_SHARE * gap_mm / float(np.linalg.norm(fit.solution.cylinder.point_cam))
    declared = observations.declared
    observations = replace(
        observations,
        card_depth_mm=fit.solution.cylinder.radius_mm,
        card_depth_sd_mm=max(observations.card_depth_sd_mm, FRONT_SHARE * gap_mm),
        declared=replace(declared, diameter_sd_mm=max(declared.diameter_sd_mm, share * declared.diameter_mm)),
    )
    solution = solve(fit.solution.theta, observations)
    frame = fit.frame and ReaderFrame(solution.cylinder, solution.camera, fit.frame.s0_mm)
    return ShaftFit(solution, observations, frame)


def mild_conflict(fit: ShaftFit, scale: ScaleCheck) -> bool:
    """Whether card and diameter disagree by less than a print of the wrong size does."""
    distance_mm = float(np.linalg.norm(fit.solution.cylinder.point_cam))
    return abs(scale.depth_gap_mm) < MILD_SHARE * distance_mm


def with_card_widened(fit: ShaftFit, scale: ScaleCheck) -> ShaftFit:
    """Widen what the card says of the scale, where it is not known whether the card or the diameter is wrong.

    Its depth may be what is wrong if a card laid carelessly explains it; else it is the print or the silhouettes.
    """
    observations, gap_mm = fit.observations, abs(scale.depth_gap_mm)
    if gap_mm < CARELESS_DEPTH_SDS * observations.card_depth_sd_mm:
        return replace(fit, observations=replace(observations, card_depth_sd_mm=gap_mm))
    declared = observations.declared
    declared = replace(declared, print_sd=max(declared.print_sd, DISPUTED_PRINT_SD))
    return replace(fit, observations=replace(observations, declared=declared))


def with_wider_diameter(fit: ShaftFit, scale: ScaleCheck) -> ShaftFit:
    """Widen the diameter's uncertainty where card and diameter all but contradict each other.

    Parameters
    ----------
    fit : ShaftFit
    scale : ScaleCheck
        Its own.

    Returns
    -------
    ShaftFit
        The same where both agree.
    """
    observations = fit.observations
    gap_mm = abs(scale.depth_gap_mm - observations.card_depth_mm)
    if gap_mm <= max(DIAMETER_WIDENED_FROM_MM, DEPTH_SIGNIFICANCE * scale.depth_gap_sd_mm):
        return fit
    declared = observations.declared
    off = gap_mm / float(np.linalg.norm(fit.solution.cylinder.point_cam))
    sd_mm = max(declared.diameter_sd_mm, off * declared.diameter_mm)
    return replace(fit, observations=replace(observations, declared=replace(declared, diameter_sd_mm=sd_mm)))
