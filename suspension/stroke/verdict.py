"""What a used stroke means: plenty in reserve, in the window, in the bumper, or bottomed, judged on its interval.

Shares of Sb and the margin before the hard stop: [common practice, no source], configurable.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity

# Where the bumper is met if nobody knows: a lock or bumper takes the last tenth of a fork's stroke
# [common practice, no source].
BUMPER_SHARE = 0.92
ASSUMED_WORDS = "Where the bumper is met is not known, so 92 % of the stroke is taken."
CENSORED_WORDS = "It reached the bumper or came within a marker's width of it; bottoming cannot be excluded."
# Rounding of sums of floats, mm.
_ROUNDING_MM = 1e-9


class Band(StrEnum):
    """Where the deepest point lies, from shallow to deep."""

    PLENTY = "plenty in reserve"
    WINDOW = "in the window"
    BUMPER = "in the bumper"
    BOTTOMED = "bottomed"


@dataclass(frozen=True)
class BandLimits:
    """Where one band ends and the next begins.

    Attributes
    ----------
    window_from, window_to : float
        Shares of Sb, the stroke at which the bumper is met [common practice, no source].
    least_margin_mm : float
        Bottomed from S less this, or less U where that is more [common practice, no source].
    """

    window_from: float = 0.75
    window_to: float = 1.0
    least_margin_mm: float = 1.0

    def __post_init__(self) -> None:
        if not 0 < self.window_from < self.window_to <= 1 or not self.least_margin_mm >= 0:
            raise SuspensionError(
                "The bands' limits do not rise from 0 to 1.",
                "Usual are 0.75 and 1.0 of the stroke to the bumper, and 1 mm.",
            )


@dataclass(frozen=True)
class Verdict:
    """The bands that the interval touches, shallow to deep; several mean "between".

    Attributes
    ----------
    bands : tuple of Band
        Empty where no verdict can be given.
    words : str
        The verdict in a sentence.
    bumper_is_assumed : bool
        Sb is not known, and 0.92 S was used in its place.
    is_limit : bool
        The reading is only a limit: censored.
    remarks : tuple of str
    """

    bands: tuple[Band, ...]
    words: str
    bumper_is_assumed: bool = False
    is_limit: bool = False
    remarks: tuple[str, ...] = ()

    @property
    def band(self) -> Band | None:
        """The one band, where the verdict is clear; None between bands, or without a verdict."""
        return self.bands[0] if len(self.bands) == 1 else None

    @property
    def is_above_window(self) -> bool:
        """All of the interval is deeper than the window."""
        return bool(self.bands) and all(band in (Band.BUMPER, Band.BOTTOMED) for band in self.bands)


def judge_used(
    used_mm: Quantity | None,
    bumper_met_mm: float | None,
    hard_stop_mm: float | None,
    limits: BandLimits | None = None,
) -> Verdict:
    """Judge a used stroke on its interval u +- U (k = 2).

    Parameters
    ----------
    used_mm : Quantity or None
        u of the deeper leg, mm; censored ones included.
    bumper_met_mm : float or None
        Sb; None for a fork whose stop is inside, or where it is not known.
    hard_stop_mm : float or None
        S.
    limits : BandLimits, optional

    Returns
    -------
    Verdict
        None of the bands where u is not known, or neither Sb nor S: then there is only mm.
    """
    limits = limits or BandLimits()
    if used_mm is None:
        return Verdict((), "No verdict: the used stroke is not known.")
    if bumper_met_mm is None and hard_stop_mm is None:
        return Verdict(
            (), "No verdict: neither the stroke to the stop nor the stroke to the bumper is known."
        )
    assumed = bumper_met_mm is None
    bumper_met_mm = reference_bumper_mm(bumper_met_mm, hard_stop_mm)
    assert bumper_met_mm is not None
    remarks = [ASSUMED_WORDS] if assumed else []
    bands = _bands(used_mm, bumper_met_mm, hard_stop_mm, limits)
    if used_mm.bound is Bound.AT_LEAST:
        return Verdict(bands, CENSORED_WORDS, assumed, True, tuple(remarks))
    if hard_stop_mm is None and Band.BUMPER in bands:
        remarks.append("The hard stop is not known, so bottoming cannot be excluded.")
    if len(bands) == 1:
        words = f"{bands[0].value.capitalize()}."
    else:
        words = (
            f"Between “{bands[0].value}” and “{bands[-1].value}”: the uncertainty of the reading spans both."
        )
    return Verdict(bands, words, assumed, used_mm.bound is not Bound.EXACT, tuple(remarks))


def reference_bumper_mm(bumper_mm: float | None, stroke_mm: float | None) -> float | None:
    """Stroke at which the bumper is met: measured, else 0.92 S, else not known."""
    if bumper_mm is not None or stroke_mm is None:
        return bumper_mm
    return BUMPER_SHARE * stroke_mm


def _bands(used: Quantity, bumper: float, stop: float | None, limits: BandLimits) -> tuple[Band, ...]:
    """Bands that the interval touches; a limit belongs to the deeper band."""
    low, high = used.value - used.u95, used.value + used.u95
    if used.bound is Bound.AT_LEAST:
        high = math.inf
    elif used.bound is Bound.AT_MOST:
        low = -math.inf
    window_from = limits.window_from * bumper
    bumper_from = limits.window_to * bumper
    # An uncertainty as large as the bumper itself moves the limit no further than to where the bumper is met.
    margin = max(limits.least_margin_mm, used.u95)
    bottomed_from = math.inf if stop is None else max(stop - margin, min(bumper_from, stop))
    starts = [
        (Band.PLENTY, -math.inf),
        (Band.WINDOW, window_from),
        (Band.BUMPER, bumper_from),
        (Band.BOTTOMED, bottomed_from),
    ]
    ends = [start for _, start in starts[1:]] + [math.inf]
    touched = [
        i
        for i, ((_, start), end) in enumerate(zip(starts, ends, strict=True))
        if start < end and high >= start - _ROUNDING_MM and low < end - _ROUNDING_MM
    ]
    bands = tuple(band for band, _ in starts[touched[0] : touched[-1] + 1])
    # Without a hard stop the bumper's band is open, and bottoming may be in it.
    return (*bands, Band.BOTTOMED) if stop is None and Band.BUMPER in bands else bands
