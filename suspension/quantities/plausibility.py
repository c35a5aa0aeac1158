"""Figures of the trade, to warn of a slip of the pen: never defaults, never shown as this bike's own.

All ranges [common practice, no source].
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum


class Figure(StrEnum):
    """What has a usual range; the unit is in the name."""

    FORK_STROKE_MM = "fork stroke, mm"
    OFF_ROAD_FORK_STROKE_MM = "off-road fork stroke, mm"
    TWIN_SHOCK_STROKE_MM = "twin shock's stroke, mm"
    LINKAGE_SHOCK_STROKE_MM = "linkage shock's stroke, mm"
    LINKAGE_RATIO = "linkage's motion ratio, stroke over wheel travel"
    TWIN_SHOCK_RATIO = "twin shock's motion ratio, stroke over wheel travel"
    FORK_TUBE_MM = "fork tube's diameter, mm"
    SHOCK_SHAFT_MM = "shock shaft's diameter, mm"
    TIE_WIDTH_MM = "tie's width, mm"
    O_RING_MM = "O-ring's section, mm"
    BUMPER_MM = "bumper's free length, mm"
    FORK_SPRING_RATE = "fork spring's rate, N/mm each"
    TWIN_SPRING_RATE = "twin shock spring's rate, N/mm each"
    LINKAGE_SPRING_RATE = "linkage shock spring's rate, N/mm"
    PRELOAD_TURN_MM = "preload for a turn, mm"
    PRELOAD_CLICK_MM = "preload for a click, mm"
    RAMP_POSITION_MM = "preload between ramp positions, mm"
    ADJUSTER_RANGE_MM = "preload adjuster's whole range, mm"
    STICTION_MM = "distance between the two approaches to sag, mm"
    UNSPRUNG_KG = "unsprung mass of an end, kg"
    RIDE_FREQUENCY_HZ = "ride frequency, Hz"


USUAL: Mapping[Figure, tuple[float, float]] = {
    Figure.FORK_STROKE_MM: (110, 140),
    Figure.OFF_ROAD_FORK_STROKE_MM: (200, 310),
    Figure.TWIN_SHOCK_STROKE_MM: (75, 110),
    Figure.LINKAGE_SHOCK_STROKE_MM: (50, 75),
    Figure.LINKAGE_RATIO: (0.35, 0.6),
    Figure.TWIN_SHOCK_RATIO: (0.7, 0.95),
    Figure.FORK_TUBE_MM: (33, 50),
    Figure.SHOCK_SHAFT_MM: (6, 16),
    Figure.TIE_WIDTH_MM: (2.5, 4.8),
    Figure.O_RING_MM: (2, 4),
    Figure.BUMPER_MM: (10, 30),
    Figure.FORK_SPRING_RATE: (6, 11),
    Figure.TWIN_SPRING_RATE: (15, 30),
    Figure.LINKAGE_SPRING_RATE: (70, 160),
    Figure.PRELOAD_TURN_MM: (1, 2),
    Figure.PRELOAD_CLICK_MM: (0.2, 1),
    Figure.RAMP_POSITION_MM: (3, 5),
    Figure.ADJUSTER_RANGE_MM: (10, 15),
    Figure.STICTION_MM: (3, 10),
    Figure.UNSPRUNG_KG: (10, 25),
    Figure.RIDE_FREQUENCY_HZ: (1.5, 3.0),
}

# A crushed bumper is so much of its free length [common practice, no source].
CRUSHED_SHARE = (0.3, 0.5)


def warn_of(figure: Figure, value: float) -> str | None:
    """Warn where a value lies outside what is usual; None inside. The value stands as it is either way.

    Parameters
    ----------
    figure : Figure
    value : float
        In the unit that the figure's name gives.
    """
    low, high = USUAL[figure]
    if low <= value <= high:
        return None
    words = f"The {figure.value}: {value:g} is outside the usual {low:g} to {high:g}. Check the number and its unit."
    ratios = (Figure.LINKAGE_RATIO, Figure.TWIN_SHOCK_RATIO)
    if figure in ratios and value > 0 and low <= 1 / value <= high:
        words += " Its reciprocal is usual: was it given as wheel travel over stroke?"
    return words


def warn_of_crushed(free_mm: float, crushed_mm: float) -> str | None:
    """Warn where a bumper's crushed length is an unusual share of its free one."""
    low, high = CRUSHED_SHARE
    share = crushed_mm / free_mm
    if low <= share <= high:
        return None
    return f"A crushed bumper of {share:.2f} of its free length is outside the usual {low:g} to {high:g}."
