"""The chart of pooled settings: the count by axle load, with the number of owners behind each point."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strandline.charts.style import INK, PALE, POINTS, dress, legend, look, new_figure, title, whole_numbers
from strandline.charts.used import AXIS_OF
from strandline.pool.combine import PooledEnd, load_kg
from strandline.pool.text import INVENTED
from strandline.shared.units import KG_PER_LB
from suspension.quantities.lengths import Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def pool_chart(found: PooledEnd, units: Units) -> Figure:
    """Draw the chart."""
    from matplotlib.lines import Line2D

    figure = new_figure(7.0)
    axes = figure.add_subplot()
    dress(axes)
    owners = f"{found.owners} {'owner' if found.owners == 1 else 'owners'}"
    below = f"{found.kind}, {owners}." + (f" {INVENTED}" if found.invented else "")
    title(figure, axes, f"{found.end.value.capitalize()}: owners' settings by load", below)
    per = 1.0 if units is Units.MM else KG_PER_LB
    first, style = found.counted_in.first, look(0)
    axes.plot(
        [row.axle_load_kg / per for row in found.rows],
        [row.setting_steps.value for row in found.rows],
        "o",
        color=PALE,
        ms=6,
        zorder=2,
    )
    top = max(row.setting_steps.value for row in found.rows)
    for point in found.points:
        x = load_kg(point) / per
        if point.next_owner_interval is not None:
            low, high = point.next_owner_interval
            axes.plot(
                [x, x], [max(first, low), high], color=style.color, alpha=0.25, lw=14, solid_capstyle="butt"
            )
            top = max(top, high)
        if point.mean_interval is not None and point.owners > 2:
            low, high = point.mean_interval
            axes.plot([x, x], [max(first, low), high], color=style.color, lw=2.5, zorder=3)
            top = max(top, high)
        lone = point.owners < 3
        axes.plot(
            [x],
            [point.setting_steps.value],
            style.mark,
            color=style.color,
            mfc="white" if lone else style.color,
            ms=21,
            mew=2.2,
            zorder=4,
        )
        axes.annotate(
            f"{point.owners}",
            xy=(x, point.setting_steps.value),
            ha="center",
            va="center_baseline",
            fontsize=POINTS,
            fontweight="bold",
            color=style.color if lone else "white",
            zorder=5,
        )
    axes.set_ylim(first - 0.04 * (top - first), top + 0.08 * (top - first))
    axes.margins(x=0.1)
    whole_numbers(axes.xaxis)
    whole_numbers(axes.yaxis)
    axes.set_xlabel(
        f"On the {found.end.value} axle, {'kg' if units is Units.MM else 'lb'}", fontsize=POINTS, color=INK
    )
    axes.set_ylabel(AXIS_OF[found.counted_in], fontsize=POINTS, color=INK)
    handles = [
        Line2D(
            [],
            [],
            color=style.color,
            marker="o",
            linestyle="",
            ms=10,
            label="combined; inside, the number of owners",
        ),
        Line2D([], [], color=style.color, lw=2.5, label="owners' mean, 95 % interval"),
        Line2D([], [], color=style.color, alpha=0.25, lw=11, label="another owner's best, 95 % interval"),
        Line2D([], [], color=PALE, marker="o", linestyle="", ms=7, label="one owner's setting"),
    ]
    if any(point.owners < 3 for point in found.points):
        hollow = Line2D([], [], color=style.color, marker="o", mfc="white", mew=2, linestyle="", ms=10)
        hollow.set_label("under three owners: trust it least")
        handles.insert(1, hollow)
    legend(axes, handles)
    return figure
