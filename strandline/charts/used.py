"""The chart of used stroke against preload: each ride, the model's band, the bumper and the stops."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from strandline.advise.advice import EndAdvice
from strandline.advise.case import CaseAdvice
from strandline.advise.words import chances
from strandline.charts.style import (
    BUMPER,
    INK,
    POINTS,
    SOFT,
    WINDOW,
    dress,
    in_length,
    legend,
    look,
    new_figure,
    title,
    whole_numbers,
)
from strandline.facts.ends import EndFacts
from strandline.facts.rides import EndRide
from strandline.facts.risk import Forecast
from suspension.advice.step import RUNS_TO_JUDGE, in_words
from suspension.quantities.lengths import Units
from suspension.springs.adjuster import AdjusterKind
from suspension.stroke.verdict import BandLimits, reference_bumper_mm

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

AXIS_OF = {
    AdjusterKind.TURNS: "Preload, turns from soft",
    AdjusterKind.CLICKS: "Preload, clicks from soft",
    AdjusterKind.POSITIONS: "Preload, ramp position from soft",
}


def used_chart(end: EndAdvice, units: Units) -> Figure | None:
    """Draw the chart; None where no ride has both a count and a reading."""
    cases = [case for case in end.cases if any(_shows(one) for one in case.rides)]
    if end.facts.adjuster is None or not cases:
        return None
    figure = new_figure(6.4 + 0.25 * len(cases))
    axes = figure.add_subplot()
    dress(axes)
    where = end.facts.end.value.capitalize()
    main = max(cases, key=lambda case: len(case.rides))
    title(figure, axes, f"{where}: stroke used by preload", f"{end.facts.bike.name}.{_about(main)}")
    handles: list[Any] = []
    counts = [one.up for case in cases for one in case.rides if one.up is not None]
    reach = _reach(end.facts, counts)
    for case in cases:
        handles += _case(axes, end, case, reach, units)
    lows = [_low(one) for case in cases for one in case.rides if _shows(one)]
    lows += [one.low_mm for case in cases if _has_band(case) for _, one in _forecasts(case, reach)]
    if any(_has_band(case) for case in cases):
        from matplotlib.patches import Patch

        handles.append(Patch(color=SOFT, alpha=0.25, label="band: 9 in 10 next rides should be here"))
    if any(case.risk is not None for case in cases):
        from matplotlib.lines import Line2D

        handles.append(
            Line2D([], [], color=SOFT, linestyle=":", lw=2.0, label="dotted: expected, not ridden")
        )
    lowest = min(lows)
    handles += zones(axes, end.facts, units, lowest)
    axes.set_xlabel(AXIS_OF[end.facts.adjuster.kind], fontsize=POINTS, color=INK)
    axes.set_ylabel(f"Stroke used, {units.value}", fontsize=POINTS, color=INK)
    axes.set_xlim(reach[0] - 0.5, reach[1] + 0.5)
    _chances(axes, main, end, reach)
    whole_numbers(axes.xaxis)
    legend(axes, handles)
    return figure


def number_of(end: EndAdvice, load: str) -> int:
    """Give a load case its number, the same in all charts of an end, so that its look is the same."""
    names = list(dict.fromkeys([case.load.name for case in end.cases] + [one.load for one in end.rides]))
    return names.index(load)


def _about(case: CaseAdvice) -> str:
    """Say which route the bands are of, and what stands above the counts."""
    route = "" if case.situation is None else case.situation.worst_route
    words = f" Bands: {route}." if route else ""
    return f"{words} Numbers at the top: rides that reach the bumper." if chances(case) else words


def _chances(axes: Axes, case: CaseAdvice, end: EndAdvice, reach: tuple[float, float]) -> None:
    """Write the chance of the bumper above this count and the next two."""
    color = look(number_of(end, case.load.name)).color
    before = ""
    for count, chance in chances(case):
        words = in_words(chance).replace("about ", "").replace("fewer than", "under")
        if reach[0] <= count <= reach[1] and words != before:  # the same again would run into it
            before = words
            axes.annotate(
                words.replace(" ride in", " in")
                .replace(" rides in", " in")
                .replace("nearly every in", "nearly all"),
                xy=(count, 1.0),
                xycoords=("data", "axes fraction"),
                xytext=(0, -3),
                textcoords="offset points",
                ha="center",
                va="top",
                fontsize=POINTS - 4,
                color=color,
                zorder=6,
            )


def _has_band(case: CaseAdvice) -> bool:
    forecast = case.forecast
    return forecast is not None and forecast.runs >= RUNS_TO_JUDGE


def _shows(one: EndRide) -> bool:
    return one.up is not None and one.used_mm is not None


def _low(one: EndRide) -> float:
    assert one.used_mm is not None
    return one.used_mm.value - one.used_mm.u95


def _reach(facts: EndFacts, counts: list[float]) -> tuple[float, float]:
    """Find the counts to show: those ridden and those predicted around them, within the adjuster's ends."""
    assert facts.adjuster is not None
    return facts.adjuster.clipped(min(counts) - 4), facts.adjuster.clipped(max(counts) + 4)


def _case(
    axes: Axes,
    end: EndAdvice,
    case: CaseAdvice,
    reach: tuple[float, float],
    units: Units,
) -> list[Any]:
    style = look(number_of(end, case.load.name))
    _band(axes, end, case, reach, units)
    shown = [one for one in case.rides if _shows(one)]
    for one in shown:
        assert one.used_mm is not None and one.up is not None
        value, u95 = in_length(one.used_mm.value, units), in_length(one.used_mm.u95, units)
        sure = one.count.is_sure
        face = style.color if sure else "white"
        if one.used_mm.at_least or one.used_mm.at_most:
            axes.plot([one.up], [value], style.mark, color=style.color, mfc="white", ms=9, mew=1.8, zorder=4)
            arrow(axes, one.up, value, one.used_mm.at_least, style.color)
        else:
            axes.errorbar(
                [one.up],
                [value],
                [u95],
                fmt=style.mark,
                color=style.color,
                mfc=face,
                ms=9,
                capsize=4,
                zorder=4,
            )
    from matplotlib.lines import Line2D

    name = f"{case.load.name}, {len(shown)} {'ride' if len(shown) == 1 else 'rides'}".replace("$", r"\$")
    handles = [Line2D([], [], color=style.color, marker=style.mark, linestyle=style.dash, ms=8, label=name)]
    if any(one.used_mm is not None and one.used_mm.at_least for one in shown):
        handles.append(
            Line2D(
                [],
                [],
                color=style.color,
                marker=r"$\uparrow$",
                linestyle="",
                ms=11,
                label="at least this deep (marker at the bumper)",
            )
        )
    return handles


def arrow(axes: Axes, x: float, y: float, up: bool, color: str) -> None:
    """Draw an arrow from a limit to the side where the true value is."""
    axes.annotate(
        "",
        xy=(x, y),
        xytext=(0, 30 if up else -30),
        textcoords="offset points",
        arrowprops={"arrowstyle": "<-", "color": color, "lw": 2.0},
        zorder=4,
    )


def _forecasts(case: CaseAdvice, reach: tuple[float, float]) -> list[tuple[float, Forecast]]:
    """List the counts that the chart shows and of which the next ride can be forecast."""
    if case.risk is None:
        return []
    counts = [reach[0] + i for i in range(round(reach[1] - reach[0]) + 1)]
    return [(count, one) for count in counts if (one := case.risk.forecast(count)) is not None]


def _band(
    axes: Axes,
    end: EndAdvice,
    case: CaseAdvice,
    reach: tuple[float, float],
    units: Units,
) -> None:
    """Draw where nine of ten next rides should be; before three rides only the middle of it, which is rough."""
    known = _forecasts(case, reach)
    if not known:
        return
    style = look(number_of(end, case.load.name))
    x = [count for count, _ in known]
    low, mid, high = (
        [in_length(getattr(one, name), units) for _, one in known] for name in ("low_mm", "mid_mm", "high_mm")
    )
    if len(x) == 1:  # without mm per step only today's count is answered
        x, low, mid, high = [x[0] - 0.25, x[0] + 0.25], low * 2, mid * 2, high * 2
    if known[0][1].runs >= RUNS_TO_JUDGE:
        axes.fill_between(x, low, high, color=style.color, alpha=0.13, linewidth=0, zorder=2)
        for edge in (low, high):  # edges separate bands that overlap
            axes.plot(x, edge, style.dash, color=style.color, lw=0.9, alpha=0.8, zorder=2)
    ridden = [one.up for one in case.rides if one.up is not None]
    within = [i for i, count in enumerate(x) if min(ridden) <= count <= max(ridden)]
    axes.plot(x, mid, ":", color=style.color, lw=2.0, zorder=3)
    if len(within) > 1:
        axes.plot(
            [x[i] for i in within], [mid[i] for i in within], style.dash, color=style.color, lw=2.0, zorder=3
        )


def zones(axes: Axes, facts: EndFacts, units: Units, lowest_mm: float) -> list[Any]:
    """Draw the window and the bumper as areas and the stops as lines, and set how far the axis goes."""
    from matplotlib.patches import Patch

    stop = facts.hard_stop_mm
    reference = reference_bumper_mm(facts.bumper_met_mm, stop)
    if reference is None:
        return []
    limits = BandLimits()
    window = (limits.window_from * reference, limits.window_to * reference)
    axes.axhspan(*(in_length(mm, units) for mm in window), color=WINDOW, zorder=0)
    handles = [Patch(color=WINDOW, label="the window: ¾ to all of the way to the bumper")]
    if facts.bumper_met_mm is None:
        _line(axes, in_length(reference, units), "bumper taken to be here (92 % of the stroke)", ":")
    else:
        end = stop if stop is not None else reference * 1.1
        hatched: Any = {"facecolor": BUMPER, "edgecolor": "#dcc3a8", "hatch": "//", "linewidth": 0}
        axes.axhspan(in_length(reference, units), in_length(end, units), zorder=0, **hatched)
        handles.append(Patch(label="in the bumper, the soft last part of the stroke", **hatched))
        _line(axes, in_length(reference, units), "bumper met", "--")
    if stop is not None:
        _line(axes, in_length(stop, units), "hard stop", "-")
    deepest = stop if stop is not None else reference * 1.1
    bottom = min(lowest_mm - 0.04 * deepest, window[0] - 0.06 * deepest)
    axes.set_ylim(in_length(max(0.0, bottom), units), in_length(deepest * 1.05, units))
    return handles


def _line(axes: Axes, y: float, name: str, dash: str) -> None:
    axes.axhline(y, color=INK, lw=1.5, linestyle=dash, zorder=1)
    axes.annotate(
        name,
        xy=(1.0, y),
        xycoords=("axes fraction", "data"),
        xytext=(-4, 4),
        textcoords="offset points",
        ha="right",
        va="bottom",
        fontsize=POINTS - 2,
        color=SOFT,
        # A band's edge that passes here passes behind the words; a reading stands before them.
        bbox={"facecolor": "white", "alpha": 0.85, "linewidth": 0, "pad": 1.0},
        zorder=3.5,
    )
