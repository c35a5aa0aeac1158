"""Joint covariance of the lengths from several photos of one shaft: the errors that photos share.

A shared error is one input of all their lengths; the products of its effects are covariances (JCGM 100:2008, 5.2.2,
F.1.2.3). Shared are the errors of the caliper, of the print, of one lens, of the marker's height and tilt, and of the
card's depth where the card stayed in place; partly shared is the error of an edge as a whole.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration.focal import MODEL_REL_SD
from vision.adjustment.observations import Observations
from vision.adjustment.parameters import (
    ACROSS,
    ALONG,
    ASPECT,
    AX,
    AZ,
    BEND,
    CENTRE,
    DX,
    DZ,
    FIXED,
    K1,
    LOGF,
    OFF,
    PER_RIM,
    R_MM,
)
from vision.lengths.budget import gradients, weighted_residuals
from vision.names import LengthName, RimName
from vision.reading import Joint, Length, Reading

# Movement along or beside the shaft, mm, or rotation, rad, from which the card counts as repositioned: several times
# the standard uncertainty of one solution (0.1 to 0.3 mm, 0.003 rad).
CARD_MOVED_MM, CARD_MOVED_RAD = 2.0, 0.02
# Relative difference up to which focal lengths, over the picture's diagonal, come from one lens's EXIF value.
SAME_LENS = 1e-3
# Correlation between two photos of the error of an edge as a whole: shadow and shape of a seal or clamp have the same
# effect in both, blur and noise do not. Measured for rims and silhouettes in docs/measured.md, "Correlation of edges".
EDGE_CORRELATION = 0.5


@dataclass(frozen=True)
class Stack:
    """Lengths of several photos with the covariance of all of them.

    Attributes
    ----------
    photos : tuple of int
        Photo of each length.
    names : tuple of LengthName
    values_mm : ndarray of shape (n,)
    covariance_mm2 : ndarray of shape (n, n)
    """

    photos: tuple[int, ...]
    names: tuple[LengthName, ...]
    values_mm: np.ndarray
    covariance_mm2: np.ndarray

    def only(self, keep: Sequence[int]) -> Stack:
        """Select some of them."""
        k = list(keep)
        return Stack(
            tuple(self.photos[i] for i in k),
            tuple(self.names[i] for i in k),
            self.values_mm[k],
            self.covariance_mm2[np.ix_(k, k)],
        )


def stacked(readings: Sequence[Reading], edge_correlation: float = EDGE_CORRELATION) -> Stack:
    """Collect all lengths that were read, photo by photo, with their covariance.

    Parameters
    ----------
    readings : sequence of Reading
        With lengths.
    edge_correlation : float
        Correlation, between photos, of the error of an edge as a whole.
    """
    joints = [joint_of(r) for r in readings]
    rows: list[tuple[int, LengthName, float]] = []
    for photo, reading in enumerate(readings):
        rows += [(photo, name, one.value_mm) for name, one in answers_of(reading).items() if one is not None]
    own = [_effects(joint) for joint in joints]
    n = len(rows)
    covariance = np.zeros((n, n))
    repositioned = card_repositioned(joints)
    for i, j in itertools.product(range(n), repeat=2):
        a, b = own[rows[i][0]][rows[i][1]], own[rows[j][0]][rows[j][1]]
        if rows[i][0] == rows[j][0]:
            covariance[i, j] = a.within(b)
        else:
            pair = joints[rows[i][0]], joints[rows[j][0]]
            covariance[i, j] = sum(
                _shared(error, *pair, repositioned, edge_correlation) * a.known[error] * b.known[error]
                for error in a.known.keys() & b.known.keys()
            )
    return Stack(
        tuple(r[0] for r in rows), tuple(r[1] for r in rows), np.array([r[2] for r in rows]), covariance
    )


@dataclass(frozen=True)
class _Effects:
    """Effect of the adjustment's independent errors on one length, mm per standard uncertainty.

    `rows`: all of them; `known`: those of priors by name, which photos may share.
    """

    rows: np.ndarray
    known: dict[str, float]

    def within(self, other: _Effects) -> float:
        return float(self.rows @ other.rows)


def _effects(joint: Joint) -> dict[LengthName, _Effects]:
    jacobian, rows = weighted_residuals(joint)
    out = {}
    for name, gradient in gradients(joint.observations).items():
        effect = jacobian @ (joint.solution.covariance @ gradient)
        known = {
            _name(parameter, joint.observations): float(e)
            for parameter, e in zip(rows.parameters, effect, strict=True)
            if parameter >= 0
        }
        out[name] = _Effects(effect, known)
    return out


_FIXED_NAMES = {
    LOGF: "focal length",
    K1: "distortion",
    ALONG: "print",
    ACROSS: "print across",
    R_MM: "diameter",
    AZ: "card depth",
    DZ: "card tilt",
    BEND: "card bend",
    ASPECT: "pixel aspect",
    OFF.start: "silhouette left",
    OFF.start + 1: "silhouette right",
    CENTRE.start: "lens axis x",
    CENTRE.start + 1: "lens axis y",
}
_DECLARED = frozenset({"diameter", "print", "print across"})
_BEND = "card bend"
# Photos edited alike have pixels of the same shape.
_LENS = frozenset({"distortion", "lens axis x", "lens axis y", "pixel aspect"})
_CARD = frozenset({"card depth", "card tilt"})


def _name(parameter: int, observations: Observations) -> str:
    if parameter < FIXED:
        return _FIXED_NAMES[parameter]
    rim, which = divmod(parameter - FIXED, PER_RIM)
    return f"{observations.rims[rim].name} {('place', 'offset', 'height', 'tilt', 'turn')[which]}"


def _shared(error: str, one: Joint, other: Joint, repositioned: bool, edge_correlation: float) -> float:
    """Correlation of an error between two photos."""
    # A card that is curled is so in every photo.
    if error in _DECLARED or error == _BEND:
        return 1.0
    if error == "focal length" or error in _LENS:
        if not _same_lens(one.observations, other.observations):
            return 0.0
        # The rounding of EXIF's value is shared, and so is a value of another frame; the focusing of each photo is its
        # own.
        rel = one.observations.focal_prior_sd
        return max(0.0, 1.0 - (MODEL_REL_SD / rel) ** 2) if error == "focal length" else 1.0
    if error in _CARD:
        return 0.0 if repositioned else 1.0
    # The same edges, with the same height and tilt.
    return 1.0 if error.endswith((" height", " tilt", " turn")) else edge_correlation


def _same_lens(one: Observations, other: Observations) -> bool:
    def relative(e: Observations) -> float:
        return e.camera.focal_px / float(np.hypot(2 * e.camera.cx_px + 1, 2 * e.camera.cy_px + 1))

    return bool(
        abs(relative(one) / relative(other) - 1) < SAME_LENS
        and abs(one.focal_rel_sd / other.focal_rel_sd - 1) < SAME_LENS
    )


def card_repositioned(joints: Sequence[Joint]) -> bool:
    """Whether the card was at a different place along or beside the shaft in every photo."""

    def place(joint: Joint) -> np.ndarray:
        theta, s = joint.solution.theta, joint.solution.rim_s_mm
        # Position along the shaft from a rim that is fixed to it.
        along = s.get(RimName.FAR_END, s.get(RimName.SEAL, np.nan))
        return np.array([theta[AX], along, theta[DX] * CARD_MOVED_MM / CARD_MOVED_RAD])

    return all(
        bool(np.nanmax(np.abs(place(a) - place(b))) > CARD_MOVED_MM)
        for a, b in itertools.combinations(joints, 2)
    )


def joint_of(reading: Reading) -> Joint:
    """Return the adjustment behind a reading that has lengths."""
    assert reading.joint is not None
    return reading.joint


def answers_of(reading: Reading) -> dict[LengthName, Length | None]:
    """Return the three lengths by name."""
    return {name: reading.length(name) for name in LengthName}
