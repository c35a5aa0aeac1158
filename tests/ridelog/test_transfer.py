"""Out and in again without loss: JSON and CSV, any text and any number that a logbook can hold."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridelog.errors import TransferError
from ridelog.names import AdjusterKind, Confidence, CountedFrom, Felt, LegName
from ridelog.storage.check import check
from ridelog.storage.connection import VERSION
from ridelog.storage.records import Provenance, Reading, Setting, Source, new_id
from ridelog.storage.store import Logbook
from ridelog.transfer.as_csv import read_csv, to_csv
from ridelog.transfer.as_json import from_json, to_json
from ridelog.transfer.document import TABLES, Document
from ridelog.transfer.transfer import export, import_, read_document
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import State
from tests.helpers.made_records import (
    PHOTO,
    TYPED,
    entry,
    fill,
    fork_reading,
    length,
    put_bike,
    put_ride,
)

# Text that a person may type: no control characters but newlines, and nothing empty.
texts = st.text(
    st.characters(blacklist_categories=("Cs", "Cc"), whitelist_characters="\n\t"), min_size=1, max_size=40
)
numbers = st.floats(-1e5, 1e5, allow_nan=False)
lengths = st.builds(Quantity, numbers, st.floats(0, 1e5))
provenances = st.one_of(
    st.builds(lambda who: Provenance(Source.TYPED, "1", who=who), st.none() | texts),
    st.builds(
        lambda name, by_hand: Provenance(
            Source.PHOTO, "1", photo_name=name, photo_sha256="0f" * 32, by_hand=by_hand
        ),
        texts,
        st.booleans(),
    ),
)


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    exposed, marker = draw(st.none() | lengths), draw(st.none() | lengths)
    remaining = draw(lengths) if exposed is None or marker is None else None
    return Reading(
        draw(st.sampled_from(LegName)),
        draw(provenances),
        draw(st.sampled_from(State)),
        exposed,
        marker,
        remaining,
        at_stop=draw(st.none() | st.booleans()),
        marker_width_mm=draw(st.none() | st.just(length(2.5))),
        exposed_marker_mm2=draw(st.none() | numbers),
    )


@st.composite
def counts(draw: st.DrawFn) -> Setting:
    count = draw(st.none() | st.floats(0, 1000))
    return Setting(
        draw(st.sampled_from(LegName)),
        draw(texts),
        draw(st.sampled_from(AdjusterKind)),
        draw(st.sampled_from(CountedFrom)),
        draw(provenances),
        count,
        Confidence.UNKNOWN
        if count is None
        else draw(st.sampled_from([Confidence.COUNTED, Confidence.IN_DOUBT])),
    )


def through_csv(document: Document, folder: Path) -> Document:
    folder.mkdir(exist_ok=True)
    for name, text in to_csv(document, "1").items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return read_csv(folder)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(readings(), max_size=3),
    st.lists(counts(), max_size=3, unique_by=lambda one: (one.leg, one.adjuster)),
    st.none() | texts,
    st.dates(dt.date(1, 1, 1)),
    st.tuples(st.sets(st.sampled_from(Felt)), st.none() | st.floats(-60, 70)),
)
def test_round_trip_of_anything(
    tmp_path: Path,
    its_readings: list[Reading],
    its_counts: list[Setting],
    note: str | None,
    day: dt.date,
    felt_and_temperature: tuple[set[Felt], float | None],
) -> None:
    felt, temperature = felt_and_temperature
    path, copy = tmp_path / f"{new_id()}.sqlite", tmp_path / f"{new_id()}.sqlite"
    with Logbook.open(path) as book, Logbook.open(copy) as other:
        version = put_bike(book)
        facts = replace(entry(version), date=day, note=note, felt=tuple(felt), temperature_c=temperature)
        ride = book.rides.add(version.bike_id, facts, its_counts, its_readings)
        assert ride.readings == tuple(replace(one, ride_id=ride.id) for one in its_readings)
        document = export(book)
        assert from_json(to_json(document, "1"), "x") == document
        assert through_csv(document, tmp_path / "csv") == document
        import_(other, from_json(to_json(document, "1"), "x"))
        assert export(other) == document
        assert other.rides.all_rides() == book.rides.all_rides() == (ride,)


def test_every_table_goes_out_and_in(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "a.sqlite") as book, Logbook.open(tmp_path / "b.sqlite") as other:
        fill(book)
        document = export(book)
        assert set(document.tables) == set(TABLES) == set(check(book).rows)
        assert all(document.tables.values())
        added = import_(other, through_csv(document, tmp_path / "csv"))
        assert added.added == sum(len(rows) for rows in document.tables.values())
        assert export(other) == document and check(other).findings == ()


def test_the_same_twice_changes_nothing(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "a.sqlite") as book:
        fill(book)
        document = export(book)
        done = import_(book, document)
        assert done.added == 0 and done.known > 0 and done.renumbered == ()
        assert export(book) == document


def test_two_logbooks_put_together(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "a.sqlite") as book, Logbook.open(tmp_path / "b.sqlite") as other:
        import_(other, Document(VERSION, {**export_of_bike(book), "ride": []}))
        ours, theirs = put_ride(book), put_ride(other, 2)
        done = import_(book, export(other))
        assert done.renumbered == ((1, 2),)
        assert [ride.id for ride in book.rides.all_rides()] == [ours.id, theirs.id]
        assert check(book).findings == ()
        assert import_(book, export(other)).renumbered == ()


def export_of_bike(book: Logbook) -> dict[str, list[dict[str, object]]]:
    put_bike(book)
    return export(book).tables


def test_json_is_strict_and_csv_is_what_other_readers_expect(tmp_path: Path) -> None:
    # RFC 8259 and RFC 4180, read by the standard library.
    with Logbook.open(tmp_path / "a.sqlite") as book:
        fill(book)
        document = export(book)
    text = to_json(document, "1")

    def refuse(word: str) -> None:
        raise AssertionError(word)

    assert json.loads(text, parse_constant=refuse)["schema_version"] == VERSION
    for name, content in to_csv(document, "1").items():
        rows = list(csv.reader(io.StringIO(content, newline=""), strict=True))
        assert len({len(row) for row in rows}) == 1, name
        assert "\r\n" in content


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda d: d["tables"]["reading"][0].update(leg="sidecar"), "reading, row 1 cannot be taken"),
        (lambda d: d["tables"]["reading"][0].update(exposed_mm="long"), "reading, row 1 cannot be taken"),
        (lambda d: d["tables"]["reading"][0].pop("leg"), "columns do not fit: leg"),
        (lambda d: d["tables"]["setting"][0].update(ride_id="0" * 32), "setting, row 1 cannot be taken"),
        (lambda d: d["tables"].update(other=[]), "unknown tables: other"),
        (lambda d: d.update(schema_version=VERSION + 1), f"schema version {VERSION + 1}"),
        (lambda d: d.update(schema_version=0), "schema version 0"),
        (lambda d: d.update(kind="other"), "is not a logbook"),
        (lambda d: d["tables"]["reading"][0].update(exposed_mm=[1]), "no tables of rows"),
    ],
)
def test_a_spoilt_document_is_refused_and_nothing_is_taken(
    tmp_path: Path, spoil: Callable[[dict[str, Any]], object], message: str
) -> None:
    with Logbook.open(tmp_path / "a.sqlite") as book, Logbook.open(tmp_path / "b.sqlite") as other:
        fill(book)
        whole = json.loads(to_json(export(book), "1"))
        spoil(whole)
        with pytest.raises(TransferError, match=message):
            import_(other, from_json(json.dumps(whole), "x"))
        assert sum(check(other).rows.values()) == 0


def test_rows_changed_elsewhere_are_not_taken_over(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "a.sqlite") as book:
        fill(book)
        document = export(book)
        document.tables["reading"][0]["exposed_mm"] += 1.0
        with pytest.raises(TransferError, match="says something else here in exposed_mm"):
            import_(book, document)


def test_files_that_are_no_exports(tmp_path: Path) -> None:
    with pytest.raises(TransferError, match="cannot be read"):
        read_document(tmp_path / "none.json")
    (tmp_path / "a.json").write_text("{")
    with pytest.raises(TransferError, match="is not JSON"):
        read_document(tmp_path / "a.json")
    (tmp_path / "a.json").write_text('{"kind": "strandline logbook", "schema_version": NaN}')
    with pytest.raises(TransferError, match="is not JSON"):
        read_document(tmp_path / "a.json")
    (tmp_path / "folder").mkdir()
    with pytest.raises(TransferError, match="cannot be read"):
        read_document(tmp_path / "folder")


def test_a_csv_cell_that_is_no_number_is_named(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "a.sqlite") as book:
        fill(book)
        through_csv(export(book), tmp_path / "csv")
    path = tmp_path / "csv" / "reading.csv"
    path.write_text(path.read_text().replace("175.0", "175 mm", 1))
    with pytest.raises(TransferError, match=r"reading.csv, row 2: “175 mm” is no number for exposed_mm"):
        read_csv(tmp_path / "csv")


def test_numbers_keep_their_last_bit(tmp_path: Path) -> None:
    awkward = math.nextafter(113.0, 200.0)
    with Logbook.open(tmp_path / "a.sqlite") as book:
        version = put_bike(book)
        reading = replace(fork_reading(PHOTO), remaining_mm=Quantity(awkward, 0.1 + 0.2))
        ride = book.rides.add(version.bike_id, entry(version), readings=[reading])
        assert ride.readings[0].remaining_mm == reading.remaining_mm
        back = through_csv(export(book), tmp_path / "csv").tables["reading"][0]
        assert (back["remaining_mm"], back["remaining_u95_mm"]) == (awkward, 2 * (0.1 + 0.2))
        assert TYPED.source is Source.TYPED


def test_every_row_that_was_there_is_counted(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "a.sqlite") as book:
        fill(book)
        document = export(book)
        assert import_(book, document).known == sum(len(rows) for rows in document.tables.values())


def test_rows_after_one_that_was_there_are_taken(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "a.sqlite") as book, Logbook.open(tmp_path / "b.sqlite") as other:
        put_ride(book)
        import_(other, export(book))
        second = put_ride(book, 2)
        import_(other, export(book))
        assert [ride.id for ride in other.rides.all_rides()][1:] == [second.id]
        assert export(other) == export(book)


def test_each_ride_gets_a_number_of_its_own(tmp_path: Path) -> None:
    """Ours is 1; theirs are 1 and 2: the first becomes 2, so the second becomes 3."""
    with Logbook.open(tmp_path / "a.sqlite") as book, Logbook.open(tmp_path / "b.sqlite") as other:
        import_(other, Document(VERSION, {**export_of_bike(book), "ride": []}))
        put_ride(book)
        put_ride(other, 2)
        put_ride(other, 3)
        assert import_(book, export(other)).renumbered == ((1, 2), (2, 3))
        assert sorted(row["number"] for row in export(book).tables["ride"]) == [1, 2, 3]


def test_a_row_that_says_something_else_is_named(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "a.sqlite") as book:
        fill(book)
        document = export(book)
        row = document.tables["reading"][0]
        row["exposed_mm"] += 1.0
        row["marker_mm"] += 1.0
        words = f"reading {row['id']} says something else here in exposed_mm, marker_mm"
        with pytest.raises(TransferError, match=words):
            import_(book, document)


def test_a_folder_is_read_as_csv_and_a_file_as_json(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "a.sqlite") as book:
        fill(book)
        document = export(book)
    through_csv(document, tmp_path / "csv")
    (tmp_path / "a.json").write_text(to_json(document, "1"), encoding="utf-8")
    assert read_document(tmp_path / "csv") == document == read_document(tmp_path / "a.json")
