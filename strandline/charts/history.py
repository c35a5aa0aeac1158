"""The chart of history: ride by ride, the stroke used and the count that it was ridden at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from strandline.advise.advice import EndAdvice
from strandline.charts.style import (
    INK,
    POINTS,
    dress,
    in_length,
    legend,
    look,
    new_figure,
    title,
    whole_numbers,
)
from strandline.charts.used import AXIS_OF, arrow, number_of, zones
from suspension.quantities.lengths import Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# A phone shows no more labels than this side by side: then every second, third … ride is labelled.
MOST_LABELS = 8


def history_chart(end: EndAdvice, units: Units) -> Figure | None:
    """Draw the chart; None where no ride says anything of this end."""
    rides = end.rides
    if not any(one.used_mm is not None for one in rides):
        return None
    from matplotlib.lines import Line2D

    figure = new_figure(7.4)
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(2.4, 1.0))
    for axes in (upper, lower):
        dress(axes)
    where = end.facts.end.value.capitalize()
    title(figure, upper, f"{where}: ride by ride", f"{end.facts.bike.name}.")
    names = list(dict.fromkeys(one.load for one in rides))
    for x, one in enumerate(rides):
        if one.used_mm is None:
            continue
        style = look(number_of(end, one.load))
        value = in_length(one.used_mm.value, units)
        if one.used_mm.at_least or one.used_mm.at_most:
            upper.plot([x], [value], style.mark, color=style.color, mfc="white", ms=9, mew=1.8, zorder=4)
            arrow(upper, x, value, one.used_mm.at_least, style.color)
        else:
            u95 = in_length(one.used_mm.u95, units)
            upper.errorbar([x], [value], [u95], fmt=style.mark, color=style.color, ms=9, capsize=4, zorder=4)
    lowest = min(one.used_mm.value - one.used_mm.u95 for one in rides if one.used_mm is not None)
    handles: list[Any] = [
        Line2D(
            [],
            [],
            color=look(number_of(end, name)).color,
            marker=look(number_of(end, name)).mark,
            linestyle="",
            ms=8,
            label=name.replace("$", r"\$"),
        )
        for name in names
    ]
    handles += zones(upper, end.facts, units, lowest)
    upper.set_ylabel(f"Stroke used, {units.value}", fontsize=POINTS, color=INK)
    counted = [(x, one.up) for x, one in enumerate(rides) if one.up is not None]
    if counted:
        lower.step([x for x, _ in counted], [up for _, up in counted], where="mid", color=INK, lw=1.5)
        lower.plot([x for x, _ in counted], [up for _, up in counted], "o", color=INK, ms=7)
        low, high = min(up for _, up in counted), max(up for _, up in counted)
        lower.set_ylim(low - 1, high + 1)
        whole_numbers(lower.yaxis, 4)
    kind = None if end.facts.adjuster is None else end.facts.adjuster.kind
    words = (
        "Count"
        if kind is None
        else AXIS_OF[kind].replace("Preload, ", "").replace(" from", "\nfrom").capitalize()
    )
    lower.set_ylabel(words, fontsize=POINTS, color=INK)
    every = -(-len(rides) // MOST_LABELS)
    ticks = range(0, len(rides), every)
    lower.set_xticks(list(ticks))
    dates = [rides[x].ride.entry.date for x in ticks]
    lower.set_xticklabels(
        [f"{rides[x].ride.number}\n{day.day} {day:%b}" for x, day in zip(ticks, dates, strict=True)]
    )
    lower.set_xlim(-0.5, len(rides) - 0.5)
    lower.set_xlabel("Ride and date", fontsize=POINTS, color=INK)
    legend(lower, handles)
    lower.get_legend().set_bbox_to_anchor((0.5, -0.62))
    figure.align_ylabels()
    return figure
