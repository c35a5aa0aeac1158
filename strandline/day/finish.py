"""What a run leaves in the folder of results: tables, lines, the page and the sheets."""

from __future__ import annotations

import io
from pathlib import Path

from strandline.day.as_files import (
    EXCEPTIONS,
    LINES,
    READINGS,
    exceptions_csv,
    json_lines,
    readings_csv,
    write_parts,
    write_result,
)
from strandline.day.page import Picture, page
from strandline.day.results import DayResults
from strandline.day.results_store import ResultsStore
from strandline.day.sheets import FILE as SHEETS
from strandline.day.sheets import sheets

PAGE = "day.html"

# So many pictures of full size make a page of some 35 MB; with more of them each is reduced, so that a phone still
# opens the page [estimated from 65 kB a picture].
FULL_SIZE_PICTURES = 400
REDUCED_SIDE_PX, REDUCED_QUALITY = 640, 40


def finish(day: DayResults, store: ResultsStore, out: Path, *, again_s: int = 0) -> None:
    """Write all results.

    Parameters
    ----------
    day : DayResults
    store : ResultsStore
        Holds the pictures.
    out : Path
    again_s : int
        See `strandline.day.page.page`.

    Raises
    ------
    DayError
    """
    picture = _pictures(store, reduced=day.read > FULL_SIZE_PICTURES)
    write_result(out, READINGS, readings_csv(day))
    write_result(out, EXCEPTIONS, exceptions_csv(day))
    write_result(out, LINES, json_lines(day))
    write_parts(out, PAGE, page(day, picture, again_s=again_s))
    write_parts(out, SHEETS, sheets(day, picture))


def _pictures(store: ResultsStore, *, reduced: bool) -> Picture:
    def picture(sha256: str, declared: str | None) -> bytes | None:
        if declared is None:
            return store.thumb(sha256)
        found = store.picture(sha256, declared)
        return _smaller(found) if found is not None and reduced else found

    return picture


def _smaller(picture: bytes) -> bytes:
    from PIL import Image

    buffer = io.BytesIO()
    with Image.open(io.BytesIO(picture)) as image:
        image.thumbnail((REDUCED_SIDE_PX, REDUCED_SIDE_PX))
        image.save(buffer, "WEBP", quality=REDUCED_QUALITY)
    return buffer.getvalue()
