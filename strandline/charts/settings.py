"""The chart of settings: for each load the count that was ridden and found, or hollow the one to try next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strandline.advise.advice import EndAdvice
from strandline.advise.case import CaseAdvice
from strandline.charts.style import (
    INK,
    PALE,
    POINTS,
    SOFT,
    dress,
    legend,
    look,
    new_figure,
    title,
    whole_numbers,
    wrapped,
)
from strandline.charts.used import AXIS_OF, number_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def settings_chart(end: EndAdvice) -> Figure | None:
    """Draw the chart; None where no load has a setting."""
    cases = [case for case in end.cases if case.found is not None or case.to_try is not None]
    adjuster = end.facts.adjuster
    if adjuster is None or not cases:
        return None
    figure = new_figure(2.9 + 1.05 * len(cases))
    axes = figure.add_subplot()
    dress(axes)
    axes.grid(axis="y", visible=False)
    axes.grid(axis="x", color="#e6e6e6", linewidth=0.8)
    where = end.facts.end.value.capitalize()
    title(
        figure, axes, f"{where}: preload by load", f"{end.facts.bike.name}. Counts are up from the soft end."
    )
    ends = [end_of for case in cases for end_of in _interval(case)] + [_count(case) for case in cases]
    first = adjuster.first
    last = adjuster.end if adjuster.end is not None else max(ends) + 2
    for row, case in enumerate(reversed(cases)):
        _row(axes, case, row, number_of(end, case.load.name), (first, last))
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_ylim(-0.55, len(cases) - 0.25)
    # a pool of owners may lie before the soft end by its interval alone: it is cut there
    span = last - first
    axes.set_xlim(first - 0.04 * span, last + 0.04 * span)
    whole_numbers(axes.xaxis)
    axes.set_xlabel(AXIS_OF[adjuster.kind], fontsize=POINTS, color=INK)
    for place, name in ((first, "soft end"), (adjuster.end, "hard end")):
        if place is not None:
            axes.axvline(place, color=PALE, lw=1.5, zorder=1)
            side = "left" if name == "soft end" else "right"
            axes.annotate(
                name,
                xy=(place, 0.0),
                xycoords=("data", "axes fraction"),
                xytext=(5 if side == "left" else -5, 5),
                textcoords="offset points",
                ha=side,
                va="bottom",
                fontsize=POINTS - 3,
                color=SOFT,
            )
    legend(axes, _handles(cases))
    return figure


def _count(case: CaseAdvice) -> float:
    count = case.found if case.found is not None else case.to_try
    assert count is not None
    return count


def _interval(case: CaseAdvice) -> list[float]:
    found = case.interval
    return [] if found is None else [one for one in (found.low, found.high) if one is not None]


def _row(axes: Axes, case: CaseAdvice, row: int, number: int, ends: tuple[float, float]) -> None:
    style, count, interval = look(number), _count(case), case.interval
    low = interval.low if interval is not None and interval.low is not None else count
    high = interval.high if interval is not None and interval.high is not None else ends[1]
    if _interval(case):
        axes.plot(
            [low, high], [row, row], color=style.color, alpha=0.35, lw=11, solid_capstyle="butt", zorder=2
        )
        if not low <= count <= high:  # sag, or a quiet ride that earns no less, holds the count where it is
            nearest = min(low, high, key=lambda one: abs(one - count))
            axes.plot([count, nearest], [row, row], ":", color=style.color, lw=2, zorder=2)
    face = style.color if case.found is not None else "white"
    axes.plot([count], [row], style.mark, color=style.color, mfc=face, ms=13, mew=2.5, zorder=4)
    if case.ridden and case.found is None:
        axes.scatter([count], [row], s=14, color=style.color, zorder=5)
    rides = len(case.rides)
    runs = f"{rides} {'ride' if rides == 1 else 'rides'}" if case.ridden else "not ridden yet"
    said = f"{count:g} ({runs})" if case.found is not None else f"try {count:g} ({runs})"
    # Within the plot, whatever end of it the mark stands at.
    share = (count - ends[0]) / (ends[1] - ends[0])
    axes.annotate(
        wrapped(f"{case.load.name}: {said}", 44),
        xy=(count, row),
        xytext=(0, 13),
        textcoords="offset points",
        ha="left" if share < 0.3 else "right" if share > 0.7 else "center",
        va="bottom",
        fontsize=POINTS,
        color=INK,
        zorder=5,
    )


def _handles(cases: list[CaseAdvice]) -> list[object]:
    from matplotlib.lines import Line2D

    handles: list[object] = []
    if any(case.found is not None for case in cases):
        handles.append(Line2D([], [], color=INK, marker="o", linestyle="", ms=10, label="ridden and found"))
    if any(case.found is None and case.ridden for case in cases):
        handles.append(
            Line2D(
                [],
                [],
                color=INK,
                marker=r"$\odot$",
                linestyle="",
                ms=12,
                label="ridden, not found yet: try this",
            )
        )
    if any(not case.ridden for case in cases):
        handles.append(
            Line2D(
                [],
                [],
                color=INK,
                marker="o",
                mfc="white",
                mew=2,
                linestyle="",
                ms=10,
                label="not ridden yet: begin here",
            )
        )
    if any(_interval(case) for case in cases):
        handles.append(
            Line2D(
                [], [], color=INK, alpha=0.35, lw=9, label="9 in 10: the softest count that is firm enough"
            )
        )
    return handles
