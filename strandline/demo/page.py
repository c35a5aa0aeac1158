"""One page with all readings: plain HTML with its style and its pictures inside; nothing is fetched."""

from __future__ import annotations

import base64
import io
import shlex
from collections.abc import Sequence
from dataclasses import dataclass, fields
from html import escape
from typing import TYPE_CHECKING

from strandline.demo.samples import Sample
from strandline.read.one_photo import Outcome
from strandline.read.stated import Declarations, Typed
from strandline.read.text import STATUS_NAMES, message_text
from strandline.shared.messages import error_text, printable
from strandline.shared.units import estimate_text, percent_text

if TYPE_CHECKING:
    from vision.reading import Length

# Wide enough for a phone held upright at twice its points, and for half a desktop's window.
PICTURE_WIDTH_PX = 900
PICTURE_QUALITY = 78

_STYLE = """
:root { color-scheme: light dark; --ink: #1b1b1b; --soft: #5a5a5a; --line: #c9c9c9; --paper: #fff;
  --good: #00614a; --some: #7a4a00; --none: #a03c00; }
@media (prefers-color-scheme: dark) { :root { --ink: #ececec; --soft: #b0b0b0; --line: #4a4a4a;
  --paper: #171717; --good: #4fd0aa; --some: #f0b84a; --none: #ff9a5c; } }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 76rem; padding: 1rem; background: var(--paper); color: var(--ink);
  font: 1rem/1.5 system-ui, sans-serif; overflow-wrap: break-word; }
h1 { font-size: 1.5rem; line-height: 1.2; } h2 { font-size: 1.15rem; margin: 0 0 .25rem; }
article { border-top: 1px solid var(--line); padding: 1.25rem 0; display: grid; gap: 1rem; }
@media (min-width: 48rem) { article { grid-template-columns: minmax(0, 24rem) minmax(0, 1fr); gap: 2rem; } }
img { width: 100%; height: auto; display: block; border-radius: .25rem; }
table { border-collapse: collapse; width: 100%; margin: .5rem 0; font-variant-numeric: tabular-nums; }
th, td { text-align: right; padding: .25rem .4rem; border-bottom: 1px solid var(--line); }
td + td { white-space: nowrap; } .word { white-space: nowrap; }
th:first-child, td:first-child { text-align: left; font-weight: 400; }
thead th { color: var(--soft); font-weight: 400; font-size: .85rem; }
.read { color: var(--good); } .partial { color: var(--some); } .refused { color: var(--none); }
.status { font-weight: 700; margin: 0; } .soft { color: var(--soft); font-size: .9rem; }
ul { padding-left: 1.2rem; margin: .5rem 0; }
pre { white-space: pre-wrap; font-size: .85rem; margin: .5rem 0; }
"""


@dataclass(frozen=True)
class PageEntry:
    """One photo on the page.

    Attributes
    ----------
    sample : Sample
    declarations : Declarations
    outcome : Outcome
    picture : bytes or None
        The overlay, JPEG.
    picture_name : str or None
        The overlay's file beside the page.
    """

    sample: Sample
    declarations: Declarations
    outcome: Outcome
    picture: bytes | None
    picture_name: str | None


def page(entries: Sequence[PageEntry]) -> str:
    """Write the page.

    Parameters
    ----------
    entries : sequence of PageEntry

    Returns
    -------
    str
        A whole HTML document.
    """
    read = sum(not entry.outcome.refused for entry in entries)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>Strandline: sample readings</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        "<h1>Strandline: readings of the sample photos</h1>\n"
        f"<p>{read} of {len(entries)} photos were read; some are there to be refused. The photos are "
        "rendered, not taken, so the true lengths are known and stand beside what was read. "
        "± holds the true length 95 times in 100. Extended lengths, strokes and bumpers are invented.</p>\n"
        + "\n".join(_article(entry) for entry in entries)
        + "\n</body>\n</html>\n"
    )


def _article(entry: PageEntry) -> str:
    outcome = entry.outcome
    status = outcome.reading.status.value
    messages = [message_text(message) for message in outcome.messages]
    parts = [
        f"<h2>{escape(printable(entry.sample.path.name))}</h2>",
        f'<p class="soft">{escape(entry.sample.shows)}</p>',
        f'<p class="status {status}">{STATUS_NAMES[status].capitalize()}</p>',
        _list(messages),
        "" if outcome.refused else _lengths(entry),
        _used(entry),
        _list(outcome.cautions),
        f"<pre>{_unbroken(command_line(entry.sample))}</pre>",
    ]
    return f"<article>\n<div>{_picture(entry)}</div>\n<div>\n" + "\n".join(parts) + "\n</div>\n</article>"


def _picture(entry: PageEntry) -> str:
    if entry.picture is None or entry.picture_name is None:
        return ""
    data = base64.b64encode(reduced(entry.picture)).decode("ascii")
    about = f"{entry.sample.shows} {STATUS_NAMES[entry.outcome.reading.status.value].capitalize()}."
    return (
        f'<a href="{escape(entry.picture_name)}"><img alt="{escape(about)}" loading="lazy" '
        f'src="data:image/jpeg;base64,{data}"></a>'
    )


def reduced(picture: bytes) -> bytes:
    """A smaller JPEG of a picture."""
    from PIL import Image

    with Image.open(io.BytesIO(picture)) as image:
        width = min(PICTURE_WIDTH_PX, image.width)
        small = image.resize((width, round(image.height * width / image.width)), Image.Resampling.LANCZOS)
    buffer = io.BytesIO()
    small.save(buffer, "JPEG", quality=PICTURE_QUALITY)
    return buffer.getvalue()


def _lengths(entry: PageEntry) -> str:
    reading, far = entry.outcome.reading, entry.declarations.leg.layout.far_end
    rows = (
        (f"Exposed, seal to {far}", reading.exposed, "exposed_mm"),
        ("Marker from the seal", reading.marker, "marker_mm"),
        (f"Left to the {far}", reading.remaining, "remaining_mm"),
    )
    body = "".join(
        f"<tr><td>{escape(name)}</td><td>{_length(length)}</td>"
        f"<td>{_rendered(entry, key)}</td><td>{_off(length, entry.sample.rendered.get(key))}</td></tr>"
        for name, length, key in rows
    )
    return (
        "<table><thead><tr><th>mm</th><th>read</th><th>true</th><th>off by</th></tr></thead>"
        f"<tbody>{body}</tbody></table>"
    )


def _length(length: Length | None) -> str:
    return "–" if length is None else f"{length.value_mm:.1f} ± {length.u95_mm:.1f}"


def _rendered(entry: PageEntry, key: str) -> str:
    value = entry.sample.rendered.get(key)
    return "–" if value is None else f"{value:.1f}"


def _off(length: Length | None, rendered: float | None) -> str:
    return "–" if length is None or rendered is None else f"{length.value_mm - rendered:+.2f}"


def _used(entry: PageEntry) -> str:
    used = entry.outcome.used
    if used is None:
        return ""
    if used.refusal is not None:
        return _list([f"Stroke used: refused. {error_text(used.refusal)}"])
    answer, units = used.answer, entry.declarations.units
    assert answer is not None
    rows = (
        ("Stroke used", None if answer.used_mm is None else estimate_text(answer.used_mm, units)),
        ("Share of the stroke", None if answer.used_percent is None else percent_text(answer.used_percent)),
        ("Left to the bumper", _or_none(answer.reserve_bumper_mm, units)),
        ("Left to the hard stop", _or_none(answer.reserve_hard_mm, units)),
    )
    body = "".join(f"<tr><td>{name}</td><td>{escape(text)}</td></tr>" for name, text in rows if text)
    said = (*answer.withheld, *answer.remarks) if used.asked else ()
    return (f"<table><tbody>{body}</tbody></table>" if body else "") + _list(said)


def _or_none(estimate: object, units: object) -> str | None:
    return None if estimate is None else estimate_text(estimate, units)  # type: ignore[arg-type]


def _list(lines: Sequence[str]) -> str:
    items = "".join(f"<li>{escape(printable(line))}</li>" for line in lines)
    return f"<ul>{items}</ul>" if items else ""


def _unbroken(command: str) -> str:
    """The command with each word kept on one line, for browsers break lines at hyphens."""
    return " ".join(f'<span class="word">{escape(word)}</span>' for word in command.split(" "))


def command_line(sample: Sample) -> str:
    """The command that reads this photo, as one would type it."""
    words = ["strandline", "read", sample.path.name]
    for field in fields(Typed):
        value = getattr(sample.typed, field.name)
        if value is not None and value != field.default:
            words += ["--" + field.name.replace("_", "-"), value]
    return shlex.join(words)
