"""The spring that would do where the adjuster or the sag window ends: a rate and a preload, as numbers."""

from __future__ import annotations

from dataclasses import dataclass

from suspension.errors import SuspensionError


@dataclass(frozen=True)
class SpringWanted:
    """The spring for a wanted sag and depth.

    Attributes
    ----------
    rate_n_per_mm : float
        Of each spring.
    preload_mm : float
        0 or more.
    sag_stroke_mm : float
        Stroke with the rider aboard that it gives: the wanted one, or less where that would need a loose spring.
    """

    rate_n_per_mm: float
    preload_mm: float
    sag_stroke_mm: float

    @property
    def words(self) -> str:
        """What to buy, for a sentence."""
        if self.preload_mm == 0:
            return (
                f"{self.rate_n_per_mm:.1f} N/mm each, without preload, which gives {self.sag_stroke_mm:.1f} mm of "
                "stroke with the rider aboard"
            )
        return f"{self.rate_n_per_mm:.1f} N/mm each, with {self.preload_mm:.1f} mm of preload"


@dataclass(frozen=True)
class Wanted:
    """What the spring is bought for.

    Attributes
    ----------
    load_factor : float
        lam of the worst route, over 1; times MR at the sag over MR at the depth where the ratio changes.
    sprung_load_n : float
        Ws with the rider aboard, N.
    sag_stroke_mm : float
        c_s, stroke with the rider aboard, mm.
    depth_mm : float
        u_t, stroke that the worst hit may use, mm.
    """

    load_factor: float
    sprung_load_n: float
    sag_stroke_mm: float
    depth_mm: float


def spring_to_buy(wanted: Wanted, springs: int, motion_ratio: float) -> SpringWanted:
    """Work out k' = (lam - 1) Ws/(n MR (u_t - c_s)) and d' = Ws/(n k' MR) - c_s, for linear springs [derived].

    Where that needs a loose spring (d' under 0), the depth decides: k' = lam Ws/(n MR u_t) without preload.

    Parameters
    ----------
    wanted : Wanted
    springs : int
        n, that carry this end.
    motion_ratio : float
        MR at the sag.

    Raises
    ------
    SuspensionError
        A depth within the sag, a hit no harder than the load at rest, or no spring.

    Examples
    --------
    >>> found = spring_to_buy(Wanted(2.3, 1266, 30.1, 79), 2, 0.85)
    >>> f"{found.rate_n_per_mm:.1f} N/mm, {found.preload_mm:.1f} mm"
    '19.8 N/mm, 7.5 mm'
    """
    sane = springs >= 1 and motion_ratio > 0 and wanted.sprung_load_n > 0 and wanted.load_factor > 1
    if not sane or wanted.depth_mm <= wanted.sag_stroke_mm:
        raise SuspensionError(
            "No spring fits: the wanted depth is within the sag, or the hit is no harder than the load at rest.",
            "Choose a depth beyond the sag.",
        )
    legs = springs * motion_ratio
    rate = (wanted.load_factor - 1) * wanted.sprung_load_n / (legs * (wanted.depth_mm - wanted.sag_stroke_mm))
    preload = wanted.sprung_load_n / (legs * rate) - wanted.sag_stroke_mm
    if preload >= 0:
        return SpringWanted(rate, preload, wanted.sag_stroke_mm)
    # sag and depth together would need a loose spring: the softest that keeps the depth has no preload
    rate = wanted.load_factor * wanted.sprung_load_n / (legs * wanted.depth_mm)
    return SpringWanted(rate, 0.0, wanted.sprung_load_n / (legs * rate))
