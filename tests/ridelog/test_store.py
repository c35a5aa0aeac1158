"""Rides in and out, corrections, and that nothing that was recorded can be changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.errors import FileError, RecordError
from ridelog.names import Confidence, Felt, LegName
from ridelog.storage.check import check
from ridelog.storage.connection import transaction
from ridelog.storage.records import (
    Provenance,
    Source,
    StoredBike,
    new_id,
)
from ridelog.storage.store import Logbook
from ridelog.transfer.document import TABLES
from strandline.facts.readings import stroke_question
from suspension.quantities.quantity import Quantity
from suspension.stroke.stroke import answer_stroke
from tests.helpers.made_records import (
    BIKE,
    PHOTO,
    TYPED,
    bike_file,
    entry,
    fork_reading,
    length,
    new_logbook,
    put_bike,
    put_load,
    put_ride,
    put_sag,
    rear_preload,
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with new_logbook(tmp_path) as logbook:
        yield logbook
        assert check(logbook).findings == ()


def test_a_ride_comes_back_as_it_was_put_in(book: Logbook) -> None:
    version = put_bike(book)
    facts = entry(version, temperature_c=17.5, front_pressure_kpa=250.0, note="wind\nfrom the west")
    setting, typed, seen = rear_preload(), fork_reading(), fork_reading(PHOTO)
    ride = book.rides.add(version.bike_id, facts, [setting], [typed, seen])
    assert ride.number == 1
    assert ride.entry == replace(facts, ride_id=ride.id, bike_id=version.bike_id)
    assert ride.settings == (replace(setting, ride_id=ride.id),)
    assert ride.readings == (replace(typed, ride_id=ride.id), replace(seen, ride_id=ride.id))
    with Logbook.open(book.path) as other:
        assert other.rides.all_rides() == (ride,) == book.rides.all_rides(version.bike_id)
        assert other.rides.all_rides(new_id()) == ()


def test_reading_of_a_ride_answers_the_check_values(book: Logbook) -> None:
    # Derived geometry of the trade: fork E0 205, E 175, d 62, S 120, w 3.6 -> c 30, u 92, gn 113, reserve 28.
    ride = put_ride(book)
    from ridelog.bikes.file import parse_bike

    bike = parse_bike(book.bikes.version(ride.entry.bike_version_id).toml, "x").bike
    answer = answer_stroke(stroke_question(ride.readings[0], bike.leg("front-left")))
    assert answer.used_mm is not None and answer.used_mm.value == pytest.approx(92)
    assert answer.reserve_hard_mm is not None and answer.reserve_hard_mm.value == pytest.approx(28)


def test_corrections_leave_what_they_replace(book: Logbook) -> None:
    ride = put_ride(book)
    wrong = ride.readings[0]
    right = replace(wrong, id=new_id(), replaces=wrong.id, remaining_mm=length(112), exposed_mm=length(174))
    now = book.rides.amend(
        ride,
        entry=replace(ride.entry, route="Valley loop", felt=(Felt.WALLOWS,), felt_front=()),
        settings=[rear_preload(5)],
        readings=[right],
    )
    assert now.number == ride.number
    assert (now.entry.route, now.entry.felt) == ("Valley loop", (Felt.WALLOWS,))
    assert [one.count for one in now.settings] == [5]
    assert {one.id for one in now.readings} == {ride.readings[1].id, right.id}
    history = book.rides.history(ride.number)
    assert history.entries[0] == ride.entry and history.entries[1] == now.entry
    assert history.entries[1].replaces == history.entries[0].id
    assert [one.count for one in history.settings] == [4, 5]
    assert [one.id for one in history.readings] == [*(one.id for one in ride.readings), right.id]


def test_second_correction_of_the_same_row_is_refused(book: Logbook) -> None:
    ride = put_ride(book)
    book.rides.amend(ride, entry=replace(ride.entry, route="A"))
    with pytest.raises(RecordError, match="corrected by somebody else meanwhile"):
        book.rides.amend(ride, entry=replace(ride.entry, route="B"), settings=[rear_preload(9)])
    assert book.rides.get(1).entry.route == "A"
    assert [one.count for one in book.rides.get(1).settings] == [4]


def test_withdrawn_ride_and_reading_stay_in_history(book: Logbook) -> None:
    ride = put_ride(book)
    without = book.rides.withdraw_reading(ride, ride.readings[1], TYPED)
    assert without.readings == ride.readings[:1]
    assert book.rides.withdraw(without, TYPED).withdrawn
    assert book.rides.all_rides() == ()
    assert len(book.rides.all_rides(withdrawn=True)) == 1
    assert len(book.rides.history(1).readings) == 3


def test_numbers_go_on_after_a_withdrawn_ride(book: Logbook) -> None:
    book.rides.withdraw(put_ride(book), TYPED)
    assert put_ride(book, 2).number == 2


def test_a_ride_is_recorded_whole_or_not_at_all(book: Logbook) -> None:
    version = put_bike(book)
    twice = [rear_preload(4), rear_preload(5)]
    with pytest.raises(RecordError):
        book.rides.add(version.bike_id, entry(version), twice, [fork_reading()])
    assert book.rides.all_rides(withdrawn=True) == ()


def test_lengths_that_do_not_add_up_are_refused(book: Logbook) -> None:
    # d + gn = E within 2 mm, the trade's closure for lengths measured separately.
    version = put_bike(book)
    for gap, taken in ((1.9, True), (-1.9, True), (2.1, False), (-2.1, False)):
        reading = replace(fork_reading(), id=new_id(), remaining_mm=length(113 + gap))
        if taken:
            book.rides.add(version.bike_id, entry(version), readings=[reading])
        else:
            with pytest.raises(RecordError, match="front-left: The lengths do not add up"):
                book.rides.add(version.bike_id, entry(version), readings=[reading])


@pytest.mark.parametrize("table", TABLES)
def test_no_table_lets_rows_be_changed_deleted_or_overwritten(book: Logbook, table: str) -> None:
    put_ride(book)
    put_load(book)
    put_sag(book)
    connection = book.connection
    row = dict(connection.execute(f"SELECT * FROM {table}").fetchone())
    column = next(iter(row))
    marks = ", ".join("?" for _ in row)
    for recursive in ("ON", "OFF"):  # OFF: as another program would open the file
        connection.execute(f"PRAGMA recursive_triggers = {recursive}")
        for statement, values in (
            (f"UPDATE {table} SET {column} = {column}", ()),
            (f"DELETE FROM {table}", ()),
            (f"INSERT OR REPLACE INTO {table} VALUES ({marks})", tuple(row.values())),
        ):
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                connection.execute(statement, values)


def test_a_chain_cannot_be_stolen_by_replacing_its_correction(book: Logbook) -> None:
    ride = put_ride(book)
    now = book.rides.amend(ride, settings=[rear_preload(5)])
    row = dict(book.connection.execute("SELECT * FROM setting WHERE replaces IS NOT NULL").fetchone())
    other = {**row, "id": new_id(), "count": 7}
    names, marks = ", ".join(other), ", ".join(f":{name}" for name in other)
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        book.connection.execute(f"INSERT OR REPLACE INTO setting ({names}) VALUES ({marks})", other)
    assert book.rides.get(1) == now


def test_a_correction_stays_within_its_ride_and_leg(book: Logbook) -> None:
    first, second = put_ride(book), put_ride(book, 2)
    stray = replace(fork_reading(), replaces=first.readings[0].id)
    with pytest.raises(RecordError, match="FOREIGN KEY"):
        book.rides.amend(second, readings=[stray])
    with pytest.raises(RecordError, match="FOREIGN KEY"):
        book.rides.amend(first, readings=[replace(stray, leg=LegName.FRONT_RIGHT)])


def test_same_file_is_kept_once_and_a_changed_one_beside_it(book: Logbook) -> None:
    first = put_bike(book)
    assert put_bike(book) == first
    second = book.bikes.put_file(bike_file(BIKE.replace('"6 turns"', '"7 turns"')), TYPED)
    assert second.bike_id == first.bike_id and second.id != first.id
    assert [one.name for one in book.bikes.all_bikes()] == ["Grey twin"]
    assert book.bikes.version(first.id).toml == BIKE


def test_a_load_case_is_replaced_and_rides_keep_theirs(book: Logbook) -> None:
    first = put_load(book)
    version = put_bike(book)
    ride = book.rides.add(version.bike_id, entry(version, load_case_id=first.id))
    second = put_load(book, 85.0)
    assert second.replaces == first.id
    assert book.loads.current(version.bike_id) == (second,)
    assert book.rides.get(ride.number).load_case == first
    assert first.items[0].mass_kg == Quantity(80.0, 0.5)
    assert book.loads.find(version.bike_id, "two up") is None


def test_sag_session(book: Logbook) -> None:
    kept = put_sag(book)
    assert book.sag.current(kept.bike_id) == (kept,)
    assert [one.length_mm.value for one in kept.measurements] == [600, 590, 586]
    assert [one.count for one in kept.settings] == [4]
    better = replace(kept, id=new_id(), replaces=kept.id, note="again", measurements=kept.measurements[:1])
    better = replace(
        better,
        measurements=tuple(replace(m, id=new_id()) for m in better.measurements),
        settings=tuple(replace(one, id=new_id(), count=5.0) for one in better.settings),
    )
    assert book.sag.current(kept.bike_id) == (kept,)
    again = book.sag.add(kept.bike_id, better)
    assert book.sag.current(kept.bike_id) == (again,)


def test_unknown_counts_have_no_number_and_known_ones_do(book: Logbook) -> None:
    version = put_bike(book)
    for setting in (rear_preload(None, Confidence.COUNTED), rear_preload(4, Confidence.UNKNOWN)):
        with pytest.raises(RecordError):
            book.rides.add(version.bike_id, entry(version), [setting])
    ride = book.rides.add(version.bike_id, entry(version), [rear_preload(None, Confidence.UNKNOWN)])
    assert ride.settings[0].count is None


def test_provenance_is_whole() -> None:
    with pytest.raises(RecordError):
        Provenance(Source.PHOTO, "1")
    with pytest.raises(RecordError):
        Provenance(Source.TYPED, "1", photo_name="a.jpg", photo_sha256="ab" * 32)


def test_every_value_has_its_provenance(book: Logbook) -> None:
    ride = put_ride(book)
    assert [one.provenance for one in ride.readings] == [TYPED, PHOTO]
    for table in set(TABLES) - {"provenance", "ride", "felt", "felt_end", "event"}:
        info = book.connection.execute(f"PRAGMA table_info({table})").fetchall()
        assert [row["notnull"] for row in info if row["name"] == "provenance_id"] == [1], table


def test_files_that_are_no_logbooks(tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("not a database")
    with pytest.raises(FileError, match="is not a logbook"):
        Logbook.open(text)
    other = tmp_path / "other.sqlite"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE mine (x)")
    connection.close()
    with pytest.raises(FileError, match="another program"):
        Logbook.open(other)
    with pytest.raises(FileError, match="is a folder"):
        Logbook.open(tmp_path)
    with pytest.raises(FileError, match="There is no logbook"):
        Logbook.open(tmp_path / "none.sqlite", create=False)
    assert not (tmp_path / "none.sqlite").exists()


def test_settings_of_the_connection_are_the_durable_ones(book: Logbook) -> None:
    # SQLite's documentation of PRAGMA synchronous: 3 is EXTRA.
    for pragma, value in (("synchronous", 3), ("foreign_keys", 1), ("journal_mode", "delete")):
        assert book.connection.execute(f"PRAGMA {pragma}").fetchone()[0] == value


def test_error_within_a_transaction_leaves_nothing(book: Logbook) -> None:
    with pytest.raises(ZeroDivisionError), transaction(book.connection):
        book.bikes.put(StoredBike("Other", TYPED))
        raise ZeroDivisionError
    assert book.bikes.all_bikes() == ()
