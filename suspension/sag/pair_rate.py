"""The wheel rate that two sags show: the rider's weight over what it adds to the sag, beside the file's own rate."""

from __future__ import annotations

import math
from dataclasses import dataclass

from suspension.errors import SuspensionError
from suspension.loads.loads import GRAVITY_M_PER_S2
from suspension.quantities.quantity import COVERAGE_FACTOR, Quantity

# A pair of sags and a file that differ by more than this share cannot both be right [common practice, no source].
APART_SHARE = 0.15
# Under this static sag, mm at the wheel, the bike may hang on its top-out spring, and the pair says nothing of the
# rate [common practice, no source].
TOPPED_OUT_MM = 3.0

# How far a typical slip puts the file's rate off, as file over measured. 1 kgf/mm = 9.80665 N/mm and 1 lbf/in =
# 0.1751268 N/mm: NIST SP 811 (2008), B.8.
_SLIPS = (
    (2.0, "one spring is counted as two, or the rider's mass is half of what it is"),
    (0.5, "two springs are counted as one, or the rider's mass is twice what it is"),
    (1 / 0.1751268, "the spring's rate is in lbf/in and written as N/mm"),
    (1 / 9.80665, "the spring's rate is in kgf/mm and written as N/mm"),
)
# So near a slip's own factor, as a ratio, it is named [a choice].
_NEAR = 1.2


@dataclass(frozen=True)
class PairRate:
    """What a pair of sags says of the rate at the wheel.

    Attributes
    ----------
    rate_n_per_mm : Quantity
        kw by the pair, N/mm.
    file_rate_n_per_mm : float or None
        n k MR² by the file.
    contradiction : str or None
        That both cannot be right and what may be wrong, in words; None where they agree or nothing is known.
    """

    rate_n_per_mm: Quantity
    file_rate_n_per_mm: float | None
    contradiction: str | None

    @property
    def in_short(self) -> str | None:
        """The contradiction in a sentence; None where there is none."""
        if self.contradiction is None:
            return None
        return (
            f"Sag and the bike's file do not agree: {self.rate_n_per_mm.value:.1f} N/mm at the wheel by the two sags, "
            f"{self.file_rate_n_per_mm:.1f} by the file (strandline sag says what to check)."
        )


def added_at_axle_n(mass_kg: float, aft_mm: float, wheelbase_mm: float, *, rear: bool) -> float:
    """Weight that a mass puts on one axle by moments, N [handbook]: m g x/L at the rear, the rest at the front."""
    if not wheelbase_mm > 0:
        raise SuspensionError("The wheelbase is not above zero.", "Give it in mm.")
    share = aft_mm / wheelbase_mm
    return mass_kg * GRAVITY_M_PER_S2 * (share if rear else 1 - share)


def rate_of_sag_pair(
    added_n: Quantity,
    static_mm: Quantity,
    rider_mm: Quantity,
    file_rate_n_per_mm: float | None = None,
    motion_ratio: float | None = None,
) -> PairRate | None:
    """Wheel rate from a sag pair: kw = dW/(s_rider - s_static) [derived].

    Parameters
    ----------
    added_n : Quantity
        dW, what the rider puts on this axle, N.
    static_mm, rider_mm : Quantity
        Sags at the wheel, mm.
    file_rate_n_per_mm : float, optional
        n k MR² by the bike's file.
    motion_ratio : float, optional
        MR in the file; an inverted one is then recognised.

    Returns
    -------
    PairRate or None
        None where the bike may be topped out without the rider, or both sags are the same within their
        uncertainty: then the pair says nothing.

    Examples
    --------
    >>> added = added_at_axle_n(84, 790, 1440, rear=True)
    >>> pair = rate_of_sag_pair(Quantity(added, 5), Quantity(7, 0.5), Quantity(32, 0.5), 2 * 18 * 0.85**2, 0.85)
    >>> round(pair.rate_n_per_mm.value, 1)
    18.1
    """
    more = rider_mm.value - static_mm.value
    sigma_more = math.hypot(rider_mm.sigma, static_mm.sigma)
    if static_mm.value < TOPPED_OUT_MM or more <= COVERAGE_FACTOR * sigma_more or not added_n.value > 0:
        return None
    rate = added_n.value / more
    found = Quantity(rate, rate * math.hypot(added_n.sigma / added_n.value, sigma_more / more))
    return PairRate(found, file_rate_n_per_mm, _contradiction(found, file_rate_n_per_mm, motion_ratio))


def _contradiction(rate: Quantity, by_file: float | None, ratio: float | None) -> str | None:
    if by_file is None:
        return None
    # a pair whose own uncertainty is larger than 15 % contradicts nothing within it
    if abs(by_file - rate.value) <= max(APART_SHARE * rate.value, rate.u95):
        return None
    return (
        f"The two sags show {rate.value:.1f} N/mm at the wheel, but springs and motion ratio in the bike's file give "
        f"{by_file:.1f} N/mm: something is wrong. {_likely(by_file / rate.value, ratio)}"
    )


def _likely(factor: float, ratio: float | None) -> str:
    """Name what to look at first, by how far the file is off."""
    slips = list(_SLIPS)
    if ratio is not None and not 0.95 < ratio < 1.05:
        slips.insert(0, (ratio**4, "the motion ratio is inverted: it is stroke over wheel travel"))
    near = [words for slip, words in slips if 1 / _NEAR < factor / slip < _NEAR]
    if near:
        return f"It would fit if {near[0]}. Check this first."
    if factor > 1:
        return (
            "The file is too stiff, so check in this order: the spring's rate and its unit, the motion ratio, the "
            "number of springs, the rider's mass and place, and whether both sags were measured at one preload."
        )
    return (
        "The file is too soft, so check in this order: the motion ratio, the spring's rate and its unit, friction "
        "(measure both ways), and whether both sags were measured at one preload."
    )
