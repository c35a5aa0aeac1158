"""Settings of several owners as CSV (RFC 4180): what is exchanged, and nothing that names a person.

A row is one owner's setting for one load at one end: no names, dates, routes, notes or places. The owner is a label
made from the logbook's own random number for the bike, which separates owners and leads back to nobody.
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from ridelog.errors import TransferError
from ridelog.names import AdjusterKind, End
from ridelog.regular_file import read_regular
from ridelog.transfer.as_csv import without_formulas
from strandline.advise.advice import EndAdvice
from strandline.advise.case import CaseAdvice
from strandline.facts.loads import kilograms
from suspension.advice.counts import went_to_the_bumper
from suspension.advice.setting import CountInterval
from suspension.errors import SuspensionError
from suspension.quantities.grammar import quote
from suspension.quantities.quantity import Quantity

T = TypeVar("T")

FORMAT = "1"
LARGEST_BYTES = 5_000_000  # a row is some 60 bytes: far more owners than one kind of bike has
# Of a normal distribution, so many standard deviations leave 5 % outside on one side.
SD_OF_90 = 1.6449
# A count is a whole number, the best setting need not be: rectangular, half a step either way (JCGM 100, 4.3.7).
STEP_SD = 1 / math.sqrt(12)


@dataclass(frozen=True)
class PoolRow:
    """One row of the file.

    Attributes
    ----------
    format : str
    kind : str
        Kind of bike, as owners agree to call it.
    end : End
    owner : str
        Eight letters and digits.
    axle_load_kg : float
        What this axle carries.
    setting_steps : Quantity
        Preload count up from the soft end; two columns of the file, `setting` and `setting_u95`.
    counted_in : AdjusterKind
    rides : int
        That it rests on.
    invented : bool
        Demo data.
    """

    format: str
    kind: str
    end: End
    owner: str
    axle_load_kg: float
    setting_steps: Quantity
    counted_in: AdjusterKind
    rides: int
    invented: bool


COLUMNS = (
    "format",
    "kind",
    "end",
    "owner",
    "axle_load_kg",
    "setting",
    "setting_u95",
    "counted_in",
    "rides",
    "invented",
)


def owner_label(bike_id: str, salt: str = "") -> str:
    """Make a label for an owner from the logbook's random number of the bike.

    Parameters
    ----------
    bike_id : str
    salt : str
        Random for a file whose label shall not be found again in another file of the same owner.
    """
    return hashlib.sha256(f"strandline pool {salt}{bike_id}".encode()).hexdigest()[:8]


def own_rows(ends: Iterable[EndAdvice], owner: str, kind: str) -> Iterator[PoolRow | str]:
    """Make what an owner, by the label, can give: a row for each ridden load, or a sentence why there is none."""
    for end in ends:
        for case in end.cases:
            name = f"{end.facts.end.value}, {case.load.name}"
            load = case.load.axle_n(end.facts.end)
            if not case.ridden:
                continue
            if load is None:
                yield f"{name}: left out, what this axle carries is not known."
            elif case.found is None or end.facts.adjuster is None:
                yield f"{name}: left out, its setting is not found yet{_at_least(case)}."
            else:
                yield PoolRow(
                    FORMAT,
                    kind,
                    end.facts.end,
                    owner,
                    round(kilograms(load).value, 1),
                    own_setting(case.found, case.interval, _ends(case)),
                    end.facts.adjuster.kind,
                    len(case.rides),
                    False,
                )


def _at_least(case: CaseAdvice) -> str:
    """Say what an unfinished owner knows: a count at which the bumper was reached is too soft."""
    situation = case.situation
    if situation is None:
        return ""
    reached = [
        ride.count
        for ride in situation.runs
        if ride.count is not None and went_to_the_bumper(situation, ride)
    ]
    return f": more than {max(reached):g}, where it reached the bumper" if reached else ""


def _ends(case: CaseAdvice) -> tuple[float, float]:
    """Softest and firmest count that was reckoned with."""
    assert case.situation is not None
    counts = [one.count for one in case.situation.counts]
    return counts[0], counts[-1]


def own_setting(count: float, interval: CountInterval | None, ends: tuple[float, float]) -> Quantity:
    """Give an owner's setting, steps, its u95 to the file's two decimals.

    The uncertainty follows from the 90 % interval behind the count, and is at least half a step's. An end of the
    interval that is not known lies at the adjuster's: who knows least never weighs most.

    Parameters
    ----------
    count : float
    interval : CountInterval or None
    ends : tuple of two floats
        Softest and firmest count of the adjuster.
    """
    low = ends[0] if interval is None or interval.low is None else interval.low
    high = ends[1] if interval is None or interval.high is None else interval.high
    half = max(abs(low - count), abs(high - count))
    exact = Quantity(count, math.hypot(half / SD_OF_90, STEP_SD))
    return Quantity.from_u95(exact.value, round(exact.u95, 2))


def to_csv(rows: Iterable[PoolRow], *, for_spreadsheet: bool = False) -> str:
    """Write rows, with a line of column names; for a spreadsheet, without texts that it would run as formulas."""
    target = io.StringIO(newline="")
    writer = csv.writer(target)
    writer.writerow(COLUMNS)
    for row in rows:
        values = {
            **vars(row),
            "setting": row.setting_steps.value,
            "setting_u95": row.setting_steps.u95,
            "invented": "yes" if row.invented else "no",
        }
        if for_spreadsheet:
            values = {name: without_formulas(value) for name, value in values.items()}
        writer.writerow([_plain(values[name]) for name in COLUMNS])
    return target.getvalue()


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def read_csv(path: Path) -> tuple[PoolRow, ...]:
    """Read a file of settings.

    Raises
    ------
    TransferError
        Naming the file, the line, and what would be right.
    """
    try:
        content = read_regular(path, LARGEST_BYTES)
    except OSError as error:
        raise TransferError(
            f"{path} cannot be read: {error.strerror}.", "Name a file that exists."
        ) from error
    try:
        reader = csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline=""), strict=True)
        found = [_row(path, reader.line_num, line) for line in _lines(path, reader)]
    except (UnicodeDecodeError, csv.Error) as error:
        raise TransferError(
            f"{path} is not a CSV file in UTF-8.", "Use the file as strandline pool export wrote it."
        ) from error
    if not found:
        raise TransferError(f"{path} holds no settings.", "Name a file that strandline pool export wrote.")
    return tuple(found)


def _lines(path: Path, reader: csv.DictReader[str]) -> Iterator[dict[str, str | None]]:
    missing = [name for name in COLUMNS if name not in (reader.fieldnames or ())]
    if missing:
        raise TransferError(f"{path} has no column {missing[0]}.", f"The columns are {', '.join(COLUMNS)}.")
    yield from reader


def _row(path: Path, line: int, raw: dict[str, str | None]) -> PoolRow:
    text = {name: (raw.get(name) or "").strip() for name in COLUMNS}
    if text["format"] != FORMAT:
        raise TransferError(
            f"{path}, line {line}: the format is {text['format'] or 'not given'}.",
            f"This version reads {FORMAT}.",
        )

    def field(name: str, read: Callable[[str], T]) -> T:
        """Read one field, or say which is wrong."""
        try:
            return read(text[name])
        except (ValueError, KeyError) as error:
            raise TransferError(
                f"{path}, line {line}: {name} cannot be {quote(text[name])}.",
                "Use the file as strandline pool export wrote it.",
            ) from error

    setting, u95 = field("setting", float), field("setting_u95", float)
    try:
        row = PoolRow(
            FORMAT,
            text["kind"],
            field("end", End),
            text["owner"],
            field("axle_load_kg", float),
            Quantity.from_u95(setting, u95),
            field("counted_in", AdjusterKind),
            field("rides", int),
            field("invented", {"yes": True, "no": False}.__getitem__),
        )
    except SuspensionError:
        sane = False
    else:
        sane = row.setting_steps.value >= 0 and row.setting_steps.sigma > 0 and bool(row.kind and row.owner)
    # One axle of a motorcycle carries some 50 to 400 kg; 20 and 1000 are still believed [common practice, no source].
    if not sane or not 20 <= row.axle_load_kg <= 1000:
        raise TransferError(
            f"{path}, line {line}: a number is out of range.",
            "A setting is 0 or more, its u95 above 0, the axle load in kg; kind and owner are not empty.",
        )
    return row
