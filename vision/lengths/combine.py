"""Combination of several photos of one shaft, and the test whether they agree.

The readings are combined by generalised least squares with all covariances (Aitken; shared errors:
vision/lengths/stack.py), and compared in pairs by their normalised difference E_n = |a - b| / (2 u(a - b)),
they agree up to 1 (ISO 13528, from memory).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from vision.errors import VisionError
from vision.lengths.lengths import U95_LIMIT_MM
from vision.lengths.stack import Stack, answers_of, card_repositioned, joint_of, stacked
from vision.names import LengthName
from vision.reading import Length, Note, Reading, Status
from vision.reasons import Reason

# E_n from which a marker or a leg counts as moved: three standard uncertainties, one false alarm in 370 (JCGM 100,
# table G.1). At E_n = 1 one pair of photos in ten would be a false alarm, with two lengths compared.
MOVED_FROM = 1.5
# Exposed is the sum of the two lengths on either side of the marker.
_PARTS = {
    LengthName.EXPOSED: (1.0, 1.0),
    LengthName.MARKER: (1.0, 0.0),
    LengthName.REMAINING: (0.0, 1.0),
}


class Verdict(StrEnum):
    """Agreement of several photos of one shaft."""

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
        Indices of the photos in the input.
    quantity : LengthName
    difference_mm, u95_mm : float
        Second minus first, and its expanded uncertainty (k = 2), without the errors that both share.
    normalised : float
        E_n: up to 1 the two agree.
    """

    first: int
    second: int
    quantity: LengthName
    difference_mm: float
    u95_mm: float

    @property
    def normalised(self) -> float:
        """E_n."""
        return abs(self.difference_mm) / max(self.u95_mm, 1e-9)

    @property
    def agrees(self) -> bool:
        """Whether the uncertainty of both explains the difference."""
        return self.normalised <= 1.0

    @property
    def moved(self) -> bool:
        """Whether the difference indicates a movement."""
        return self.normalised > MOVED_FROM


@dataclass(frozen=True)
class Combined:
    """Several photos of one shaft as one reading.

    Attributes
    ----------
    reading : Reading
        Lengths on which the photos agree; a length that changed between them is withheld.
    differences : tuple of Difference
    verdict : Verdict
    card_repositioned : bool
        In each photo; only then the error of its depth averages out.
    weights : ndarray of shape (3, n)
        Weight of each input length in exposed, marker, remaining; NaN rows where withheld.
    """

    reading: Reading
    differences: tuple[Difference, ...]
    verdict: Verdict
    card_repositioned: bool
    weights: np.ndarray


def combine(readings: Sequence[Reading]) -> Combined:
    """Combine readings of one shaft, one card and one set of declared dimensions.

    Parameters
    ----------
    readings : sequence of Reading
        Two or more with at least one length each; others are ignored.

    Returns
    -------
    Combined

    Raises
    ------
    VisionError
        Fewer than two readings with a length, or readings of different cards.
    """
    read = [r for r in readings if r.joint is not None and any(answers_of(r).values())]
    place = [i for i, r in enumerate(readings) if any(r is one for one in read)]
    if len(read) < 2:
        raise VisionError(
            "Fewer than two of the photos could be read, so there is nothing to combine.",
            "Take the refused photos again, following their reasons.",
        )
    if len({r.card for r in read}) > 1:
        raise VisionError(
            "The photos show different cards, so they are not of one shaft.",
            "Combine only photos of the same shaft with its own card.",
        )
    stack = stacked(read)
    # The correlation of edges differs from pair to pair: 0 gives the larger uncertainty of a difference.
    differences = differences_of(stacked(read, edge_correlation=0.0))
    verdict = _verdict(differences)
    lengths, covariance, weights = _joined(stack, _kept(verdict))
    named = tuple(replace(d, first=place[d.first], second=place[d.second]) for d in differences)
    reading = _as_reading(read, lengths, covariance, verdict)
    return Combined(reading, named, verdict, card_repositioned([joint_of(r) for r in read]), weights)


def differences_of(stack: Stack) -> tuple[Difference, ...]:
    """Compare every length that two photos share."""
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
    """Estimate exposed, marker and remaining length by generalised least squares; exposed is the sum of the others.

    Parameters
    ----------
    stack : Stack

    Returns
    -------
    values_mm : ndarray of shape (3,)
        NaN where the photos do not determine it.
    covariance_mm2 : ndarray of shape (3, 3)
    weights : ndarray of shape (3, n)
    """
    # Three lengths of one photo close by construction: the third adds no information.
    keep = [i for i in range(len(stack.names)) if not _third(stack, i)]
    some = stack.only(keep)
    design = np.array([_PARTS[name] for name in some.names])
    wanted = np.array([_PARTS[name] for name in LengthName])
    # Rounding only: two photos that share every error have a singular covariance.
    white = np.linalg.inv(
        np.linalg.cholesky(some.covariance_mm2 + 1e-9 * np.eye(len(keep)) * np.trace(some.covariance_mm2))
    )
    gain = np.linalg.pinv(white @ design) @ white
    determined = np.linalg.norm(wanted @ np.linalg.pinv(design) @ design - wanted, axis=1) < 1e-9
    weights = np.zeros((3, len(stack.names)))
    weights[:, keep] = wanted @ gain
    weights[~determined] = np.nan
    covariance = weights @ stack.covariance_mm2 @ weights.T
    return weights @ stack.values_mm, covariance, weights


def _third(stack: Stack, i: int) -> bool:
    mine = {name for photo, name in zip(stack.photos, stack.names, strict=True) if photo == stack.photos[i]}
    return stack.names[i] is LengthName.EXPOSED and len(mine) == 3


def _joined(
    stack: Stack, keep: tuple[LengthName, ...]
) -> tuple[dict[LengthName, Length], np.ndarray, np.ndarray]:
    """Combine the lengths that did not change between the photos."""
    used = [i for i, name in enumerate(stack.names) if name in keep]
    covariance, weights = np.full((3, 3), np.nan), np.full((3, len(stack.names)), np.nan)
    lengths: dict[LengthName, Length] = {}
    if not used:
        return lengths, covariance, weights
    values, found, parts = weighted(stack.only(used))
    for row, name in enumerate(LengthName):
        if name in keep and np.isfinite(values[row]):
            lengths[name] = Length(float(values[row]), 2.0 * float(np.sqrt(found[row, row])))
            weights[row] = 0.0
            weights[row, used] = parts[row]
    known = [row for row, name in enumerate(LengthName) if name in lengths]
    covariance[np.ix_(known, known)] = found[np.ix_(known, known)]
    return lengths, covariance, weights


def _kept(verdict: Verdict) -> tuple[LengthName, ...]:
    """Lengths that did not change: marker to far end if the leg moved, seal to far end if the marker did."""
    return {
        Verdict.AGREE: tuple(LengthName),
        Verdict.LEG_MOVED: (LengthName.REMAINING,),
        Verdict.MARKER_MOVED: (LengthName.EXPOSED,),
        Verdict.BOTH_MOVED: (),
        Verdict.NOTHING_COMMON: tuple(LengthName),
    }[verdict]


def _verdict(differences: Sequence[Difference]) -> Verdict:
    """Decide what moved: a leg changes exposed and marker equally, a marker changes marker and remaining oppositely."""
    if not differences:
        return Verdict.NOTHING_COMMON
    apart = {d.quantity for d in differences if d.moved}
    seen = {d.quantity for d in differences}
    leg = LengthName.EXPOSED in apart
    marker = LengthName.REMAINING in apart or (
        LengthName.MARKER in apart and LengthName.EXPOSED in seen and not leg
    )
    if LengthName.MARKER in apart and not leg and not marker:
        # Only the distance from the seal was read twice: either may have moved.
        return Verdict.BOTH_MOVED
    if leg and marker:
        return Verdict.BOTH_MOVED
    return Verdict.LEG_MOVED if leg else Verdict.MARKER_MOVED if marker else Verdict.AGREE


def _as_reading(
    read: Sequence[Reading], lengths: dict[LengthName, Length], covariance: np.ndarray, verdict: Verdict
) -> Reading:
    """Make one reading of the combined lengths."""
    notes = []
    for name in LengthName:
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
        lengths.get(LengthName.EXPOSED),
        lengths.get(LengthName.MARKER),
        lengths.get(LengthName.REMAINING),
        marker_at_stop=same,
        marker_band_mm=read[0].marker_band_mm,
        card=read[0].card,
        covariance_mm2=covariance,
    )
