"""Where a length's uncertainty comes from: each source's share of its variance, and what halving it would bring.

The solve is least squares over normalised comparisons z, one a row, with derivatives J and covariance
C = (J' J)^-1. To first order its errors are C J' z. A length with gradient a is so off by the sum over all rows
of (a' C J'), and a group of rows g brings a' C J_g' J_g C a to its variance; the groups' parts add up to a' C a
(JCGM 100:2008, 5.1.2: an uncertainty budget; the rows are its independent inputs).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from vision.adjustment.observations import Observations
from vision.adjustment.residuals import (
    ACROSS,
    ALONG,
    AZ,
    CENTRE,
    DZ,
    FIXED,
    K1,
    LOGF,
    OFF,
    PER_RIM,
    R_MM,
    ResidualModel,
)
from vision.lengths.lengths import QUANTITIES
from vision.reading import Joint

# How far a source is taken down when it is asked which of them must be better for the whole to be halved: what is
# left of it then hardly counts (a sixteenth of its variance).
CUT_TIMES = 4.0


class Source(StrEnum):
    """Where an error comes from; the value is its code in JSON."""

    CORNERS = "card_corners"
    PRINT = "print_scale"
    DIAMETER = "diameter"
    FOCAL = "focal_length"
    DISTORTION = "distortion"
    CENTRE = "lens_axis"
    CARD = "card_depth_and_turn"
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
    OFF.start: Source.SILHOUETTES,
    OFF.start + 1: Source.SILHOUETTES,
    CENTRE.start: Source.CENTRE,
    CENTRE.start + 1: Source.CENTRE,
}
_BY_RIM = {
    "seal": Source.SEAL,
    "marker": Source.MARKER,
    "marker end": Source.MARKER,
    "far end": Source.FAR_END,
}


@dataclass(frozen=True)
class Share:
    """What one source does to one length.

    Attributes
    ----------
    source : Source
    u95_mm : float
        What the length's expanded uncertainty (k = 2) would be, were there no other source. The squares of all
        sources' add up to the square of the whole.
    whole_if_halved_mm : float
        The length's expanded uncertainty if this source alone were half as large.
    """

    source: Source
    u95_mm: float
    whole_if_halved_mm: float


@dataclass(frozen=True)
class Budget:
    """Where one length's uncertainty comes from.

    Attributes
    ----------
    quantity : str
        "exposed", "marker" or "remaining".
    u95_mm : float
        Expanded uncertainty (k = 2).
    shares : tuple of Share
        The largest first.
    to_halve : tuple of Source
        The fewest sources, best first, that bring the whole to half when each is a quarter as large.
    """

    quantity: str
    u95_mm: float
    shares: tuple[Share, ...]
    to_halve: tuple[Source, ...]


@dataclass(frozen=True)
class Rows:
    """What each row of the solve compares.

    Attributes
    ----------
    sources : tuple of Source, length m
    parameters : tuple of int, length m
        Of what is known beforehand, the parameter that it speaks of; -1 for what was seen.
    """

    sources: tuple[Source, ...]
    parameters: tuple[int, ...]


def budgets(joint: Joint) -> tuple[Budget, ...]:
    """Budget of each length whose two rims were found.

    Parameters
    ----------
    joint : Joint
        Of a reading.

    Returns
    -------
    tuple of Budget
    """
    jacobian, rows = compared(joint)
    of_row = np.array([list(Source).index(source) for source in rows.sources])
    present = [source for k, source in enumerate(Source) if np.any(of_row == k)]
    information = {source: _square(jacobian[of_row == list(Source).index(source)]) for source in present}
    return tuple(
        _budget(quantity, gradient, joint.solution.covariance, information)
        for quantity, gradient in gradients(joint.observations).items()
    )


def compared(joint: Joint) -> tuple[np.ndarray, Rows]:
    """Derivatives of all comparisons at the solution, shape (m, p), and what each of them is.

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
    # What is known beforehand stands last; each speaks of one parameter, or of one against another's.
    for row in at.jacobian[len(sources) :]:
        parameter = int(np.flatnonzero(row)[-1])
        parameters.append(parameter)
        sources.append(_prior_source(parameter, observations))
    return at.jacobian, Rows(tuple(sources), tuple(parameters))


def gradients(observations: Observations) -> dict[str, np.ndarray]:
    """How each length whose rims were found moves with the parameters: name to array of shape (p,)."""
    place = {rim.name: FIXED + PER_RIM * i for i, rim in enumerate(observations.rims)}
    out = {}
    for quantity, (start, end) in QUANTITIES.items():
        if start in place and end in place:
            gradient = np.zeros(FIXED + PER_RIM * len(observations.rims))
            gradient[place[end]], gradient[place[start]] = 1.0, -1.0
            out[quantity.removesuffix("_mm")] = gradient
    return out


def _prior_source(parameter: int, observations: Observations) -> Source:
    if parameter < FIXED:
        return _BY_PARAMETER[parameter]
    rim, which = divmod(parameter - FIXED, PER_RIM)
    # The first is the rim as a whole in the picture; the others are the edge's height and tilt.
    name = observations.rims[rim].name
    return Source.BAND if which > 1 and _BY_RIM[name] is Source.MARKER else _BY_RIM[name]


def _square(rows: np.ndarray) -> np.ndarray:
    return np.asarray(rows.T @ rows)


def _u95(gradient: np.ndarray, covariance: np.ndarray) -> float:
    return 2.0 * float(np.sqrt(max(gradient @ covariance @ gradient, 0.0)))


def _budget(
    quantity: str, gradient: np.ndarray, covariance: np.ndarray, information: dict[Source, np.ndarray]
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
    """One source after another, always the one that helps most, until the whole is half of what it was."""
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
