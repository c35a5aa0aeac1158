"""How charts look: legible on a phone held upright, on paper without colour, and by the colour-blind.

Every load case has a colour, a mark and a dash of its own, so that colour alone never separates two.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from strandline.shared.units import MM_PER_IN
from suspension.quantities.lengths import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.figure import Figure

# A phone held upright shows some 70 mm: at this width letters of 13 pt come out as the phone's own small text.
WIDTH_IN = 6.0
DOTS_PER_IN = 180
POINTS = 13.0
# White round the picture: on a dark page letters at its very edge would touch the frame.
MARGIN_IN = 0.14

INK, SOFT, PALE = "#1a1a1a", "#555555", "#b8b8b8"
WINDOW, BUMPER = "#e4efe9", "#f3e3d3"


@dataclass(frozen=True)
class Look:
    """Colour, mark and dash of one load case."""

    color: str
    mark: str
    dash: Any


# The eight colours of Okabe and Ito (2008), "Color universal design", from memory; yellow, too pale for lines on
# white, and black, which is the ink, are left out.
LOOKS = (
    Look("#0072b2", "o", "-"),
    Look("#d55e00", "s", "--"),
    Look("#009e73", "^", "-."),
    Look("#cc79a7", "D", ":"),
    Look("#56b4e9", "v", "-"),
    Look("#e69f00", "P", "--"),
)


def look(number: int) -> Look:
    """Look of a load case by its number; after six they come again."""
    return LOOKS[number % len(LOOKS)]


def new_figure(height_in: float) -> Figure:
    """Make an empty picture, as wide as for a phone; the heavy import is here."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained", facecolor="white")
    engine: Any = figure.get_layout_engine()
    engine.set(w_pad=MARGIN_IN, h_pad=MARGIN_IN)
    return figure


# Characters that XML 1.0 does not have (section 2.2): a route or a bike may be named with them.
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def title(figure: Figure, axes: Axes, text: str, below: str) -> None:
    """Write a heading over the plot, and a softer line under it; what a person named is folded, never cut."""
    figure.suptitle(text, ha="left", fontsize=POINTS + 3, fontweight="bold", color=INK)
    axes.set_title(wrapped(below, 58), loc="left", fontsize=POINTS - 2, color=SOFT)


def wrapped(text: str, width: int) -> str:
    """Text in lines; a dollar sign stays one, for plots take it for mathematics."""
    import textwrap

    return "\n".join(textwrap.wrap(text, width)).replace("$", r"\$")


def dress(axes: Axes) -> None:
    """Quiet axes with letters that can be read."""
    axes.tick_params(labelsize=POINTS - 1, colors=INK)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(SOFT)
    axes.grid(axis="y", color="#e6e6e6", linewidth=0.8)
    axes.set_axisbelow(True)


def whole_numbers(axis: Axis, most: int = 9) -> None:
    """Ticks at whole numbers only, and not too many."""
    from matplotlib.ticker import MaxNLocator

    axis.set_major_locator(MaxNLocator(nbins=most, integer=True))


def legend(axes: Axes, handles: Sequence[Any]) -> None:
    """Put the legend under the plot, where it hides nothing."""
    axes.legend(
        handles=list(handles),
        loc="upper center",
        bbox_to_anchor=(0.5, -0.16),
        fontsize=POINTS - 1.5,
        frameon=False,
        ncols=1,
        handlelength=2.6,
    )


def in_length(mm: float, units: Units) -> float:
    """Convert a length to the owner's unit."""
    return mm if units is Units.MM else mm / MM_PER_IN


def picture(figure: Figure, kind: str) -> bytes:
    """Write the picture; the same chart gives the same bytes.

    Parameters
    ----------
    figure : Figure
    kind : "svg" or "png"
    """
    import matplotlib

    target = io.BytesIO()
    # Text stays text, so that it can be searched and read aloud; the salt makes identifiers the same each time.
    with (
        matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "strandline", "font.family": FONTS}),
        warnings.catch_warnings(),
    ):
        # A name's letters that no font here has are drawn as boxes; a line of Python about it helps nobody.
        warnings.filterwarnings("ignore", "Glyph ", UserWarning)
        _lay_out(figure)
        if kind == "svg":
            figure.savefig(target, format="svg", metadata={"Date": None, "Creator": "Strandline"})
        else:
            figure.savefig(target, format="png", dpi=DOTS_PER_IN, metadata={"Software": "Strandline"})
    content = target.getvalue()
    return _NOT_XML.sub("\ufffd", content.decode("utf-8")).encode("utf-8") if kind == "svg" else content


def _lay_out(figure: Figure) -> None:
    """Place everything, once for all files of a figure; the heading begins where the plot does."""
    if figure.get_layout_engine() is None:
        return
    figure.draw_without_rendering()
    figure.texts[0].set_x(figure.axes[0].get_position().x0)
    figure.set_layout_engine("none")


# matplotlib brings the first along; a browser that shows the SVG takes the next that it has.
FONTS = ["DejaVu Sans", "sans-serif"]
