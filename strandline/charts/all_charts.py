"""All charts of a bike as files: which there are, what they are called, and who draws them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from strandline.advise.advice import EndAdvice
from strandline.charts.history import history_chart
from strandline.charts.settings import settings_chart
from strandline.charts.style import picture
from strandline.charts.used import used_chart
from suspension.quantities.lengths import Units

WHY_NOT = {
    "used": "no ride has both a count and a reading",
    "settings": "no load has a count to set yet",
    "history": "no ride has a reading",
}


@dataclass(frozen=True)
class Chart:
    """One chart.

    Attributes
    ----------
    name : str
        "rear-used": the file's name without its ending.
    files : tuple of (str, bytes)
        Ending and content; empty where there is nothing to draw.
    why_not : str or None
    """

    name: str
    files: tuple[tuple[str, bytes], ...] = ()
    why_not: str | None = None


def charts(ends: Sequence[EndAdvice], kinds: Sequence[str], units: Units) -> Iterator[Chart]:
    """Draw each chart of each end.

    Parameters
    ----------
    ends : sequence of EndAdvice
    kinds : sequence of "svg" or "png"
    units : Units
    """
    for end in ends:
        drawn = (
            ("used", used_chart(end, units)),
            ("settings", settings_chart(end)),
            ("history", history_chart(end, units)),
        )
        for what, figure in drawn:
            name = f"{end.facts.end.value}-{what}"
            if figure is None:
                yield Chart(name, why_not=WHY_NOT[what])
            else:
                yield Chart(name, tuple((kind, picture(figure, kind)) for kind in kinds))
