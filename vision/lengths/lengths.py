"""From rims to lengths: the final adjustment, the covariance, and withheld lengths."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.adjustment.aspect_mixture import with_aspect_prior
from vision.adjustment.focal_mixture import with_mixture_prior
from vision.adjustment.observations import CENTRE_SD_PX, Observations, RimPoints
from vision.adjustment.solve import Solution, solve
from vision.names import LengthName, RimName
from vision.reading import Joint, Length, Note, Reading, Rim, Status
from vision.reasons import Reason
from vision.rims.choose import Choice
from vision.rims.hidden_edge import WIDEST_MM
from vision.shaft.fit import ShaftFit

# Largest expanded uncertainty of a reported length, mm: a larger one does not decide between settings.
U95_LIMIT_MM = 3.0

# In a cropped photo focal length and principal point have weak priors, and curved errors of rims would determine
# both: the sigma of their shape is so many times larger, where the principal point's sigma, px, is above the limit.
CROPPED_SHAPE_TIMES, CROPPED_FROM_PX = 3.0, 2 * CENTRE_SD_PX
# Fewer points than these, as set by hand, show no curve: their sigma is that of the rim's place.
CURVE_POINTS = 5


def lengths(
    known: Reading, fit: ShaftFit, choice: Choice, u95_limit_mm: float = U95_LIMIT_MM
) -> tuple[Reading, Solution]:
    """Solve with the rims and report the lengths.

    Parameters
    ----------
    known : Reading
        The partial reading: card, scale.
    fit : ShaftFit
    choice : Choice
    u95_limit_mm : float
        Largest expanded uncertainty of a reported length.

    Returns
    -------
    reading : Reading
    final : Solution
    """
    cropped = fit.observations.centre_sd_px > CROPPED_FROM_PX
    rims = tuple(_weighed(rim, cropped) for rim in choice.rims.values())
    observations = replace(fit.observations, rims=rims)
    theta = _extended(fit.solution.theta, observations)
    observations = with_mixture_prior(theta, with_aspect_prior(theta, observations))
    final = solve(theta, observations)
    order = [r.name for r in rims]
    s, cov = final.rim_s_mm, final.rim_covariance_mm2
    notes = list(choice.notes)
    answers: dict[LengthName, Length | None] = {}
    jacobian = np.full((3, len(order)), np.nan)
    for row, quantity in enumerate(LengthName):
        start, end = quantity.rims
        answers[quantity] = None
        if start not in s or end not in s:
            continue
        gradient = np.array([(name == end) - (name == start) for name in order], float)
        jacobian[row] = gradient
        u95 = 2.0 * float(np.sqrt(gradient @ cov @ gradient))
        value = s[end] - s[start]
        if u95 > u95_limit_mm:
            notes.append(Note(Reason.UNCERTAIN, quantity, f"known only to within {u95:.1f} mm"))
        else:
            answers[quantity] = Length(value, u95)
    at_stop, band = _at_stop(final, order, choice)
    if not any(answers.values()):
        status = Status.REFUSED
    elif all(answers.values()):
        status = Status.READ
    else:
        status = Status.PARTIAL
    ends_found = {RimName.SEAL, RimName.FAR_END} <= set(order)
    reading = replace(
        known,
        status=status,
        notes=tuple(notes),
        exposed=answers[LengthName.EXPOSED],
        marker=answers[LengthName.MARKER],
        remaining=answers[LengthName.REMAINING],
        marker_at_stop=at_stop,
        marker_band_mm=band,
        marker_hidden=choice.near_hidden,
        remarks=(*known.remarks, *choice.remarks),
        rims=tuple(_drawn(r, final, choice) for r in rims if r.name is not RimName.MARKER_FAR),
        covariance_mm2=jacobian @ np.nan_to_num(cov) @ jacobian.T if order else None,
        # Where an end was not found, as far as the shaft was seen: that end is to be looked at.
        shaft_edges_px=(not ends_found and known.shaft_edges_px)
        or _edges(final, order)
        or known.shaft_edges_px,
        joint=Joint(final, observations),
    )
    return reading, final


def _weighed(rim: RimPoints, cropped: bool) -> RimPoints:
    """Thin a rim's points, and weaken the shape of a curve in a cropped photo; its place keeps its weight."""
    thinned = replace(rim, points_px=_thinned(rim.points_px))
    if not cropped or len(rim.points_px) < CURVE_POINTS:
        return thinned
    weaker = replace(thinned, shape_sd_px=CROPPED_SHAPE_TIMES * rim.shape_sd_px)
    return replace(weaker, mean_weight=rim.mean_weight * weaker.point_sd_px / rim.point_sd_px)


def _thinned(points_px: np.ndarray, most: int = 24) -> np.ndarray:
    """Keep at most so many points, evenly spaced: neighbours are strongly correlated."""
    if len(points_px) <= most:
        return points_px
    return np.asarray(points_px[np.unique(np.linspace(0, len(points_px) - 1, most).astype(int))])


def _extended(theta: np.ndarray, observations: Observations) -> np.ndarray:
    """Append the rims' parameters, zero, to the fixed ones."""
    from vision.adjustment.parameters import FIXED, PER_RIM

    out = np.zeros(FIXED + PER_RIM * len(observations.rims))
    out[:FIXED] = theta[:FIXED]
    return out


def _at_stop(final: Solution, order: list[RimName], choice: Choice) -> tuple[bool | None, Length | None]:
    """Whether the marker touches the far end, and the band's width.

    A gap between the marker's far edge and the far end counts as contact up to max(1 mm, 2 u).
    """
    s, cov = final.rim_s_mm, final.rim_covariance_mm2

    def gap(start: RimName, end: RimName) -> tuple[float, float]:
        gradient = np.array([(name == end) - (name == start) for name in order], float)
        return s[end] - s[start], 2.0 * float(np.sqrt(gradient @ cov @ gradient))

    both = {RimName.MARKER_NEAR, RimName.MARKER_FAR} <= set(s) and not choice.near_hidden
    band = Length(*gap(RimName.MARKER_NEAR, RimName.MARKER_FAR)) if both else None
    if RimName.MARKER_NEAR not in s:
        return None, band
    if choice.touching:
        return True, band
    if RimName.FAR_END not in s:
        return None, band
    if RimName.MARKER_FAR in s:
        free, u95 = gap(RimName.MARKER_FAR, RimName.FAR_END)
        return free <= max(1.0, u95), band
    left, u95 = gap(RimName.MARKER_NEAR, RimName.FAR_END)
    # The far edge is hidden.
    if left - WIDEST_MM > max(1.0, u95):
        return False, band
    return None, band


def _drawn(rim: RimPoints, final: Solution, choice: Choice) -> Rim:
    """Compute a rim for the overlay: round the visible half of the shaft."""
    cylinder = final.cylinder
    phi = np.linspace(-1, 1, 41) * cylinder.silhouette_phi()
    s = final.rim_s_mm[rim.name]
    curve = final.camera.project(cylinder.surface(np.full(41, s), phi))
    return Rim(rim.name, s, curve, choice.shares.get(rim.name, 0.0))


def _edges(final: Solution, order: list[RimName]) -> tuple[np.ndarray, ...]:
    """Both silhouettes between the outermost rims found."""
    if not order:
        return ()
    ends = [final.rim_s_mm[name] for name in order]
    return silhouettes(final, min(ends) - 4.0, max(ends) + 4.0)


def silhouettes(solution: Solution, from_mm: float, to_mm: float) -> tuple[np.ndarray, ...]:
    """Both silhouettes of the shaft for the overlay, between two positions along its axis, px."""
    s = np.linspace(from_mm, to_mm, 24)
    cylinder = solution.cylinder
    return tuple(
        solution.camera.project(cylinder.surface(s, np.full(24, side * cylinder.silhouette_phi())))
        for side in (1, -1)
    )
