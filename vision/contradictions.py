"""Where card, shaft, lens and light contradict each other: what refuses a reading before its rims are looked for."""

from __future__ import annotations

from calibration.find_card import CardSighting
from vision.adjustment.solve import Solution
from vision.reading import Note, ScaleCheck
from vision.reasons import Reason
from vision.request import EDGE_POINTS_NEEDED
from vision.shaft.fit import ShaftFit
from vision.shaft.own_focal import FOCAL_FACTOR_LIMIT, focal_factor, focal_remark, with_own_focal
from vision.shaft.reconcile import only_vaguer, reconciled
from vision.shaft.scale_check import depth_side, exposure_fault, width_mismatch
from vision.shaft_view import ShaftView

# Residual of the corners against a flat or bent card, mm on the card (root mean square), from which it is neither.
# Flat cards stay under 0.04 mm in sharp and blurred samples; a bend of 2 mm taken for flat gives 0.15.
FLATNESS_LIMIT_MM = 0.08
# Distortion, in prior standard uncertainties, that no phone lens has: a bent card imitates it.
K1_LIMIT = 3.0


class Contradiction(Exception):
    """A photo that contradicts itself.

    Attributes
    ----------
    note : Note
        The reason.
    """

    def __init__(self, reason: Reason, detail: str) -> None:
        super().__init__(detail)
        self.note = Note(reason, None, detail)


def with_focal_checked(fit: ShaftFit) -> tuple[ShaftFit, tuple[str, ...]]:
    """Take the focal length that the photo shows where it contradicts the one stated; return the fit and remarks."""
    factor = focal_factor(fit)
    if factor is None:
        return fit, ()
    if not 1 / FOCAL_FACTOR_LIMIT < factor < FOCAL_FACTOR_LIMIT:
        # A card that no focal length makes flat is the cause, and the focal length only what it bends.
        _check_flatness(with_own_focal(fit, factor).solution, fit.observations.sighting)
        raise Contradiction(
            Reason.FOCAL_LENGTH_DOUBTFUL,
            f"card and shaft appear as through a lens of {factor:.2f} times the declared focal length",
        )
    own = with_own_focal(fit, factor)
    if only_vaguer(fit, own):
        raise Contradiction(
            Reason.SCALE_CONFLICT, "card and diameter contradict each other with any focal length"
        )
    return own, (focal_remark(factor),)


def check_consistent(seen: ShaftView, sighting: CardSighting, scale: ScaleCheck) -> ShaftFit:
    """Check what was found against each other; return the fit in which card and diameter are reconciled.

    Raises
    ------
    Contradiction
    """
    fit = seen.fit
    _check_flatness(fit.solution, sighting)
    light = exposure_fault(seen.view, seen.parts)
    if light is not None:
        raise Contradiction(Reason.BADLY_LIT, light)
    if len(fit.observations.left_px) + len(fit.observations.right_px) < EDGE_POINTS_NEEDED:
        raise Contradiction(Reason.SHAFT_EDGES_UNCLEAR, "too little of the shaft's edges is visible")
    width = width_mismatch(seen.parts)
    if width is not None:
        raise Contradiction(
            Reason.SCALE_CONFLICT,
            f"the shaft appears {width:.2f} times as wide as its diameter and edges give",
        )
    if abs(fit.solution.camera.k1) > K1_LIMIT * fit.observations.k1_sd:
        raise Contradiction(
            Reason.CARD_NOT_FLAT,
            "the card's corners would fit a flat card only with a strongly distorting lens",
        )
    agreed = reconciled(fit, scale)
    if agreed is None:
        raise Contradiction(
            Reason.SCALE_CONFLICT,
            f"card and diameter agree only if the card lies {abs(scale.depth_gap_mm):.0f} mm "
            f"{depth_side(scale)} the shaft's centre line",
        )
    return agreed


def _check_flatness(solution: Solution, sighting: CardSighting) -> None:
    off = solution.corner_rms_px / sighting.px_per_mm
    if off > FLATNESS_LIMIT_MM:
        raise Contradiction(
            Reason.CARD_NOT_FLAT, f"the card's corners deviate from a flat card by {off:.2f} mm"
        )
