"""CSV files of a logbook: what other programs find in them, and what is refused."""

from __future__ import annotations

import csv
import sqlite3
from contextlib import closing
from importlib import resources
from pathlib import Path

import pytest

from ridelog.errors import TransferError
from ridelog.storage.connection import VERSION
from ridelog.transfer.as_csv import ABOUT, read_csv, to_csv
from ridelog.transfer.document import TABLES, Document

BIKE = {"id": "b" * 32, "name": 'Grey "twin", ours\nsecond line', "provenance_id": "a" * 32}
ORIGIN = {
    "id": "a" * 32,
    "source": "typed",
    "basis": "measured",
    "photo_name": None,
    "photo_sha256": None,
    "program_version": "1",
    "who": None,
    "recorded_at": "2026-05-01T10:20:30Z",
    "by_hand": 0,
}
DOCUMENT = Document(VERSION, {table: [] for table in TABLES} | {"provenance": [ORIGIN], "bike": [BIKE]})


def write(folder: Path, files: dict[str, str]) -> Path:
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return folder


def test_files_as_rfc_4180_has_them(tmp_path: Path) -> None:
    files = to_csv(DOCUMENT, "9.9")
    assert set(files) == {ABOUT, *(f"{table}.csv" for table in TABLES)}
    assert files[ABOUT] == f"kind,schema_version,program_version\r\nstrandline logbook,{VERSION},9.9\r\n"
    quoted = '"Grey ""twin"", ours\nsecond line"'
    assert files["bike.csv"] == f"id,name,provenance_id\r\n{'b' * 32},{quoted},{'a' * 32}\r\n"
    write(tmp_path, files)
    with (tmp_path / "provenance.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["who"] == "" and row["source"] == "typed"


def test_out_and_in_again(tmp_path: Path) -> None:
    assert read_csv(write(tmp_path, to_csv(DOCUMENT, "1"))) == DOCUMENT


def test_a_byte_order_mark_of_a_spreadsheet_is_left_out(tmp_path: Path) -> None:
    files = {name: "\ufeff" + text for name, text in to_csv(DOCUMENT, "1").items()}
    assert read_csv(write(tmp_path, files)) == DOCUMENT


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        (ABOUT, b"kind,schema_version\r\nother,2\r\n", "does not say that this is a logbook"),
        ("bike.csv", b"id,name\r\nb,x\r\n", "bike.csv, row 2: columns do not fit: provenance_id"),
        ("bike.csv", b'id,name,provenance_id\r\nb,"x,y\r\n', "is not CSV: see its line"),
        ("bike.csv", b"id,name,provenance_id\r\nb,\xff,a\r\n", "is not UTF-8 text"),
        ("ride.csv", b"id,number,bike_id\r\nc,first,b\r\n", "ride.csv, row 2: “first” is no number"),
    ],
)
def test_refusals_name_the_file_and_line(tmp_path: Path, name: str, content: bytes, message: str) -> None:
    write(tmp_path, to_csv(DOCUMENT, "1"))
    (tmp_path / name).write_bytes(content)
    with pytest.raises(TransferError, match=message):
        read_csv(tmp_path)


def test_another_version_is_refused_where_it_is_imported(tmp_path: Path) -> None:
    write(tmp_path, to_csv(DOCUMENT, "1"))
    (tmp_path / ABOUT).write_text("kind,schema_version,program_version\nstrandline logbook,99,1\n")
    assert read_csv(tmp_path) == Document(99, {})


def test_a_folder_that_does_not_say_its_version_is_refused(tmp_path: Path) -> None:
    write(tmp_path, to_csv(DOCUMENT, "1"))
    (tmp_path / ABOUT).write_text("kind\nstrandline logbook\n")
    with pytest.raises(TransferError, match="does not say that this is a logbook"):
        read_csv(tmp_path)


def test_the_first_version_has_its_own_tables_and_columns(tmp_path: Path) -> None:
    """By the first version's schema as it was released, not by what came later."""
    schema = (
        resources.files("ridelog.storage").joinpath("migrations/version_1.sql").read_text(encoding="utf-8")
    )
    with closing(sqlite3.connect(":memory:")) as first:
        first.executescript(schema)
        rows = first.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
        named = {name: [row[1] for row in first.execute(f"PRAGMA table_info({name})")] for (name,) in rows}
    document = Document(1, {table: [] for table in TABLES if table in named})
    files = to_csv(document, "1")
    headers = {name: text.splitlines()[0].split(",") for name, text in files.items() if name != ABOUT}
    assert headers == {f"{name}.csv": columns for name, columns in named.items()}
    assert read_csv(write(tmp_path, files)) == document


def test_writing_leaves_no_file_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    to_csv(DOCUMENT, "1")
    assert list(tmp_path.iterdir()) == []
