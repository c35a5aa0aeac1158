"""One page with all readings of the sample photos: its style and its pictures are inside, nothing is fetched."""

from __future__ import annotations

import io
import shlex
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

from strandline.demo.samples import Sample
from strandline.read.causes import shown
from strandline.read.inputs import ReadInputs
from strandline.read.one_photo import Outcome
from strandline.read.parse import ReadOptions
from strandline.read.text import STATUS_NAMES, message_text
from strandline.shared.messages import error_text
from strandline.shared.units import MM_PER_IN, estimate_text, percent_text
from suspension.quantities.lengths import Units
from vision.names import LengthName

if TYPE_CHECKING:
    from vision.reading import Length

# Wide enough for a phone held upright at twice its points, and for half a desktop's window.
PICTURE_WIDTH_PX = 900
PICTURE_QUALITY = 78


@dataclass(frozen=True)
class PageEntry:
    """One photo on the page.

    Attributes
    ----------
    sample : Sample
    inputs : ReadInputs
    outcome : Outcome
    picture : bytes or None
        The overlay, JPEG.
    picture_name : str or None
        The overlay's file beside the page.
    """

    sample: Sample
    inputs: ReadInputs
    outcome: Outcome
    picture: bytes | None
    picture_name: str | None


@dataclass(frozen=True)
class LengthRow:
    """A length as it was read, as it is true, and the difference."""

    name: str
    read: str
    true: str
    off_by: str


@dataclass(frozen=True)
class Article:
    """One photo's texts on the page.

    Attributes
    ----------
    name, shows, status, status_words : str
    messages : tuple of str
    lengths : tuple of LengthRow
        () for a refused photo.
    stroke : tuple of (str, str)
        Name and value of what was answered.
    stroke_lines, cautions : tuple of str
    command : tuple of str
        Words of the command that reads this photo.
    picture : bytes or None
        JPEG.
    picture_name : str or None
    """

    name: str
    shows: str
    status: str
    status_words: str
    messages: tuple[str, ...]
    lengths: tuple[LengthRow, ...]
    stroke: tuple[tuple[str, str], ...]
    stroke_lines: tuple[str, ...]
    cautions: tuple[str, ...]
    command: tuple[str, ...]
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
    from strandline.shared.html import data_uri, environment

    templates = environment(__package__, {"jpeg": lambda content: data_uri(content, "image/jpeg")})
    unit = entries[0].inputs.units.value if entries else Units.MM.value
    read = sum(not entry.outcome.refused for entry in entries)
    return templates.get_template("readings.html").render(
        read=read, unit=unit, articles=[_article(entry) for entry in entries]
    )


def _article(entry: PageEntry) -> Article:
    outcome = entry.outcome
    status = outcome.reading.status.value
    stroke, stroke_lines = _stroke(entry)
    return Article(
        name=entry.sample.path.name,
        shows=entry.sample.shows,
        status=status,
        status_words=STATUS_NAMES[status].capitalize(),
        messages=tuple(message_text(one) for one in shown(outcome.messages, refused=outcome.refused)),
        lengths=() if outcome.refused else _lengths(entry),
        stroke=stroke,
        stroke_lines=stroke_lines,
        cautions=outcome.cautions,
        command=tuple(command_line(entry.sample).split(" ")),
        picture=None if entry.picture is None else reduced(entry.picture),
        picture_name=entry.picture_name,
    )


def reduced(picture: bytes) -> bytes:
    """Reduce a picture to a smaller JPEG."""
    from PIL import Image

    with Image.open(io.BytesIO(picture)) as image:
        width = min(PICTURE_WIDTH_PX, image.width)
        small = image.resize((width, round(image.height * width / image.width)), Image.Resampling.LANCZOS)
    buffer = io.BytesIO()
    small.save(buffer, "JPEG", quality=PICTURE_QUALITY)
    return buffer.getvalue()


def _lengths(entry: PageEntry) -> tuple[LengthRow, ...]:
    reading, far = entry.outcome.reading, entry.inputs.leg.layout.far_end
    rows = (
        (f"Exposed, seal to {far}", LengthName.EXPOSED),
        ("Marker from the seal", LengthName.MARKER),
        (f"Remaining to the {far}", LengthName.REMAINING),
    )
    units = entry.inputs.units
    return tuple(
        _length_row(text, reading.length(name), entry.sample.rendered.get(name.field), units)
        for text, name in rows
    )


def _length_row(name: str, length: Length | None, true_mm: float | None, units: Units) -> LengthRow:
    # An inch takes two decimals more, for one would hide what the mm say.
    per, finer = (1.0, 0) if units is Units.MM else (MM_PER_IN, 2)

    def number(value_mm: float, decimals: int, sign: str = "") -> str:
        return f"{value_mm / per:{sign}.{decimals + finer}f}"

    return LengthRow(
        name,
        "–" if length is None else f"{number(length.value_mm, 1)} ± {number(length.u95_mm, 1)}",
        "–" if true_mm is None else number(true_mm, 1),
        "–" if length is None or true_mm is None else number(length.value_mm - true_mm, 2, "+"),
    )


def _stroke(entry: PageEntry) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """Write the used stroke as rows of a table, and as sentences."""
    used = entry.outcome.used
    if used is None:
        return (), ()
    if used.refusal is not None:
        return (), (f"Stroke used: refused. {error_text(used.refusal)}",)
    answer, units = used.answer, entry.inputs.units
    assert answer is not None
    rows = [
        (name, estimate_text(value, units))
        for name, value in (
            ("Stroke used", answer.used_mm),
            ("Left to the bumper", answer.reserve_bumper_mm),
            ("Left to the hard stop", answer.reserve_hard_mm),
        )
        if value is not None
    ]
    if answer.used_percent is not None:
        rows.insert(
            int(answer.used_mm is not None), ("Share of the stroke", percent_text(answer.used_percent))
        )
    return tuple(rows), (*answer.withheld, *answer.remarks) if used.asked else ()


def command_line(sample: Sample) -> str:
    """Write the command that reads this photo, as one would type it."""
    words = ["strandline", "read", sample.path.name]
    for field in fields(ReadOptions):
        value = getattr(sample.options, field.name)
        if value is not None and value != field.default:
            words += ["--" + field.name.replace("_", "-").replace("color", "colour"), value]
    return shlex.join(words)
