"""Small drawings of the day's page: a stroke with what was used of it, and the spread over the day."""

from __future__ import annotations

import math
from html import escape

from strandline.day.output.text import band_class, clock
from strandline.day.results.results import DayResults, LegReading
from suspension.quantities.measured import Bound
from suspension.stroke.verdict import BandLimits

WIDTH, HEIGHT = 300.0, 24.0


def stroke_drawing(reading: LegReading) -> str:
    """The stroke as a bar: the window, where the bumper begins, the used stroke and its interval.

    Parameters
    ----------
    reading : LegReading

    Returns
    -------
    str
        SVG; empty where the used stroke or what it is a share of is not known.
    """
    used, reference = reading.used, reading.reference_mm
    if used is None or not reference:
        return ""
    full = max(reading.hard_stop_mm or 0.0, reference, used.value + used.u95) * 1.02
    limits = BandLimits()

    def x(value_mm: float) -> float:
        return round(min(max(value_mm, 0.0), full) / full * WIDTH, 1)

    low = 0.0 if used.bound is Bound.AT_MOST else used.value - used.u95
    high = full if used.bound is Bound.AT_LEAST else used.value + used.u95
    window = x(limits.window_from * reference), x(limits.window_to * reference)
    name = f"Used {used.value:.1f} mm of {reference:.1f} mm"
    return (
        f'<svg class="stroke" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" preserveAspectRatio="none" role="img" '
        f'aria-label="{escape(name)}">'
        f'<rect x="0" y="9" width="{x(full)}" height="6" rx="3" fill="var(--line)"/>'
        f'<rect x="{window[0]}" y="9" width="{window[1] - window[0]:.1f}" height="6" fill="var(--window)" '
        'opacity=".45"/>'
        f'<rect x="{x(low)}" y="4" width="{max(x(high) - x(low), 2):.1f}" height="16" rx="2" '
        f'fill="var(--{band_class(reading)})" opacity=".4"/>'
        f'<rect x="{max(x(used.value) - 1.5, 0):.1f}" y="2" width="3" height="20" rx="1" '
        f'fill="var(--{band_class(reading)})"/></svg>'
    )


def spread_drawing(day: DayResults) -> str:
    """Used share of the stroke against the time of day, for all legs whose photos tell both.

    Returns
    -------
    str
        SVG; empty where fewer than two photos tell both.
    """
    points = [
        (minutes, one.counted.share, one.counted, bike.label, one.leg.value)
        for bike in day.bikes
        for one in bike.legs
        if one.counted.share is not None and (minutes := _minutes(one.counted.when)) is not None
    ]
    if len(points) < 2:
        return ""
    width, height, left, foot, top = 640, 240, 44, 28, 10
    first, last = min(p[0] for p in points), max(p[0] for p in points)
    span = max(last - first, 1.0)
    most = max(1.05, max(p[1] for p in points) * 1.05)

    def x(minutes: float) -> float:
        return round(left + 12 + (minutes - first) / span * (width - left - 36), 1)

    def y(share: float) -> float:
        return round(height - foot - share / most * (height - foot - top), 1)

    parts = [
        f'<svg class="spread" viewBox="0 0 {width} {height}" role="img" '
        'aria-label="Used share of the stroke over the day">',
        f'<rect x="{left}" y="{y(1.0)}" width="{width - left}" height="{y(0.75) - y(1.0):.1f}" '
        'fill="var(--window)" opacity=".14"/>',
    ]
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        parts.append(
            f'<line x1="{left}" x2="{width}" y1="{y(share)}" y2="{y(share)}" stroke="var(--line)"/>'
            f'<text x="{left - 6}" y="{y(share) + 4}" text-anchor="end">{share:.0%}</text>'
        )
    step = next((one for one in (5, 15, 30, 60, 120, 240, 720) if span / one <= 8), 1440)
    for tick in range(math.ceil(first / step) * step, int(last) + 1, step):
        parts.append(
            f'<text x="{x(tick)}" y="{height - 8}" text-anchor="middle">{tick // 60 % 24:02d}:{tick % 60:02d}</text>'
        )
    for minutes, share, reading, label, leg in points:
        about = escape(f"{label}, {leg.replace('-', ' ')}, {clock(reading.when)}: {share:.0%}")
        shape = f'fill="var(--{band_class(reading)})"'
        if leg.startswith("front"):
            parts.append(
                f'<circle cx="{x(minutes)}" cy="{y(share)}" r="5" {shape}><title>{about}</title></circle>'
            )
        else:
            parts.append(
                f'<rect x="{x(minutes) - 4.5:.1f}" y="{y(share) - 4.5:.1f}" width="9" height="9" {shape}>'
                f"<title>{about}</title></rect>"
            )
    return "".join(parts) + "</svg>"


def _minutes(when: str | None) -> float | None:
    """Minutes since midnight of the photo's day."""
    return None if when is None else int(when[11:13]) * 60 + int(when[14:16]) + int(when[17:19] or 0) / 60
