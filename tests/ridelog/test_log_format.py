"""docs/log-format.md says what the schema, the migrations and the bike's file are."""

from __future__ import annotations

import re
import tomllib
from contextlib import closing
from pathlib import Path

import pytest

from ridelog.bikes.field import Field
from ridelog.bikes.fields import BIKE, END, LEG
from ridelog.bikes.leg_parts import ADJUSTER, AIR, MARKER, SPRING
from ridelog.storage.connection import APPLICATION_ID, VERSION, migrate, open_raw
from ridelog.transfer.document import TABLES
from suspension.quantities.declared import Amount

PAGE = (Path(__file__).parents[2] / "docs" / "log-format.md").read_text(encoding="utf-8")
GROUPS: dict[str, tuple[Field, ...]] = {
    "the file itself": BIKE,
    "`[front]` and `[rear]`": END,
    "`[leg.NAME]`": LEG,
    "`[leg.NAME.marker]`": MARKER,
    "`[leg.NAME.spring]`": SPRING,
    "`[leg.NAME.air]`": AIR,
    "`[leg.NAME.adjuster.WHICH]`": ADJUSTER,
}


def rows(heading: str) -> list[list[str]]:
    """Cells of the table below a heading, without its head."""
    found = re.search(rf"^### {re.escape(heading)}\n(.*?)(?=^#|\Z)", PAGE, re.MULTILINE | re.DOTALL)
    assert found is not None, heading
    lines = [line for line in found[1].splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def test_every_table_is_described_and_no_other() -> None:
    assert sorted(re.findall(r"^### Table `(\w+)`$", PAGE, re.MULTILINE)) == sorted(TABLES)


@pytest.mark.parametrize("table", TABLES)
def test_columns_are_the_schemas_in_their_order(table: str) -> None:
    with closing(open_raw(":memory:")) as connection:
        migrate(connection)
        info = [(row["name"], row["type"]) for row in connection.execute(f"PRAGMA table_info({table})")]
    assert [(cells[0].strip("`"), cells[1]) for cells in rows(f"Table `{table}`")] == info


def test_words_of_the_schemas_checks_are_the_pages() -> None:
    """Where the schema lists words for a column, the page lists the same; legs are listed once for all."""
    with closing(open_raw(":memory:")) as connection:
        migrate(connection)
        schema = dict(
            connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'table'").fetchall()
        )
    checked = 0
    for table in TABLES:
        listed = re.findall(r"\((\w+)\s+IN\s+\(\s*((?:'[\w-]+'[,\s]*)+)\)\)", schema[table])
        for column, words in listed:
            if column in ("leg", "place"):
                continue
            (meaning,) = (cells[2] for cells in rows(f"Table `{table}`") if cells[0] == f"`{column}`")
            assert set(re.findall(r"'([\w-]+)'", words)) <= set(re.findall(r"`([\w-]+)`", meaning)) | {
                "soft",
                "hard",
            }, (table, column)
            checked += 1
    assert checked >= 12


def test_versions_are_those_that_there_are_migrations_for() -> None:
    assert [int(cells[0]) for cells in rows("Versions")] == [*range(1, VERSION + 1)]
    assert f"schema version, now {VERSION}." in PAGE and f"0x{APPLICATION_ID:X}" in PAGE


def measured(one: Field) -> Amount | None:
    """Read what the field makes of its example; the first of a list."""
    found = one.read(tomllib.loads(f"value = {one.example}")["value"], one.title)
    first = found[0] if isinstance(found, tuple) else found
    return first if isinstance(first, Amount) else None


@pytest.mark.parametrize("group", GROUPS)
def test_keys_of_a_bikes_file_with_their_units_and_uncertainties(group: str) -> None:
    fields, listed = GROUPS[group], rows(f"Keys of {group}")
    assert [cells[0].strip("`") for cells in listed] == [one.key for one in fields]
    for one, (_, unit, half_width, meaning) in zip(fields, listed, strict=True):
        assert meaning.startswith("needed") == one.needed, one.key
        found = measured(one)
        if found is None:
            assert half_width == "" and unit in ("", "mm, N"), one.key
            continue
        assert unit == found.unit, one.key
        # The example has digits enough that the usual half-width counts, and not half of its last digit.
        number = re.sub(r"^(\d+)(?:\.\d+)?", r"\g<1>.000", found.as_written)
        text = f'["{number}", "9 {found.unit}"]' if one.key == "positions" else f'"{number}"'
        again = one.read(tomllib.loads(f"value = {text}")["value"], one.title)
        again = again[0] if isinstance(again, tuple) else again
        if half_width.endswith("%"):
            assert again.quantity.u95 / again.value == pytest.approx(float(half_width[:-1]) / 100), one.key
        else:
            assert again.quantity.u95 == pytest.approx(float(half_width)), one.key
