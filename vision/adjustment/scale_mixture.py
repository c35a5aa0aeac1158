"""Which of card and diameter gives the scale where both disagree: a mixture of what may be wrong, as normal priors.

Both are usually right, and the card lies off the shaft's centre line within what an eye allows. At times the card is
laid elsewhere (on the tube's front, against a spoke) or printed to another size; at times the diameter is another
shaft's, or the silhouettes are those of something beside it. The disagreement weighs these against each other (Bayes'
theorem). The adjustment knows normal priors only: depth and diameter get those that leave the mixture's mean, and twice
whose standard uncertainty holds as much as twice that of one normal distribution does (docs/measurement-model.md,
"Check of scale").
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vision.adjustment.mixture import between, half_width

# Share of cards that lie off by more than an eye's error, and by how much: a tube's radius is 16 to 25 mm (judgement;
# three of the 77 photos as people make them have the card on the tube's front).
MISLAID_SHARE, MISLAID_SD_MM = 0.05, 15.0
# Share of cards printed to another size than stated: fitted to another page they are 3 to 6 % off (judgement; two of
# the 77).
MISPRINT_SHARE, MISPRINT_SD = 0.02, 0.03
# Share of diameters, or silhouettes, that are another's: neighbouring sizes of tubes are 2 to 5 % apart, mirrored
# surroundings make a silhouette 2 to 4 % too wide (judgement, no source). With 0.05 the 37 photos read with 3 %
# off were wrong once more, with 0.08 and 0.1 right lengths are withheld.
FALSE_WIDTH_SHARE, FALSE_WIDTH_SD = 0.06, 0.04
# A card laid with usual care lies no more than so many of its standard uncertainties off: that is 9 mm, half the radius
# of the usual tube, which an eye sees (judgement). With the tail beyond, diameters 5 % false pass for such cards.
USUAL_WITHIN_SDS = 1.8


@dataclass(frozen=True)
class ScalePriors:
    """Standard uncertainties that leave what the mixture leaves.

    Attributes
    ----------
    depth_sd_mm : float
        Of the axis' distance from the card's plane.
    diameter_extra_sd : float
        Relative, of the diameter, in addition to its own.
    """

    depth_sd_mm: float
    diameter_extra_sd: float


def scale_priors(gap_mm: float, gap_sd_mm: float, depth_sd_mm: float, distance_mm: float) -> ScalePriors:
    """Weigh what may be wrong where card and diameter agree only at some depth of the card.

    Parameters
    ----------
    gap_mm, gap_sd_mm : float
        That depth beyond the one assumed, and its standard uncertainty without the depth's prior.
    depth_sd_mm : float
        Prior of the depth for a card laid with usual care.
    distance_mm : float
        Of the camera from the axis: so much depth is as much scale as the whole diameter.
    """
    usual, own = depth_sd_mm**2, gap_sd_mm**2
    share = np.array([0.0, MISLAID_SHARE, MISPRINT_SHARE, FALSE_WIDTH_SHARE])
    share[0] = 1 - share.sum()
    # Variances of the card's depth and of the diameter, as depth, under each hypothesis.
    of_card = usual + np.array([0.0, MISLAID_SD_MM**2, (MISPRINT_SD * distance_mm) ** 2, 0.0])
    of_width = np.array([0.0, 0.0, 0.0, (FALSE_WIDTH_SD * distance_mm) ** 2])
    together = of_card + of_width + own
    log_evidence = np.log(share) - 0.5 * gap_mm**2 / together - 0.5 * np.log(together)
    weight = np.exp(log_evidence - log_evidence.max())
    taken = of_card / together
    left_sd = np.sqrt(of_card * (together - of_card) / together)
    # Of a usual card only what lies within its limit.
    limit = USUAL_WITHIN_SDS * depth_sd_mm
    weight[0] *= between(-limit, limit, gap_mm * taken[0], left_sd[0])
    weight /= weight.sum()
    # Mean share of the gap that the card takes.
    mean = float(weight @ taken)
    variance = half_width(weight, gap_mm * (taken - mean), left_sd) ** 2 / 4
    # Two normal priors A (depth) and B (width, with the gap's own): A / (A + B) = mean, A B / (A + B) = variance.
    depth, width = variance / (1 - mean), variance / mean
    return ScalePriors(
        float(np.sqrt(max(depth, usual))), float(np.sqrt(max(width - own, 0.0))) / max(distance_mm, 1.0)
    )
