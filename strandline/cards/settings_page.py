"""The card of settings for the garage wall: one printed page, large enough to be read from the stand."""

from __future__ import annotations

import datetime as dt
import importlib.util
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ridelog.bikes.bike import Bike
from ridelog.names import End
from ridelog.storage.records import LoadItem
from strandline.advise.advice import EndAdvice
from strandline.advise.case import CaseAdvice
from strandline.facts.ends import PRELOAD, hard_stop_mm
from strandline.shared.messages import printable
from strandline.shared.units import KPA_PER_PSI, mass, setting_text
from suspension.advice.cautions import Caution
from suspension.loads.limits import LoadVerdict
from suspension.quantities.lengths import Units, format_length
from suspension.springs.adjuster import recount_steps

if TYPE_CHECKING:
    from calibration.sheet_layout import Paper

MARGIN_MM = 14.0
MM = 72 / 25.4  # points in a mm
CAUTIONS = (Caution.LOAD, Caution.STAND, Caution.RANGE, Caution.AFTER_CHANGE, Caution.OTHERS_FIRST)


@dataclass(frozen=True)
class Row:
    """One load case on the card: what was found at each end or is to be tried, and what it rests on."""

    load: str
    front: str
    rear: str
    tyres: str
    rests_on: str
    ridden: bool
    found_front: bool
    found_rear: bool


def rows(ends: Sequence[EndAdvice], bike: Bike, units: Units) -> Iterator[Row]:
    """Make the rows in the order in which loads were ridden, then the predicted ones."""
    cases = {(end.facts.end, case.load.name): case for end in ends for case in end.cases}
    for name in dict.fromkeys(name for _, name in cases):
        found = {end: cases.get((end, name)) for end in End}
        any_case = next(case for case in found.values() if case is not None)
        yield Row(
            name,
            _count(found[End.FRONT]),
            _count(found[End.REAR]),
            _tyres(bike, any_case, units),
            _rests_on([case for case in found.values() if case is not None]),
            any_case.ridden,
            *(case is not None and case.found is not None for case in (found[End.FRONT], found[End.REAR])),
        )


def _count(case: CaseAdvice | None) -> str:
    if case is None or case.facts.adjuster is None:
        return "–"
    kind = case.facts.adjuster.kind
    for count, word in ((case.found, ""), (case.to_try, "try ")):
        if count is not None:
            unit = kind.one if count == 1 or kind.value == "positions" else kind.value
            return f"{word}{count:g} {unit}"
    return "count again" if case.situation is not None and case.situation.now_in_doubt else "–"


def _tyres(bike: Bike, case: CaseAdvice, units: Units) -> str:
    """Cold pressures by the placard: solo's for a rider alone, else the loaded ones."""
    items: tuple[LoadItem, ...] = () if case.load.case is None else case.load.case.items
    if not items:
        return "by the placard"
    alone = all(one.what.value in ("rider", "fuel", "other") for one in items)
    found = []
    for end in (bike.front, bike.rear):
        pressure = end.tyre_solo if alone else end.tyre_loaded
        if pressure is None:
            return "by the placard"
        found.append(
            f"{pressure.value / 100:.1f}" if units is Units.MM else f"{pressure.value / KPA_PER_PSI:.0f}"
        )
    return f"{' / '.join(found)} {'bar' if units is Units.MM else 'psi'}"


def _rests_on(cases: list[CaseAdvice]) -> str:
    ridden = [case for case in cases if case.ridden]
    verdict = cases[0].load.verdict
    if verdict is LoadVerdict.OVER:
        return "over the plate: no setting"
    if not ridden:
        said = "not ridden yet" if any(case.to_try is not None for case in cases) else "not known yet"
        return f"{said}; may be over the plate, weigh it" if verdict is LoadVerdict.BETWEEN else said
    runs = max(len(case.rides) for case in ridden)
    done = all(case.found is not None for case in ridden)
    return f"{runs} {'ride' if runs == 1 else 'rides'}, {'found' if done else 'not found yet'}"


def wall_card(
    ends: Sequence[EndAdvice], bike: Bike, day: dt.date | None, paper: Paper, units: Units
) -> bytes:
    """Draw the page.

    Parameters
    ----------
    ends : sequence of EndAdvice
    bike : Bike
    day : date or None
        That the card is of.
    paper : calibration.sheet_layout.Paper
    units : Units

    Returns
    -------
    bytes
        A PDF of one page; the same content gives the same bytes.
    """
    from reportlab.platypus import KeepInFrame, SimpleDocTemplate

    target = io.BytesIO()
    document = SimpleDocTemplate(
        target,
        pagesize=(paper.width_mm * MM, paper.height_mm * MM),
        **dict.fromkeys(("leftMargin", "rightMargin", "topMargin", "bottomMargin"), MARGIN_MM * MM),
        title=f"Settings of {printable(bike.name)}",
        author="",
        invariant=1,
    )
    # reportlab's frame keeps 6 points free on each side
    width, height = document.width - 12.1, document.height - 12.1
    parts = _parts(ends, bike, day, units, width)
    document.build([KeepInFrame(width, height, parts, mode="shrink")])
    return target.getvalue()


def _parts(
    ends: Sequence[EndAdvice], bike: Bike, day: dt.date | None, units: Units, width: float
) -> list[Any]:
    from reportlab.platypus import Paragraph, Spacer

    style = _styles()
    parts: list[Any] = [
        Paragraph(_safe(bike.name), style["title"]),
        Paragraph("Preload by load" if day is None else f"Preload by load, {day.isoformat()}", style["soft"]),
        Spacer(1, 10),
        _table(list(rows(ends, bike, units)), style, width),
        Spacer(1, 8),
        Paragraph(
            "Counts are <b>up from the soft end</b>, the same on both sides. What is in bold was ridden and found. "
            "“Try” is what to ride next: with a marker on, and read it. Put the solo setting back afterwards.",
            style["text"],
        ),
    ]
    damping = list(_damping(ends))
    for heading, lines in (
        ("Damping, as last ridden", damping),
        ("Reference lengths", list(_lengths(bike, units))),
        ("The plate", list(_plate(bike, units))),
    ):
        if lines:
            parts.append(Paragraph(heading, style["head"]))
            parts += [Paragraph(_safe(line), style["text"]) for line in lines]
    its = next((end.facts for end in reversed(ends) if end.facts.adjuster is not None), None)
    adjuster = None if its is None else its.adjuster
    if adjuster is not None:
        parts.append(Paragraph("If you are not sure of a count", style["head"]))
        both = any(end.facts.sides > 1 for end in ends)
        steps = recount_steps(adjuster, None, both_sides=both)
        parts += [
            Paragraph(f"{number}. {_safe(step)}", style["text"]) for number, step in enumerate(steps, start=1)
        ]
    parts.append(Paragraph("Take care", style["head"]))
    parts += [Paragraph(_safe(caution.value), style["text"]) for caution in CAUTIONS]
    return parts


def _table(found: list[Row], style: dict[str, Any], width: float) -> Any:
    from reportlab.lib import colors
    from reportlab.platypus import Paragraph, Table, TableStyle

    heads = ("Load", "Front", "Rear", "Tyres, cold<br/>front / rear", "Based on")
    cells = [[Paragraph(head, style["column"]) for head in heads]]
    for row in found:
        # what was not ridden and found is not printed as if it had been
        big = [
            Paragraph(_safe(text), style["big" if found_there else "thin"])
            for text, found_there in (
                (row.load, row.found_front or row.found_rear),
                (row.front, row.found_front),
                (row.rear, row.found_rear),
            )
        ]
        cells.append([*big, *(Paragraph(_safe(text), style["text"]) for text in (row.tyres, row.rests_on))])
    shares = (0.27, 0.17, 0.17, 0.18, 0.21)
    table = Table(cells, colWidths=[share * width for share in shares], repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("LINEBELOW", (0, 0), (-1, 0), 1.2, colors.black),
                ("LINEBELOW", (0, 1), (-1, -1), 0.5, colors.grey),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("RIGHTPADDING", (0, 0), (-1, -1), 6),
                ("TOPPADDING", (0, 0), (-1, -1), 5),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
            ]
        )
    )
    return table


def _damping(ends: Sequence[EndAdvice]) -> Iterator[str]:
    """Write the latest count of every adjuster that is not preload."""
    latest: dict[tuple[str, str], str] = {}
    for end in ends[:1]:
        for ride in end.log.rides:
            for one in ride.settings:
                if one.adjuster != PRELOAD:
                    latest[one.leg.value, one.adjuster] = setting_text(one)
    for (leg, name), text in latest.items():
        yield f"{leg} {name}: {text}"


def _lengths(bike: Bike, units: Units) -> Iterator[str]:
    """Write what the next readings start from; legs that are the same share a line."""
    lines: dict[str, list[str]] = {}
    for leg in bike.legs:
        parts = []
        if leg.extended is not None:
            parts.append(f"exposed {format_length(leg.extended.value, units)} hanging")
        if leg.bumper_stroke_mm is not None:
            parts.append(f"bumper met at {format_length(leg.bumper_stroke_mm.value, units)}")
        stop = hard_stop_mm(leg)
        if stop is not None:
            parts.append(f"hard stop at {format_length(stop, units)}")
        if parts:
            lines.setdefault(", ".join(parts), []).append(leg.name.value)
    for text, names in lines.items():
        yield f"{' and '.join(names)}: {text}"


def _plate(bike: Bike, units: Units) -> Iterator[str]:
    found = [
        f"{name} {mass(limit.value, units)}"
        for name, limit in (
            ("total", bike.total_limit),
            ("front axle", bike.front.limit),
            ("rear axle", bike.rear.limit),
        )
        if limit is not None
    ]
    yield "Permitted: " + ", ".join(found) + "." if found else "Not known: loads are not checked."


def _safe(text: str) -> str:
    return escape(printable(text), quote=False)


def _styles() -> dict[str, Any]:
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    # PDF's own fonts know Latin letters only; matplotlib brings a free one along that knows most names.
    found = importlib.util.find_spec("matplotlib")
    assert found is not None and found.origin is not None
    folder = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"
    for name, file in (("Wall", "DejaVuSans.ttf"), ("Wall-Bold", "DejaVuSans-Bold.ttf")):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    pdfmetrics.registerFontFamily(
        "Wall", normal="Wall", bold="Wall-Bold", italic="Wall", boldItalic="Wall-Bold"
    )

    def style(name: str, size: float, *, bold: bool = False, **more: Any) -> ParagraphStyle:
        font = "Wall-Bold" if bold else "Wall"
        return ParagraphStyle(name, fontName=font, fontSize=size, leading=1.3 * size, **more)

    return {
        "title": style("title", 26, bold=True),
        "soft": style("soft", 12, textColor="#444444"),
        "head": style("head", 12, bold=True, spaceBefore=9, spaceAfter=2),
        "column": style("column", 10, textColor="#444444"),
        "big": style("big", 15, bold=True),
        "thin": style("thin", 15, textColor="#444444"),
        "text": style("text", 10),
    }
