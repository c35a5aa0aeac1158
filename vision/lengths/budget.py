"""Uncertainty budgets: each source's share of a length's variance, and the effect of halving it.

The adjustment is least squares over normalised residuals z, one per row, with derivatives J and covariance
C = (J' J)^-1. To first order its errors are C J' z. A length with gradient a errs by the sum over all rows of
(a' C J'), and a group of rows g contributes a' C J_g' J_g C a to its variance; the groups' parts add up to a' C a
(JCGM 100:2008, 5.1.2: an uncertainty budget; the rows are its independent inputs).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from vision.adjustment.observations import Observations
from vision.adjustment.parameters import (
    ACROSS,
    ALONG,
    ASPECT,
    AZ,
    BEND,
    CENTRE,
    DZ,
    FIXED,
    K1,
    LOGF,
    OFF,
    PER_RIM,
    R_MM,
)
from vision.adjustment.residuals import ResidualModel
from vision.adjustment.solve import covariance_of
from vision.names import LengthName, RimName
from vision.reading import Joint

# Reduction of a source when the fewest sources that halve the total are searched: a sixteenth of its variance remains,
# which hardly counts.
CUT_TIMES = 4.0


class Source(StrEnum):
    """Source of uncertainty; the value is its code in JSON."""

    CORNERS = "card_corners"
    PRINT = "print_scale"
    DIAMETER = "diameter"
    FOCAL = "focal_length"
    DISTORTION = "distortion"
    CENTRE = "lens_axis"
    CARD = "card_depth_and_turn"
    BEND = "card_bend"
    ASPECT = "pixel_aspect"
    SILHOUETTES = "silhouettes"
    AXIS = "axis_by_hand"
    SEAL = "seal"
    MARKER = "marker"
    BAND = "marker_height_and_tilt"
    FAR_END = "far_end"


_BY_PARAMETER = {
    LOGF: Source.FOCAL,
    K1: Source.DISTORTION,
    ALONG: Source.PRINT,
    ACROSS: Source.PRINT,
    R_MM: Source.DIAMETER,
    DZ: Source.CARD,
    AZ: Source.CARD,
    BEND: Source.BEND,
    ASPECT: Source.ASPECT,
    OFF.start: Source.SILHOUETTES,
    OFF.start + 1: Source.SILHOUETTES,
    CENTRE.start: Source.CENTRE,
    CENTRE.start + 1: Source.CENTRE,
}
_BY_RIM = {
    RimName.SEAL: Source.SEAL,
    RimName.MARKER_NEAR: Source.MARKER,
    RimName.MARKER_FAR: Source.MARKER,
    RimName.FAR_END: Source.FAR_END,
}


@dataclass(frozen=True)
class Share:
    """Contribution of one source to one length.

    Attributes
    ----------
    source : Source
    u95_mm : float
        Expanded uncertainty (k = 2) of the length from this source alone. The squares of all sources add up to
        the square of the total.
    whole_if_halved_mm : float
        The length's expanded uncertainty if this source alone were half as large.
    """

    source: Source
    u95_mm: float
    whole_if_halved_mm: float


@dataclass(frozen=True)
class Budget:
    """Uncertainty budget of one length.

    Attributes
    ----------
    quantity : LengthName
    u95_mm : float
        Expanded uncertainty (k = 2).
    shares : tuple of Share
        The largest first.
    to_halve : tuple of Source
        The fewest sources, best first, that halve the total when each is a quarter as large.
    """

    quantity: LengthName
    u95_mm: float
    shares: tuple[Share, ...]
    to_halve: tuple[Source, ...]


@dataclass(frozen=True)
class Rows:
    """Source and parameter of each row of the adjustment.

    Attributes
    ----------
    sources : tuple of Source, length m
    parameters : tuple of int, length m
        The parameter of a prior; -1 for observations in the photo.
    """

    sources: tuple[Source, ...]
    parameters: tuple[int, ...]


def budgets(joint: Joint) -> tuple[Budget, ...]:
    """Compute the budget of each length whose two rims were found.

    Parameters
    ----------
    joint : Joint
        Of a reading.

    Returns
    -------
    tuple of Budget
    """
    jacobian, rows = weighted_residuals(joint)
    of_row = np.array([list(Source).index(source) for source in rows.sources])
    present = [source for k, source in enumerate(Source) if np.any(of_row == k)]
    information = {source: _square(jacobian[of_row == list(Source).index(source)]) for source in present}
    # The solution's covariance is of the point before its last step, which is long where the focal length is free: the
    # lines of sight to the card's corners, known to a hundredth of a pixel, would then seem to err.
    covariance = covariance_of(jacobian)
    return tuple(
        replace(
            _budget(quantity, gradient, covariance, information),
            u95_mm=_u95(gradient, joint.solution.covariance),
        )
        for quantity, gradient in gradients(joint.observations).items()
    )


def weighted_residuals(joint: Joint) -> tuple[np.ndarray, Rows]:
    """Evaluate the derivatives of all residuals at the solution, shape (m, p), with the source of each row.

    Parameters
    ----------
    joint : Joint
    """
    observations, theta = joint.observations, joint.solution.theta
    at = ResidualModel(observations).evaluate(theta)
    rims = [rim for rim in observations.rims for _ in rim.points_px]
    sources = [Source.CORNERS] * len(at.corners)
    sources += [Source.SILHOUETTES] * len(at.sides)
    sources += [Source.AXIS] * len(observations.axis_px)
    sources += [_BY_RIM[rim.name] for rim in rims]
    parameters = [-1] * len(sources)
    # Priors are last; each concerns one parameter, or the difference of two.
    for row in at.jacobian[len(sources) :]:
        parameter = int(np.flatnonzero(row)[-1])
        parameters.append(parameter)
        sources.append(_prior_source(parameter, observations))
    return at.jacobian, Rows(tuple(sources), tuple(parameters))


def gradients(observations: Observations) -> dict[LengthName, np.ndarray]:
    """Gradient of each length whose rims were found: name to array of shape (p,)."""
    place = {rim.name: FIXED + PER_RIM * i for i, rim in enumerate(observations.rims)}
    out = {}
    for quantity in LengthName:
        start, end = quantity.rims
        if start in place and end in place:
            gradient = np.zeros(FIXED + PER_RIM * len(observations.rims))
            gradient[place[end]], gradient[place[start]] = 1.0, -1.0
            out[quantity] = gradient
    return out


def _prior_source(parameter: int, observations: Observations) -> Source:
    if parameter < FIXED:
        return _BY_PARAMETER[parameter]
    rim, which = divmod(parameter - FIXED, PER_RIM)
    # The first is the offset of the whole rim in the picture; the others are the edge's height and tilt.
    name = observations.rims[rim].name
    return Source.BAND if which > 1 and _BY_RIM[name] is Source.MARKER else _BY_RIM[name]


def _square(rows: np.ndarray) -> np.ndarray:
    return np.asarray(rows.T @ rows)


def _u95(gradient: np.ndarray, covariance: np.ndarray) -> float:
    return 2.0 * float(np.sqrt(max(gradient @ covariance @ gradient, 0.0)))


def _budget(
    quantity: LengthName, gradient: np.ndarray, covariance: np.ndarray, information: dict[Source, np.ndarray]
) -> Budget:
    weights = covariance @ gradient
    total = np.linalg.inv(covariance)
    shares = [
        Share(
            source,
            2.0 * float(np.sqrt(max(weights @ part @ weights, 0.0))),
            _u95(gradient, np.linalg.inv(total + (2.0**2 - 1) * part)),
        )
        for source, part in information.items()
    ]
    shares.sort(key=lambda share: -share.u95_mm)
    return Budget(
        quantity,
        _u95(gradient, covariance),
        tuple(shares),
        _to_halve(gradient, total, information),
    )


def _to_halve(
    gradient: np.ndarray, total: np.ndarray, information: dict[Source, np.ndarray]
) -> tuple[Source, ...]:
    """Reduce one source after another, always the most effective, until the total is halved."""
    wanted = 0.5 * _u95(gradient, np.linalg.inv(total))
    left, chosen = dict(information), []
    while left:
        gains = {s: _u95(gradient, np.linalg.inv(total + (CUT_TIMES**2 - 1) * p)) for s, p in left.items()}
        best = min(gains, key=lambda s: gains[s])
        total = total + (CUT_TIMES**2 - 1) * left.pop(best)
        chosen.append(best)
        if gains[best] <= wanted:
            break
    return tuple(chosen)
