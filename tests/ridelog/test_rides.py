"""Rides among others: each keeps its own entry, settings, readings and load, in order."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.errors import RecordError
from ridelog.names import End, Felt, LegName
from ridelog.storage.records import Provenance, Reading, Ride, Source, new_id
from ridelog.storage.rides import refuse_contradictions
from ridelog.storage.store import Logbook
from suspension.quantities.quantity import Quantity
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
    rear_preload,
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with new_logbook(tmp_path) as logbook:
        yield logbook


def put(book: Logbook, day: int, exposed: float, count: float) -> Ride:
    """Make a ride that differs from the others in everything."""
    version = put_bike(book)
    reading = replace(
        fork_reading(PHOTO), id=new_id(), exposed_mm=length(exposed), remaining_mm=length(exposed - 62)
    )
    felt = (Felt.DIVES, Felt.HARSH) if day % 2 else ()
    load = put_load(book, 80.0 + day) if day % 2 else None
    facts = entry(
        version, day, route=f"loop {day}", felt=felt, load_case_id=None if load is None else load.id
    )
    return book.rides.add(version.bike_id, facts, [rear_preload(count)], [reading])


def test_rides_are_read_together_as_they_are_read_alone(book: Logbook) -> None:
    put_rides = [put(book, day, 170.0 + day, float(day)) for day in (4, 1, 3, 2)]
    together = book.rides.all_rides()
    assert [ride.entry.date.day for ride in together] == [1, 2, 3, 4]
    assert [ride.number for ride in together] == [2, 4, 3, 1]
    assert [*together] == sorted(put_rides, key=lambda ride: ride.entry.date)
    for ride in together:
        day = ride.entry.date.day
        assert ride == book.rides.get(ride.number)
        assert [one.exposed_mm for one in ride.readings] == [length(170.0 + day)]
        assert [one.count for one in ride.settings] == [float(day)]
        assert ride.entry.felt == ((Felt.DIVES, Felt.HARSH) if day % 2 else ())
        masses = [] if ride.load_case is None else [item.mass_kg for item in ride.load_case.items]
        assert [one.value for one in masses if one is not None] == ([80.0 + day, 12.0] if day % 2 else [])


def test_rides_of_one_bike(book: Logbook) -> None:
    ours = put(book, 1, 171.0, 1.0)
    version = book.bikes.put_file(bike_file(BIKE.replace("Grey twin", "Red one")), TYPED)
    theirs = book.rides.add(version.bike_id, entry(version, 2))
    assert book.rides.all_rides(ours.bike.id) == (ours,)
    assert book.rides.all_rides(version.bike_id) == (theirs,)
    assert [ride.bike.name for ride in book.rides.all_rides()] == ["Grey twin", "Red one"]


def test_corrections_of_one_ride_do_not_touch_another(book: Logbook) -> None:
    first, second = put(book, 1, 171.0, 1.0), put(book, 2, 172.0, 2.0)
    now = book.rides.amend(
        first,
        entry=replace(first.entry, felt=(Felt.BOTTOMED,), load_case_id=None),
        settings=[rear_preload(9)],
    )
    assert (now.entry.felt, now.load_case) == ((Felt.BOTTOMED,), None)
    assert [one.count for one in now.settings] == [9.0]
    assert book.rides.all_rides() == (now, second)
    history = book.rides.history(first.number)
    assert [one.felt for one in history.entries] == [(Felt.DIVES, Felt.HARSH), (Felt.BOTTOMED,)]
    assert [one.count for one in history.settings] == [1.0, 9.0]


def test_a_withdrawn_setting_can_be_set_again(book: Logbook) -> None:
    ride = put(book, 1, 171.0, 1.0)
    gone = book.rides.amend(ride, settings=[replace(ride.settings[0], id=new_id(), withdrawn=True)])
    assert gone.settings == ()
    again = book.rides.amend(gone, settings=[rear_preload(3)])
    assert [one.count for one in again.settings] == [3.0]
    assert [one.count for one in book.rides.history(1).settings] == [1.0, 1.0, 3.0]


def test_a_new_ride_replaces_nothing(book: Logbook) -> None:
    """Records taken from another ride, as a copy, do not correct it."""
    first = put(book, 1, 171.0, 1.0)
    now = book.rides.amend(first, settings=[rear_preload(2)])
    copied = [replace(one, id=new_id()) for one in now.settings]
    reading = replace(first.readings[0], id=new_id(), replaces=first.readings[0].id)
    second = book.rides.add(
        now.bike.id, replace(now.entry, id=new_id(), replaces=now.entry.id), copied, [reading]
    )
    assert (second.entry.replaces, second.settings[0].replaces, second.readings[0].replaces) == (None,) * 3
    assert book.rides.get(first.number) == now


def test_a_setting_that_was_not_recorded_is_added(book: Logbook) -> None:
    ride = put(book, 1, 171.0, 1.0)
    more = book.rides.amend(ride, settings=[replace(rear_preload(2), leg=LegName.FRONT_LEFT)])
    assert {(one.leg, one.count) for one in more.settings} == {(LegName.REAR, 1.0), (LegName.FRONT_LEFT, 2.0)}
    assert all(one.replaces is None for one in more.settings)


def test_what_is_new_goes_to_the_ride_that_was_seen(book: Logbook) -> None:
    """Records come without their ride's identifiers, and get those of the ride that is corrected."""
    first, second = put(book, 1, 171.0, 1.0), put(book, 2, 172.0, 2.0)
    facts = entry(put_bike(book), 5, route="another", felt=())
    assert facts.ride_id == facts.bike_id == ""
    now = book.rides.amend(first, entry=facts, readings=[fork_reading(leg=LegName.FRONT_RIGHT)])
    assert (now.entry.route, now.entry.ride_id, now.entry.bike_id) == ("another", first.id, first.bike.id)
    assert [one.leg for one in now.readings] == [LegName.FRONT_LEFT, LegName.FRONT_RIGHT]
    assert {one.ride_id for one in now.readings} == {first.id}
    assert book.rides.get(second.number) == second


def test_what_is_struck_out_says_who_struck_it_out(book: Logbook) -> None:
    ride = put(book, 1, 171.0, 1.0)
    another = Provenance(Source.TYPED, "0.2-test", who="B. Other")
    without = book.rides.withdraw_reading(ride, ride.readings[0], another)
    assert without.readings == ()
    kept, gone = book.rides.history(1).readings
    assert (kept.provenance, gone.provenance) == (PHOTO, another)
    assert (gone.replaces, gone.withdrawn, gone.exposed_mm) == (kept.id, True, kept.exposed_mm)
    struck = book.rides.withdraw(without, another)
    assert struck.withdrawn and struck.entry.provenance == another


def test_a_ride_that_is_not_there(book: Logbook) -> None:
    with pytest.raises(RecordError, match="There is no ride 7"):
        book.rides.get(7)
    with pytest.raises(RecordError, match="There is no ride 7"):
        book.rides.history(7)


def test_lengths_that_do_not_add_up_are_refused_with_their_leg() -> None:
    # The trade: d + gn misses E by over 2 mm.
    wrong = replace(fork_reading(leg=LegName.FRONT_RIGHT), remaining_mm=length(115.1))
    with pytest.raises(RecordError, match="front-right: The lengths do not add up"):
        refuse_contradictions(wrong)
    refuse_contradictions(replace(wrong, remaining_mm=length(114.9)))


def test_what_was_felt_belongs_to_an_end_or_to_the_whole_bike(book: Logbook) -> None:
    version = put_bike(book)
    both = (Felt.HARSH, Felt.DIVES, Felt.WALLOWS)
    facts = entry(version, felt=both, felt_front=(Felt.DIVES, Felt.HARSH), felt_rear=(Felt.HARSH,))
    kept = book.rides.add(version.bike_id, facts).entry
    assert kept.felt_at(End.FRONT) == set(both)
    assert kept.felt_at(End.REAR) == {Felt.HARSH, Felt.WALLOWS}


def test_events_are_kept_with_their_entry_and_corrected_with_it(book: Logbook) -> None:
    version = put_bike(book)
    ride = book.rides.add(version.bike_id, entry(version, events=("oil leak front", "hard knock")))
    assert ride.entry.events == ("oil leak front", "hard knock")
    facts = replace(ride.entry, events=("hard knock",), events_cleared=("hard knock",))
    now = book.rides.amend(ride, entry=facts).entry
    assert (now.events, now.events_cleared) == (("hard knock",), ("hard knock",))
    assert book.rides.history(ride.number).entries[0].events == ("oil leak front", "hard knock")


def test_a_word_of_an_end_that_was_not_felt_is_refused(book: Logbook) -> None:
    version = put_bike(book)
    with pytest.raises(RecordError):
        book.rides.add(version.bike_id, entry(version, felt=(), felt_front=(Felt.DIVES,)))


def test_a_reading_by_hand_is_kept_beside_the_programs_own(book: Logbook) -> None:
    version = put_bike(book)
    own = Reading(LegName.REAR, PHOTO, exposed_mm=Quantity(75.0, 0.5))
    by_hand = replace(PHOTO, id=new_id(), by_hand=True, who="A. Tester")
    better = Reading(LegName.REAR, by_hand, exposed_mm=Quantity(70.0, 0.4), replaces=own.id)
    stranger = Reading(LegName.REAR, PHOTO, exposed_mm=Quantity(60.0, 0.4), replaces="e" * 32)
    ride = book.rides.add(version.bike_id, entry(version), (), (own, better, stranger))
    assert [one.exposed_mm and one.exposed_mm.value for one in ride.readings] == [70.0, 60.0]
    assert ride.readings[0].provenance == by_hand and ride.readings[1].replaces is None
    kept = book.rides.history(ride.number).readings
    assert [(one.provenance.by_hand, one.replaces) for one in kept[:2]] == [(False, None), (True, own.id)]


def test_typed_values_have_no_marks_set_by_hand() -> None:
    with pytest.raises(RecordError, match="in a photo"):
        Provenance(Source.TYPED, "1", by_hand=True)
