"""Numbers of the page's small drawings: a stroke with what was used of it, and the spread over the day.

The templates draw them; all places are in the drawing's own units.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from strandline.day.output.text import band_class, clock, leg_words
from strandline.day.results.results import DayResults, LegReading
from suspension.quantities.quantity import Bound
from suspension.stroke.verdict import BandLimits

WIDTH, HEIGHT = 300.0, 24.0
SPREAD_WIDTH, SPREAD_HEIGHT = 640, 240
_LEFT, _FOOT, _TOP = 44, 28, 10
# Minutes between two times on the axis.
_STEPS = (5, 15, 30, 60, 120, 240, 720)
_DAY = 1440


@dataclass(frozen=True)
class StrokeBar:
    """One stroke, from fully extended to the stop.

    Attributes
    ----------
    name : str
        For those who do not see it.
    full : float
        Where the bar ends.
    window_from, window_width, low, interval_width, used_from : str or float
        Places and widths of the window, of the used stroke's 95 % interval, and of its mark.
    """

    name: str
    full: float
    window_from: float
    window_width: str
    low: float
    interval_width: str
    used_from: str
    width: str = f"{WIDTH:g}"
    height: str = f"{HEIGHT:g}"


def stroke_drawing(reading: LegReading) -> StrokeBar | None:
    """Draw the stroke as a bar: the window, the used stroke and its interval.

    Parameters
    ----------
    reading : LegReading

    Returns
    -------
    StrokeBar or None
        None where the used stroke or what it is a share of is not known.
    """
    used, reference = reading.used, reading.reference_mm
    if used is None or not reference:
        return None
    full = max(reading.hard_stop_mm or 0.0, reference, used.value + used.u95) * 1.02
    limits = BandLimits()

    def x(value_mm: float) -> float:
        return round(min(max(value_mm, 0.0), full) / full * WIDTH, 1)

    low = 0.0 if used.bound is Bound.AT_MOST else used.value - used.u95
    high = full if used.bound is Bound.AT_LEAST else used.value + used.u95
    window = x(limits.window_from * reference), x(limits.window_to * reference)
    return StrokeBar(
        name=f"Used {used.value:.1f} mm of {reference:.1f} mm",
        full=x(full),
        window_from=window[0],
        window_width=f"{window[1] - window[0]:.1f}",
        low=x(low),
        interval_width=f"{max(x(high) - x(low), 2):.1f}",
        used_from=f"{max(x(used.value) - 1.5, 0):.1f}",
    )


@dataclass(frozen=True)
class Text:
    """A text at a place of an axis."""

    text: str
    x: float = 0.0
    y: float = 0.0


@dataclass(frozen=True)
class Point:
    """One leg's reading; `about` says whose."""

    about: str
    band: str
    is_front: bool
    x: float
    y: float

    @property
    def left(self) -> str:
        """Coordinate of the square's corner."""
        return f"{self.x - 4.5:.1f}"

    @property
    def top(self) -> str:
        """Coordinate of the square's corner."""
        return f"{self.y - 4.5:.1f}"


@dataclass(frozen=True)
class SpreadChart:
    """Used shares of the stroke over the day.

    Attributes
    ----------
    window_top : float
    window_height : str
        Of the strip that is the window.
    lines, ticks : tuple of Text
        Shares, and times of day.
    points : tuple of Point
    """

    window_top: float
    window_height: str
    lines: tuple[Text, ...]
    ticks: tuple[Text, ...]
    points: tuple[Point, ...]
    left: int = _LEFT
    width: int = SPREAD_WIDTH
    height: int = SPREAD_HEIGHT


def spread_drawing(day: DayResults) -> SpreadChart | None:
    """Draw the used share of the stroke against the time of day, for all legs whose photos give both.

    Returns
    -------
    SpreadChart or None
        None where fewer than two photos give both.
    """
    found = [
        (minutes, one.counted.share, one.counted, bike.label, one.leg)
        for bike in day.bikes
        for one in bike.legs
        if one.counted.share is not None and (minutes := _minutes(one.counted.when)) is not None
    ]
    if len(found) < 2:
        return None
    first, last = min(p[0] for p in found), max(p[0] for p in found)
    span = max(last - first, 1.0)
    most = max(1.05, max(p[1] for p in found) * 1.05)

    def x(minutes: float) -> float:
        return round(_LEFT + 12 + (minutes - first) / span * (SPREAD_WIDTH - _LEFT - 36), 1)

    def y(share: float) -> float:
        return round(SPREAD_HEIGHT - _FOOT - share / most * (SPREAD_HEIGHT - _FOOT - _TOP), 1)

    step = next((one for one in _STEPS if span / one <= 8), _DAY)
    ticks = range(math.ceil(first / step) * step, int(last) + 1, step)
    limits = BandLimits()
    return SpreadChart(
        y(limits.window_to),
        f"{y(limits.window_from) - y(limits.window_to):.1f}",
        tuple(Text(f"{share:.0%}", y=y(share)) for share in (0.0, 0.25, 0.5, 0.75, 1.0)),
        tuple(Text(f"{tick // 60 % 24:02d}:{tick % 60:02d}", x=x(tick)) for tick in ticks),
        tuple(
            Point(
                f"{label}, {leg_words(leg)}, {clock(reading.when)}: {share:.0%}",
                band_class(reading),
                leg.value.startswith("front"),
                x(minutes),
                y(share),
            )
            for minutes, share, reading, label, leg in found
        ),
    )


def _minutes(when: str | None) -> float | None:
    """Minutes since midnight of the photo's day."""
    return None if when is None else int(when[11:13]) * 60 + int(when[14:16]) + int(when[17:19] or 0) / 60
