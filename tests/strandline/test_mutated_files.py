"""Parsers under mutated files: each takes one or refuses it in words, and what a logbook takes it can read.

Files are valid ones with pieces put in, cut out and repeated; the pieces are what parsers of CSV, JSON and TOML are
known to trip over. Not guided by coverage. The long run makes sixty times as many.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from ridelog.bikes.file import parse_bike
from ridelog.errors import LogbookError
from ridelog.storage.readable import bad_rows
from ridelog.storage.store import Logbook
from ridelog.transfer.as_csv import read_csv, to_csv
from ridelog.transfer.as_json import from_json, to_json
from ridelog.transfer.document import Document
from ridelog.transfer.transfer import export, import_
from strandline.day.errors import DayError
from strandline.day.identify.roster_file import read_roster
from strandline.pool.file import read_csv as read_pool
from tests.helpers.made_day import ROSTER, SINGLE, TWIN, run
from tests.helpers.made_records import BIKE, new_logbook, put_ride

PIECES = [
    *(
        "\0",
        "\x1b[31m",
        "²",
        "٣",
        "9" * 400,
        "-1",
        "1e999",
        "nan",
        "inf",
        "[[",
        "{",
        '"',
        "'",
        '"""',
        "\n",
        "\r",
    ),
    *(
        "\r\n",
        ",",
        ";",
        "\t",
        "=",
        "../",
        "/dev/zero",
        "0000-01-01",
        "9999-12-31",
        "null",
        "true",
        "[]",
        "{}",
    ),
    *("1_0", "±", "mm", "don't know", "\ufeff", "\ud7ff", "\U0001f3cd", "a" * 300, "9223372036854775807"),
    *("-9223372036854775809", "0x10", "1979-05-27", "07:32:00", '"x"', "[" * 3_000),
]
_VALUE = re.compile(r"(?<=[:=,] )[^,\n]+|(?<=,)[^,\n]+")
Attack = Callable[[str], object]


def mutated(text: str, chance: random.Random) -> str:
    """Change a text in one to eight places."""
    for _ in range(chance.choice((1, 1, 1, 2, 3, 8))):
        at, kind = chance.randrange(len(text) + 1), chance.randrange(5)
        if kind == 0:
            text = text[:at] + chance.choice(PIECES) + text[at:]
        elif kind == 1:
            text = text[:at] + text[at + chance.randrange(1, 30) :]
        elif kind == 2:
            other = chance.randrange(len(text) + 1)
            text = text[:at] + text[other : other + chance.randrange(80)] + text[at:]
        elif kind == 3:
            text = (
                text[:at]
                + chr(chance.choice((chance.randrange(128), chance.randrange(0xD7FF))))
                + text[at + 1 :]
            )
        elif values := [found.span() for found in _VALUE.finditer(text)]:
            start, stop = chance.choice(values)
            text = text[:start] + chance.choice(PIECES) + text[stop:]
    return text


@pytest.fixture
def seeds(tmp_path: Path) -> dict[str, list[str]]:
    """Make valid files of each kind."""
    with new_logbook(tmp_path) as book:
        put_ride(book)
        put_ride(book, day=2)
        document = export(book)
    tables = to_csv(document, "1")
    folder = tmp_path / "csv"
    folder.mkdir()
    for name, text in tables.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    (tmp_path / "bikes").mkdir()
    (tmp_path / "bikes" / "twin.toml").write_text(TWIN, encoding="utf-8")
    (tmp_path / "bikes" / "single.toml").write_text(SINGLE, encoding="utf-8")
    assert run("pool", "demo", "-o", tmp_path / "pool.csv").exit_code == 0
    pool = (tmp_path / "pool.csv").read_text(encoding="utf-8")
    return {
        "bike": [BIKE, TWIN, SINGLE],
        "json": [to_json(document, "1")],
        "csv": list(tables.values()),
        "roster": [ROSTER],
        "pool": [pool[:2_000].rpartition("\n")[0]],
    }


def attack_on(kind: str, folder: Path, seeds: dict[str, list[str]]) -> Attack:
    """Give what reads a text of this kind."""

    def take(document: Document) -> None:
        path = folder / "taken.sqlite"
        path.unlink(missing_ok=True)
        with Logbook.open(path) as book:
            import_(book, document)
            assert not bad_rows(book.connection)
            book.rides.all_rides()
            book.bikes.versions()

    def csv(text: str) -> None:
        names = [path.name for path in sorted((folder / "csv").iterdir())]
        kept = {name: (folder / "csv" / name).read_text(encoding="utf-8") for name in names}
        # the table whose heading is still the most like it
        name = max(
            names,
            key=lambda one: len(
                set(kept[one].split("\n")[0].split(",")) & set(text.split("\n")[0].split(","))
            ),
        )
        (folder / "csv" / name).write_text(text, encoding="utf-8", newline="")
        try:
            take(read_csv(folder / "csv"))
        finally:
            (folder / "csv" / name).write_text(kept[name], encoding="utf-8", newline="")

    def roster(text: str) -> None:
        (folder / "roster.csv").write_text(text, encoding="utf-8", newline="")
        read_roster(folder / "roster.csv")

    def pool(text: str) -> None:
        (folder / "theirs.csv").write_text(text, encoding="utf-8", newline="")
        read_pool(folder / "theirs.csv")

    attacks: dict[str, Attack] = {
        "bike": lambda text: parse_bike(text, "x.toml"),
        "json": lambda text: take(from_json(text, "x.json")),
        "csv": csv,
        "roster": roster,
        "pool": pool,
    }
    return attacks[kind]


@pytest.mark.parametrize("kind", ["bike", "json", "csv", "roster", "pool"])
@pytest.mark.parametrize("rounds", [50, pytest.param(3_000, marks=pytest.mark.long)])
def test_mutated(tmp_path: Path, seeds: dict[str, list[str]], kind: str, rounds: int) -> None:
    """Nothing but the errors that carry words for a person."""
    chance = random.Random(21)
    attack = attack_on(kind, tmp_path, seeds)
    for _ in range(rounds):
        text = mutated(chance.choice(seeds[kind]), chance)
        try:
            attack(text)
        except (LogbookError, DayError) as error:
            assert error.message
        except Exception as error:
            raise AssertionError(f"{type(error).__name__} for {text!r}") from error


def test_numbers_beyond_toml() -> None:
    """An integer of 400 digits is no TOML (specification 1.0.0, "Integer"), which Python's parser does not mind."""
    for text in ("stroke = ", "adjuster.preload.steps = "):
        with pytest.raises(LogbookError, match="too many digits"):
            parse_bike(f'format = 1\nname = "a"\n[leg.rear]\n{text}{"9" * 400}\n', "x.toml")
