"""Writer of all result files: tables, JSON lines, the page and the sheets."""

from __future__ import annotations

from pathlib import Path

from strandline.day.output.page import Picture, page, sheets
from strandline.day.output.small_pictures import make_small, needs_small_pictures
from strandline.day.output.tables import (
    EXCEPTIONS,
    LINES,
    READINGS,
    exceptions_csv,
    json_lines,
    readings_csv,
    write_parts,
    write_result,
)
from strandline.day.reading.store import ResultsStore
from strandline.day.results.results import DayResults
from suspension.quantities.lengths import Units

PAGE, SHEETS = "day.html", "sheets.html"


def write_results(
    day: DayResults, store: ResultsStore, out: Path, units: Units = Units.MM, *, reload_s: int = 0
) -> None:
    """Write all result files.

    Parameters
    ----------
    day : DayResults
    store : ResultsStore
        Holds the pictures.
    out : Path
    units : Units
        Of the page and the sheets; tables are in mm.
    reload_s : int
        See `strandline.day.output.page.page`.

    Raises
    ------
    DayError
    """
    reduced = needs_small_pictures(day)
    if reduced:
        make_small(day, store)
    picture = _pictures(store, reduced=reduced)
    write_result(out, READINGS, readings_csv(day))
    write_result(out, EXCEPTIONS, exceptions_csv(day))
    write_result(out, LINES, json_lines(day))
    write_parts(out, PAGE, page(day, picture, units, reload_s=reload_s))
    write_parts(out, SHEETS, sheets(day, picture, units))


def _pictures(store: ResultsStore, *, reduced: bool) -> Picture:
    def picture(sha256: str, inputs_hash: str | None) -> bytes | None:
        if inputs_hash is None:
            return store.thumb(sha256)
        return store.small(sha256, inputs_hash) if reduced else store.picture(sha256, inputs_hash)

    return picture
