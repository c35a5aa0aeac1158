"""Which end of the bare shaft is the seal: the looks of both ends to both networks, weighed against the card's arrow.

Borders are found in the right place on shafts of every kind, but glands of turned metal look like clamps: taken alone,
what a network calls a part says little of which it is. There are two ends, one of them the seal, and the arrow points
to it unless the card lies backwards. Two hypotheses are therefore compared, the card as laid and the card backwards, by
what each network says of both ends, given how often it errs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vision.geometry.views import READER_STEP_MM
from vision.networks.classes import Part, PartMap
from vision.networks.run import FIRST_PARTS

# Probability that a card is laid as its arrow says, before anything is seen of the ends: 72 of the 77 photos as people
# make them.
LAID_RIGHT = 0.95
# Half-width, radii, of the columns in which the ends are looked at: rims bow by less than 3 mm there.
MIDDLE_U = 0.5
# Stretch beyond either end in which its part is looked at, mm: past the blur of the border, within any gland or clamp.
LOOKED_AT_MM = (1.5, 6.5)
# Share of a point covered by something in front from which it shows nothing of the shaft.
COVERED = 0.9
# Weight of what a network calls neither seal nor far end: the same under both hypotheses.
NEITHER = 0.5


@dataclass(frozen=True)
class Looks:
    """What a network takes the part at one end of the bare shaft for: its mean probabilities.

    Attributes
    ----------
    seal, far_end : float
    """

    seal: float
    far_end: float


@dataclass(frozen=True)
class Ends:
    """Looks of the end to which the card's arrow points, and of the other; None where nothing was looked at."""

    towards: Looks | None
    away: Looks | None


@dataclass(frozen=True)
class _Calls:
    """How often a network calls a seal a seal, and a far end a seal."""

    seal_of_seals: float
    seal_of_far_ends: float

    def likelihood(self, looks: Looks, seal: bool) -> float:
        """Probability of these looks where the end is the seal, or where it is the far end."""
        p = self.seal_of_seals if seal else self.seal_of_far_ends
        return looks.seal * p + looks.far_end * (1 - p) + NEITHER * max(1 - looks.seal - looks.far_end, 0.0)


# Counted on 61 real and 30 rendered photos with a card laid right, and 23 and 5 with one laid backwards: the mean of
# both kinds' rates, as nothing in a photo says which kind it is like (one more of each answer is counted than was
# seen). Without the card in its view `part_segmentation_b` calls 43 of 75 and 30 of 32 seals a seal, and 8 of 72 and
# none of 32 far ends (cast feet). The network that knows the side follows it: with the card backwards it calls 18 of
# 18 and 3 of 5 far ends a seal, and 1 of 21 and 4 of 5 seals.
_SIDELESS = _Calls(0.74, 0.075)
# `part_segmentation_c`, whose training knew marked photographs, calls 69 of 83 seals of real photographs and 140 of 142
# rendered ones a seal, and 16 of 74 and 7 of 122 far ends, the card painted over (28 November 2026).
_FURTHER = _Calls(0.90, 0.13)
# With the card as laid, and backwards. `part_segmentation_d` hardly follows the arrow on real photographs: of shafts
# that were kept out of its training it calls 57 of 59 and 52 of 57 seals a seal, and 8 of 45 and 12 of 44 far ends; of
# rendered ones 61 of 66 and 25 of 35, and 6 of 50 and 6 of 34 (28 November 2026).
_SIDED = {
    FIRST_PARTS[0]: (_Calls(0.99, 0.01), _Calls(0.40, 0.76)),
    FIRST_PARTS[1]: (_Calls(0.93, 0.16), _Calls(0.80, 0.24)),
}


def laid_right(
    sided: Ends, sideless: Ends, standing: float = 1.0, further: Ends | None = None, by: str = FIRST_PARTS[0]
) -> float:
    """Probability that the card's arrow points to the seal.

    Parameters
    ----------
    sided, sideless : Ends
        As seen by the network that knows the side of the card, and by the one that does not, without the card.
    standing : float
        Odds for it as the photo stands, see `vision.rims.standing`. They count where they are against it: what both
        networks see at the ends is not outvoted by two rare mistakes made at once, such as a card laid backwards in a
        photo stored upside down.
    further : Ends, optional
        As a third network sees them without the card.
    by : str
        The network that knows the side, one of `vision.networks.run.FIRST_PARTS`.
    """
    as_laid, backwards = _SIDED[by]
    log_odds = float(np.log(LAID_RIGHT / (1 - LAID_RIGHT) * min(standing, 1.0)))
    log_odds += _log_odds(sided, as_laid, backwards) + _log_odds(sideless, _SIDELESS, _SIDELESS)
    if further is not None:
        log_odds += _log_odds(further, _FURTHER, _FURTHER)
    return float(1 / (1 + np.exp(-log_odds)))


def against_arrow(sideless: Ends) -> bool:
    """Whether the looks of both ends together, without the card, speak against its arrow."""
    return _log_odds(sideless, _SIDELESS, _SIDELESS) < 0


def _log_odds(ends: Ends, as_laid: _Calls, backwards: _Calls) -> float:
    """Return the logarithm of the odds for the arrow, by both ends' looks to a network.

    What it calls them depends on how the card lies where it sees the card or knows its side.
    """
    return sum(
        float(np.log(as_laid.likelihood(looks, if_right)) - np.log(backwards.likelihood(looks, not if_right)))
        for looks, if_right in ((ends.towards, True), (ends.away, False))
        if looks is not None
    )


def bare_rows(parts: PartMap) -> tuple[int, int] | None:
    """First row of the bare shaft, marker included, and the one after its last; None where there is none."""
    p = _middle(parts)
    bare = p[Part.SHAFT] + p[Part.MARKER] + p[Part.LOCK]
    seen = 1 - p[Part.IN_FRONT]
    # What is hidden neither prolongs the shaft nor ends it.
    lead = np.where(seen > 1 - COVERED, bare / np.maximum(seen, 1e-6), 0.5) - 0.5
    total = np.concatenate([[0.0], np.cumsum(lead)])
    gain = total - np.minimum.accumulate(total)
    after = int(np.argmax(gain))
    if gain[after] <= 0:
        return None
    return int(np.argmin(total[: after + 1])), after


def looks_of_ends(parts: PartMap) -> Ends:
    """Look at the parts beyond both ends of the bare shaft."""
    rows = bare_rows(parts)
    if rows is None:
        return Ends(None, None)
    p = _middle(parts)
    near, far = (round(mm / READER_STEP_MM) for mm in LOOKED_AT_MM)
    before, after = slice(max(rows[0] - far, 0), max(rows[0] - near, 0)), slice(rows[1] + near, rows[1] + far)
    return Ends(*(_looks(p[:, beyond]) for beyond in (before, after)))


def named_by_the_arrow(parts: PartMap) -> np.ndarray:
    """Call what lies beyond the bare shaft a seal at the arrow's end, a far end at the other.

    Returns
    -------
    ndarray of shape (7, rows, columns)
        Class probabilities; unchanged where there is no bare shaft.
    """
    rows = bare_rows(parts)
    if rows is None:
        return parts.probabilities
    out = parts.probabilities.copy()
    middle = sum(rows) // 2
    for part, other, side in (
        (Part.SEAL, Part.FAR_END, slice(None, middle)),
        (Part.FAR_END, Part.SEAL, slice(middle, None)),
    ):
        out[part, side] += out[other, side]
        out[other, side] = 0.0
    return out


def _middle(parts: PartMap) -> np.ndarray:
    """Mean class probabilities of each row in the middle columns, shape (7, rows)."""
    return np.asarray(parts.probabilities[:, :, np.abs(parts.frame.u()) < MIDDLE_U].mean(axis=2))


def _looks(p: np.ndarray) -> Looks | None:
    if p.shape[1] == 0:
        return None
    return Looks(float(p[Part.SEAL].mean()), float(p[Part.FAR_END].mean()))
