"""Sheets for the entrants: one page of paper each, printed from any browser, in any script."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from html import escape

from strandline.day.output.drawings import stroke_drawing
from strandline.day.output.page import Picture
from strandline.day.output.text import (
    PHASES,
    cards_words,
    clock,
    leg_words,
    mm,
    percent,
    signed_mm,
)
from strandline.day.results.results import BikeResult, DayResults, LegResult
from strandline.shared.messages import printable

FILE = "sheets.html"

_STYLE = """
:root{--line:#bbb;--ink:#111;--plenty:#4f7f9b;--window:#2c7a52;--between:#8a6a00;--bumper:#b4560f;--bottomed:#a5222f;
--unknown:#6b7177}
*{box-sizing:border-box}
body{margin:0;color:var(--ink);font:11pt/1.4 system-ui,sans-serif;overflow-wrap:anywhere;background:#fff}
section{max-width:186mm;margin:0 auto;padding:8mm 4mm;break-after:page}
section:last-of-type{break-after:auto}
h1{font-size:18pt;margin:0}h2{font-size:12pt;margin:5mm 0 1mm}
p{margin:1mm 0}.soft{color:#444;font-size:9.5pt}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums;margin:2mm 0}
th,td{text-align:left;padding:1.2mm 2mm;border-bottom:.2mm solid var(--line);vertical-align:top}
th,td{overflow-wrap:normal}td:nth-child(-n+4){white-space:nowrap}
th{font-weight:400;font-size:9pt;color:#444}
.stroke{width:32mm;height:5mm;display:block}
.pics{display:grid;grid-template-columns:repeat(4,1fr);gap:3mm;margin-top:3mm}
figure{margin:0}figure img{width:100%;max-height:58mm;object-fit:contain;display:block}
figcaption{font-size:8.5pt;color:#444}
ul{margin:1mm 0;padding-left:5mm}
@page{margin:10mm}
@media print{section{padding:0}*{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
"""
# The trade's cautions after a reading [common practice, no source].
_FOOT = (
    "± holds the true length 95 times in 100. The maker’s manual and a qualified mechanic come before this sheet. "
    "Take the marker off where it could meet the seal or a bracket. A leak, a bent tube, a hard knock: stop riding."
)


def sheets(day: DayResults, picture: Picture) -> Iterator[str]:
    """Write the sheets, piece by piece.

    Parameters
    ----------
    day : DayResults
    picture : function
        See `strandline.day.output.page.Picture`.

    Yields
    ------
    str
        Parts of one HTML document.
    """
    yield (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(printable(day.name))}: sheets</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
    )
    for bike in day.bikes:
        yield _sheet(day, bike, picture)
    yield "</body>\n</html>\n"


def _sheet(day: DayResults, bike: BikeResult, picture: Picture) -> str:
    rows = "".join(_row(one) for one in bike.legs)
    said = []
    for one in bike.sides:
        phase = f" {one.phase}" if one.phase else ""
        told = (
            ": more than the doubt allows. Binding, or a marker that slipped."
            if one.comparison.flagged
            else "."
        )
        difference = signed_mm(one.comparison.difference_mm)
        said.append(f"{one.end.value.capitalize()}{phase}: left less right {difference} mm{told}")
    said += [
        f"{leg_words(one.leg.value).capitalize()}: after less before {signed_mm(one.deeper_mm)} mm of stroke"
        + ("." if one.is_clear else ", within the doubt.")
        for one in bike.changes
    ]
    missing = [leg_words(leg.value) for leg in bike.all_legs if all(one.leg is not leg for one in bike.legs)]
    if missing:
        said.append(f"Not read: {', '.join(missing)}.")
    cautions = [line for one in bike.legs for line in one.counted.record.get("cautions", ())]
    items = "".join(f"<li>{escape(line)}</li>" for line in dict.fromkeys((*said, *cautions)))
    table = (
        "<table><thead><tr><th>Leg</th><th></th><th>Stroke used, mm</th><th>Share</th><th>Left, mm</th><th>Verdict</th>"
        f"<th></th></tr></thead><tbody>{rows}</tbody></table>"
        if rows
        else "<p>No leg of this bike was read.</p>"
    )
    return (
        f"<section><h1>{escape(printable(bike.label))}</h1><p>{escape(printable(bike.bike_name or bike.bike_file))}, "
        f'{cards_words(bike)} <span class="soft">{escape(printable(day.name))}</span></p>{table}'
        + (f"<ul>{items}</ul>" if items else "")
        + f'<div class="pics">{"".join(_figure(one, picture) for one in bike.legs[:8])}</div>'
        f'<p class="soft">{_FOOT}</p></section>\n'
    )


def _row(one: LegResult) -> str:
    reading = one.counted
    left = [f"{mm(reading.reserve_bumper)} to the bumper"] if reading.reserve_bumper is not None else []
    left += [f"{mm(reading.reserve_hard)} to the stop"] if reading.reserve_hard is not None else []
    cells = (
        leg_words(one.leg.value).capitalize(),
        f"{PHASES[one.phase]} {clock(reading.when)}",
        mm(reading.used),
        percent(reading.percent),
        ", ".join(left) or "–",
        reading.verdict.words,
    )
    return (
        "<tr>"
        + "".join(f"<td>{escape(cell)}</td>" for cell in cells)
        + f"<td>{stroke_drawing(reading)}</td></tr>"
    )


def _figure(one: LegResult, picture: Picture) -> str:
    found = picture(one.counted.sha256, one.counted.declared)
    if found is None:
        return ""
    data = base64.b64encode(found).decode("ascii")
    about = f"{leg_words(one.leg.value)} {PHASES[one.phase]}"
    return (
        f'<figure><img alt="{escape(about)}" src="data:image/webp;base64,{data}">'
        f"<figcaption>{escape(about)}</figcaption></figure>"
    )
