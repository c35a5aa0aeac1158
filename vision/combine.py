"""Several photos of the same shaft: what they say together, and whether they agree.

An error that the photos share does not average out: the caliper's, the card's print, the lens of one phone, how
far the marker stands proud; and how deep the card lies, where it was left lying. All else is each photo's own.
The readings are joined by weighted least squares with all covariances (Aitken's generalised least squares;
JCGM 100:2008, 5.2.2 for what is shared), and compared two by two by their normalised difference
E_n = |a - b| / (2 u(a - b)), which agrees up to 1 (ISO 13528, from memory).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from calibration.focal import MODEL_REL_SD
from vision.budget import compared, gradients
from vision.errors import VisionError
from vision.evidence import Evidence
from vision.lengths import U95_LIMIT_MM
from vision.reading import Joint, Length, Note, Reading, Status
from vision.reasons import Reason
from vision.residuals import ACROSS, ALONG, AX, AZ, CENTRE, DX, DZ, FIXED, K1, LOGF, OFF, PER_RIM, R_MM

# The card counts as laid anew where it lies elsewhere along or beside the shaft by more than this, mm, or turned
# by more than this, rad: several times what one solve is unsure of there (0.1 to 0.3 mm, 0.003 rad).
CARD_MOVED_MM, CARD_MOVED_RAD = 2.0, 0.02
# Focal lengths this near each other, relative to the picture's diagonal, come from one lens's EXIF figure.
SAME_LENS = 1e-3
# How alike an edge as a whole errs in two photos: shadow and shape of a seal or clamp mislead in the next photo
# too, blur and noise do not. Three photos of one rendered scene erred by 0.3 mm with one sign and 0.1 mm apart;
# half is a judgement, no source.
EDGE_ALIKE = 0.5
NAMES = ("exposed", "marker", "remaining")
_PARTS = {"exposed": (1.0, 1.0), "marker": (1.0, 0.0), "remaining": (0.0, 1.0)}


class Verdict(StrEnum):
    """How photos of one shaft go together."""

    AGREE = "agree"
    MARKER_MOVED = "marker_moved"
    LEG_MOVED = "leg_moved"
    BOTH_MOVED = "marker_and_leg_moved"
    NOTHING_COMMON = "nothing_common"


@dataclass(frozen=True)
class Difference:
    """One length in two photos.

    Attributes
    ----------
    first, second : int
        Places of the photos in what was given.
    quantity : str
    difference_mm, u95_mm : float
        Second less first, and its expanded uncertainty (k = 2), without what both share.
    normalised : float
        E_n: up to 1 the two agree.
    """

    first: int
    second: int
    quantity: str
    difference_mm: float
    u95_mm: float

    @property
    def normalised(self) -> float:
        """E_n."""
        return abs(self.difference_mm) / max(self.u95_mm, 1e-9)

    @property
    def agrees(self) -> bool:
        """Whether the doubt of both explains it."""
        return self.normalised <= 1.0


@dataclass(frozen=True)
class Combined:
    """Several photos of one shaft as one reading.

    Attributes
    ----------
    reading : Reading
        Lengths that the photos agree on; a length that moved between them is withheld.
    differences : tuple of Difference
    verdict : Verdict
    card_laid_anew : bool
        In each photo; only then the doubt of its depth averages out.
    weights : ndarray of shape (3, n)
        How much each given length counts in exposed, marker, remaining; NaN rows where withheld.
    """

    reading: Reading
    differences: tuple[Difference, ...]
    verdict: Verdict
    card_laid_anew: bool
    weights: np.ndarray


@dataclass(frozen=True)
class Stack:
    """Lengths of several photos with the covariance of all of them.

    Attributes
    ----------
    photos : tuple of int
        Which photo each is from.
    names : tuple of str
    values_mm : ndarray of shape (n,)
    covariance_mm2 : ndarray of shape (n, n)
    """

    photos: tuple[int, ...]
    names: tuple[str, ...]
    values_mm: np.ndarray
    covariance_mm2: np.ndarray

    def only(self, keep: Sequence[int]) -> Stack:
        """Some of them."""
        k = list(keep)
        return Stack(
            tuple(self.photos[i] for i in k),
            tuple(self.names[i] for i in k),
            self.values_mm[k],
            self.covariance_mm2[np.ix_(k, k)],
        )


def combine(readings: Sequence[Reading]) -> Combined:
    """Join readings of one shaft, one card and one set of stated dimensions.

    Parameters
    ----------
    readings : sequence of Reading
        Two or more with at least one length each; others are passed over.

    Returns
    -------
    Combined

    Raises
    ------
    VisionError
        Fewer than two readings with a length, or readings of different cards.
    """
    read = [r for r in readings if r.joint is not None and any(_answers(r).values())]
    place = [i for i, r in enumerate(readings) if any(r is one for one in read)]
    if len(read) < 2:
        raise VisionError(
            "Fewer than two of the photos could be read, so there is nothing to put together.",
            "Take those that were refused again, as their reasons say.",
        )
    if len({r.card for r in read}) > 1:
        raise VisionError(
            "The photos show different cards, so they are not of one shaft.",
            "Put together only photos of the same shaft with its own card.",
        )
    stack = stacked(read)
    differences = differences_of(stack)
    verdict = _verdict(differences)
    lengths, covariance, weights = _joined(stack, _kept(verdict))
    named = tuple(replace(d, first=place[d.first], second=place[d.second]) for d in differences)
    reading = _as_reading(read, lengths, covariance, verdict)
    return Combined(reading, named, verdict, _laid_anew([_joint(r) for r in read]), weights)


def stacked(readings: Sequence[Reading]) -> Stack:
    """All lengths that were answered, photo by photo, with their covariance."""
    joints = [_joint(r) for r in readings]
    rows: list[tuple[int, str, float]] = []
    for photo, reading in enumerate(readings):
        rows += [(photo, name, one.value_mm) for name, one in _answers(reading).items() if one is not None]
    own = [_effects(joint) for joint in joints]
    # Each error that photos share, photo by photo: the length's effect of one standard uncertainty of it.
    n = len(rows)
    covariance = np.zeros((n, n))
    anew = _laid_anew(joints)
    for i, j in itertools.product(range(n), repeat=2):
        a, b = own[rows[i][0]][rows[i][1]], own[rows[j][0]][rows[j][1]]
        if rows[i][0] == rows[j][0]:
            covariance[i, j] = a.within(b)
        else:
            pair = joints[rows[i][0]], joints[rows[j][0]]
            covariance[i, j] = sum(
                _shared(error, *pair, anew) * a.known[error] * b.known[error]
                for error in a.known.keys() & b.known.keys()
            )
    return Stack(
        tuple(r[0] for r in rows), tuple(r[1] for r in rows), np.array([r[2] for r in rows]), covariance
    )


def differences_of(stack: Stack) -> tuple[Difference, ...]:
    """Every length that two photos tell, compared."""
    out = []
    for i, j in itertools.combinations(range(len(stack.names)), 2):
        if stack.names[i] != stack.names[j] or stack.photos[i] == stack.photos[j]:
            continue
        c = stack.covariance_mm2
        variance = c[i, i] + c[j, j] - 2 * c[i, j]
        out.append(
            Difference(
                stack.photos[i],
                stack.photos[j],
                stack.names[i],
                float(stack.values_mm[j] - stack.values_mm[i]),
                2.0 * float(np.sqrt(max(variance, 0.0))),
            )
        )
    return tuple(out)


def weighted(stack: Stack) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Exposed, marker and remaining length by generalised least squares; exposed is the sum of the others.

    Parameters
    ----------
    stack : Stack

    Returns
    -------
    values_mm : ndarray of shape (3,)
        NaN where the photos together do not tell.
    covariance_mm2 : ndarray of shape (3, 3)
    weights : ndarray of shape (3, n)
    """
    # Three lengths of one photo close by construction: the third says nothing more.
    keep = [i for i in range(len(stack.names)) if not _third(stack, i)]
    some = stack.only(keep)
    design = np.array([_PARTS[name] for name in some.names])
    wanted = np.array([_PARTS[name] for name in NAMES])
    # Rounding only: two photos that share every error have a singular covariance.
    white = np.linalg.inv(
        np.linalg.cholesky(some.covariance_mm2 + 1e-9 * np.eye(len(keep)) * np.trace(some.covariance_mm2))
    )
    gain = np.linalg.pinv(white @ design) @ white
    told = np.linalg.norm(wanted @ np.linalg.pinv(design) @ design - wanted, axis=1) < 1e-9
    weights = np.zeros((3, len(stack.names)))
    weights[:, keep] = wanted @ gain
    weights[~told] = np.nan
    covariance = weights @ stack.covariance_mm2 @ weights.T
    return weights @ stack.values_mm, covariance, weights


def _third(stack: Stack, i: int) -> bool:
    mine = {name for photo, name in zip(stack.photos, stack.names, strict=True) if photo == stack.photos[i]}
    return stack.names[i] == "exposed" and len(mine) == 3


def _joined(stack: Stack, keep: tuple[str, ...]) -> tuple[dict[str, Length], np.ndarray, np.ndarray]:
    """Lengths of which the photos agree, from those that did not move between them."""
    used = [i for i, name in enumerate(stack.names) if name in keep]
    covariance, weights = np.full((3, 3), np.nan), np.full((3, len(stack.names)), np.nan)
    lengths: dict[str, Length] = {}
    if not used:
        return lengths, covariance, weights
    values, found, parts = weighted(stack.only(used))
    for row, name in enumerate(NAMES):
        if name in keep and np.isfinite(values[row]):
            lengths[name] = Length(float(values[row]), 2.0 * float(np.sqrt(found[row, row])))
            weights[row] = 0.0
            weights[row, used] = parts[row]
    told = [row for row, name in enumerate(NAMES) if name in lengths]
    covariance[np.ix_(told, told)] = found[np.ix_(told, told)]
    return lengths, covariance, weights


def _kept(verdict: Verdict) -> tuple[str, ...]:
    """Lengths that stayed as they were: marker to far end when the leg moved, seal to far end when the marker did."""
    return {
        Verdict.AGREE: NAMES,
        Verdict.LEG_MOVED: ("remaining",),
        Verdict.MARKER_MOVED: ("exposed",),
        Verdict.BOTH_MOVED: (),
        Verdict.NOTHING_COMMON: NAMES,
    }[verdict]


def _verdict(differences: Sequence[Difference]) -> Verdict:
    """What moved: the leg changes exposed and marker alike, the marker changes marker and remaining contrariwise."""
    if not differences:
        return Verdict.NOTHING_COMMON
    apart = {d.quantity for d in differences if not d.agrees}
    seen = {d.quantity for d in differences}
    leg = "exposed" in apart
    marker = "remaining" in apart or ("marker" in apart and "exposed" in seen and not leg)
    if "marker" in apart and not leg and not marker:
        # Only the distance from the seal was told twice: either may have moved.
        return Verdict.BOTH_MOVED
    if leg and marker:
        return Verdict.BOTH_MOVED
    return Verdict.LEG_MOVED if leg else Verdict.MARKER_MOVED if marker else Verdict.AGREE


@dataclass(frozen=True)
class _Effects:
    """What the solve's independent errors do to one length, mm a standard uncertainty of each.

    `rows` for all of them, `known` by name for what is known beforehand, which photos may share.
    """

    rows: np.ndarray
    known: dict[str, float]

    def within(self, other: _Effects) -> float:
        return float(self.rows @ other.rows)


def _effects(joint: Joint) -> dict[str, _Effects]:
    jacobian, rows = compared(joint)
    out = {}
    for name, gradient in gradients(joint.evidence).items():
        effect = jacobian @ (joint.solution.covariance @ gradient)
        known = {
            _name(parameter, joint.evidence): float(e)
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
    OFF.start: "silhouette left",
    OFF.start + 1: "silhouette right",
    CENTRE.start: "lens axis x",
    CENTRE.start + 1: "lens axis y",
}
_STATED = frozenset({"diameter", "print", "print across"})
_LENS = frozenset({"distortion", "lens axis x", "lens axis y"})
_CARD = frozenset({"card depth", "card tilt"})


def _name(parameter: int, evidence: Evidence) -> str:
    if parameter < FIXED:
        return _FIXED_NAMES[parameter]
    rim, which = divmod(parameter - FIXED, PER_RIM)
    return f"{evidence.rims[rim].name} {('place', 'offset', 'height', 'tilt', 'turn')[which]}"


def _shared(error: str, one: Joint, other: Joint, anew: bool) -> float:
    """Correlation of an error between two photos."""
    if error in _STATED:
        return 1.0
    if error == "focal length" or error in _LENS:
        if not _same_lens(one.evidence, other.evidence):
            return 0.0
        # EXIF's rounding is the lens's; how it focused is each photo's own.
        rel = one.evidence.focal_rel_sd
        return max(0.0, 1.0 - (MODEL_REL_SD / rel) ** 2) if error == "focal length" else 1.0
    if error in _CARD:
        return 0.0 if anew else 1.0
    # The same edges, as high and as tilted as before.
    return 1.0 if error.endswith((" height", " tilt", " turn")) else EDGE_ALIKE


def _same_lens(one: Evidence, other: Evidence) -> bool:
    def relative(e: Evidence) -> float:
        return e.camera.focal_px / float(np.hypot(2 * e.camera.cx_px + 1, 2 * e.camera.cy_px + 1))

    return bool(
        abs(relative(one) / relative(other) - 1) < SAME_LENS
        and abs(one.focal_rel_sd / other.focal_rel_sd - 1) < SAME_LENS
    )


def _laid_anew(joints: Sequence[Joint]) -> bool:
    """Whether the card lay elsewhere against the shaft in every photo: only what differs is seen to."""

    def place(joint: Joint) -> np.ndarray:
        theta, s = joint.solution.theta, joint.solution.rim_s_mm
        # Along the shaft by whichever rim never moves against it.
        along = s.get("far end", s.get("seal", np.nan))
        return np.array([theta[AX], along, theta[DX] * CARD_MOVED_MM / CARD_MOVED_RAD])

    return all(
        bool(np.nanmax(np.abs(place(a) - place(b))) > CARD_MOVED_MM)
        for a, b in itertools.combinations(joints, 2)
    )


def _joint(reading: Reading) -> Joint:
    assert reading.joint is not None
    return reading.joint


def _answers(reading: Reading) -> dict[str, Length | None]:
    return {name: getattr(reading, name) for name in NAMES}


def _as_reading(
    read: Sequence[Reading], lengths: dict[str, Length], covariance: np.ndarray, verdict: Verdict
) -> Reading:
    """The joint lengths as one reading."""
    notes = []
    for name in NAMES:
        if name in lengths and lengths[name].u95_mm > U95_LIMIT_MM:
            notes.append(
                Note(Reason.UNCERTAIN, name, f"known only to within {lengths.pop(name).u95_mm:.1f} mm")
            )
    stops = {r.marker_at_stop for r in read}
    same = stops.pop() if len(stops) == 1 and verdict in (Verdict.AGREE, Verdict.NOTHING_COMMON) else None
    status = Status.READ if len(lengths) == 3 else Status.PARTIAL if lengths else Status.REFUSED
    return Reading(
        status,
        tuple(notes),
        lengths.get("exposed"),
        lengths.get("marker"),
        lengths.get("remaining"),
        marker_at_stop=same,
        marker_band_mm=read[0].marker_band_mm,
        card=read[0].card,
        covariance_mm2=covariance,
    )
