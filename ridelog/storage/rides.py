"""Rides in the logbook: the facts, the settings and the readings, each corrected by a new row."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from ridelog.errors import RecordError
from ridelog.names import End, Felt
from ridelog.storage.connection import snapshot, transaction, translate_sqlite_errors
from ridelog.storage.folded_names import fold
from ridelog.storage.records import Provenance, Reading, Ride, RideEntry, Setting, StoredBike, new_id
from ridelog.storage.rows import insert, record
from ridelog.storage.tables import CURRENT, Loads, Table
from suspension.errors import SuspensionError
from suspension.stroke.shaft_lengths import ShaftLengths


@dataclass(frozen=True)
class RideHistory:
    """All that was ever recorded of a ride, the oldest first, corrected rows included."""

    entries: tuple[RideEntry, ...]
    settings: tuple[Setting, ...]
    readings: tuple[Reading, ...]


class Rides(Table):
    """Rides by their numbers."""

    def add(
        self,
        bike_id: str,
        entry: RideEntry,
        settings: Iterable[Setting] = (),
        readings: Iterable[Reading] = (),
    ) -> Ride:
        """Record a ride, whole or not at all; it gets the next number.

        Parameters
        ----------
        bike_id : str
        entry : RideEntry
        settings : iterable of Setting
        readings : iterable of Reading
            One may correct another of them, whose identifier its `replaces` names and which comes before it.

        Returns
        -------
        Ride

        Raises
        ------
        RecordError
            Lengths that do not add up, two settings of one adjuster, or what the bike does not have.
        """
        readings = tuple(readings)
        for reading in readings:
            refuse_contradictions(reading)
        with translate_sqlite_errors(self.path), transaction(self.connection):
            ride_id = new_id()
            number = self.one("SELECT coalesce(max(number), 0) + 1 FROM ride")[0]
            insert(self.connection, "ride", {"id": ride_id, "number": number, "bike_id": bike_id})
            self._put_entry(replace(entry, ride_id=ride_id, bike_id=bike_id, replaces=None))
            self.put(
                *(replace(setting, ride_id=ride_id, replaces=None) for setting in settings),
                *(replace(one, ride_id=ride_id, replaces=_among(readings, one.replaces)) for one in readings),
            )
            return self.get(number)

    def amend(
        self,
        seen: Ride,
        *,
        entry: RideEntry | None = None,
        settings: Iterable[Setting] = (),
        readings: Iterable[Reading] = (),
    ) -> Ride:
        """Correct a ride: what is given takes the place of what was seen, and the old rows stay.

        Parameters
        ----------
        seen : Ride
            As it was when the correction was thought of.
        entry : RideEntry, optional
            All facts, changed or not.
        settings : iterable of Setting
            Each takes the place of the one of the same leg and adjuster, or is added.
        readings : iterable of Reading
            Each takes the place of the one that its `replaces` names, or is added.

        Raises
        ------
        RecordError
            Somebody else corrected the same row meanwhile, or lengths that do not add up.
        """
        readings = tuple(readings)
        for reading in readings:
            refuse_contradictions(reading)
        with translate_sqlite_errors(self.path), transaction(self.connection):
            if entry is not None:
                self._put_entry(
                    replace(entry, id=new_id(), ride_id=seen.id, bike_id=seen.bike.id, replaces=seen.entry.id)
                )
            self.put(
                *(
                    replace(setting, ride_id=seen.id, replaces=self._setting_before(seen, setting))
                    for setting in settings
                ),
                *(replace(reading, ride_id=seen.id) for reading in readings),
            )
            return self.get(seen.number)

    def withdraw(self, seen: Ride, provenance: Provenance) -> Ride:
        """Strike a ride out; it stays in the file and in `history`."""
        return self.amend(seen, entry=replace(seen.entry, provenance=provenance, withdrawn=True))

    def withdraw_reading(self, seen: Ride, reading: Reading, provenance: Provenance) -> Ride:
        """Strike one reading out."""
        gone = replace(reading, id=new_id(), replaces=reading.id, provenance=provenance, withdrawn=True)
        return self.amend(seen, readings=(gone,))

    def rename_route(self, bike_id: str, old: str, new: str, provenance: Provenance) -> int:
        """Give a route another name in all rides of a bike, each corrected by a new entry; how many these are.

        Raises
        ------
        RecordError
            No ride names this route, or the new name is empty.
        """
        new = " ".join(new.split())
        with translate_sqlite_errors(self.path), transaction(self.connection):
            rides = [one for one in self.all_rides(bike_id) if fold(one.entry.route or "") == fold(old)]
            if not rides or not new:
                raise RecordError(
                    f"No ride of this bike is over {old}." if new else "The new name is empty.",
                    "strandline ride route lists the routes.",
                )
            for one in rides:
                self._put_entry(
                    replace(one.entry, id=new_id(), replaces=one.entry.id, route=new, provenance=provenance)
                )
            return len(rides)

    def get(self, number: int) -> Ride:
        """Find a ride by its number, withdrawn or not.

        Raises
        ------
        RecordError
            There is none.
        """
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            found = self._whole("ride.number = ?1", number)
            if not found:
                raise RecordError(f"There is no ride {number}.", "strandline ride list shows their numbers.")
            return found[0]

    def all_rides(self, bike_id: str | None = None, *, withdrawn: bool = False) -> tuple[Ride, ...]:
        """All rides by date, of one bike or of all."""
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            rides = self._whole("?1 IS NULL OR ride.bike_id = ?1", bike_id)
        kept = [ride for ride in rides if withdrawn or not ride.withdrawn]
        return tuple(sorted(kept, key=lambda ride: (ride.entry.date, ride.number)))

    def history(self, number: int) -> RideHistory:
        """All that was ever recorded of a ride.

        Raises
        ------
        RecordError
            There is none.
        """
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            ride = self.get(number)
            return RideHistory(
                self._entries("ride_id = ?1", ride.id),
                self.records(Setting, "ride_id = ?", ride.id),
                self.records(Reading, "ride_id = ?", ride.id),
            )

    def _put_entry(self, entry: RideEntry) -> None:
        self.put(entry)
        for word in entry.felt:
            insert(self.connection, "felt", {"ride_entry_id": entry.id, "word": word.value})
        for end, words in ((End.FRONT, entry.felt_front), (End.REAR, entry.felt_rear)):
            for word in words:
                row = {"ride_entry_id": entry.id, "word": word.value, "axle": end.value}
                insert(self.connection, "felt_end", row)
        for what, texts in (("found", entry.events), ("cleared", entry.events_cleared)):
            for text in texts:
                insert(self.connection, "event", {"ride_entry_id": entry.id, "what": what, "words": text})

    def _setting_before(self, seen: Ride, setting: Setting) -> str | None:
        """Find the row that a setting takes the place of: the one seen, else one that was withdrawn."""
        for one in seen.settings:
            if (one.leg, one.adjuster) == (setting.leg, setting.adjuster):
                return one.id
        row = self.one(
            "SELECT id FROM setting WHERE ride_id = ? AND leg = ? AND adjuster = ? AND withdrawn = 1 "
            f"AND {CURRENT.format('setting')}",
            seen.id,
            setting.leg.value,
            setting.adjuster,
        )
        return None if row is None else str(row["id"])

    def _entries(self, where: str, *values: object) -> tuple[RideEntry, ...]:
        """Find entries with how the rides felt and their events, in four queries; `where` takes numbered values."""
        felt, at, events = defaultdict(list), defaultdict(list), defaultdict(list)
        of_entries = f"ride_entry_id IN (SELECT ride_entry.id FROM ride_entry WHERE {where})"
        for row in self.all(f"SELECT * FROM felt WHERE {of_entries} ORDER BY rowid", *values):
            felt[row["ride_entry_id"]].append(Felt(row["word"]))
        for row in self.all(f"SELECT * FROM felt_end WHERE {of_entries} ORDER BY rowid", *values):
            at[row["ride_entry_id"], row["axle"]].append(Felt(row["word"]))
        for row in self.all(f"SELECT * FROM event WHERE {of_entries} ORDER BY rowid", *values):
            events[row["ride_entry_id"], row["what"]].append(row["words"])
        return tuple(
            record(
                RideEntry,
                row,
                felt=tuple(felt[row["id"]]),
                felt_front=tuple(at[row["id"], "front"]),
                felt_rear=tuple(at[row["id"], "rear"]),
                events=tuple(events[row["id"], "found"]),
                events_cleared=tuple(events[row["id"], "cleared"]),
            )
            for row in self.rows(RideEntry, where, *values)
        )

    def _whole(self, where: str, *values: object) -> list[Ride]:
        """Find rides as they stand now, by their numbers, in eleven queries and one a bike, however many they are.

        Parameters
        ----------
        where : str
            Condition on ride, with numbered values.
        """
        of_rides = f"ride_id IN (SELECT ride.id FROM ride WHERE {where})"
        now = f"{of_rides} AND withdrawn = 0 AND {CURRENT}"
        entries = self._entries(f"{of_rides} AND {CURRENT.format('ride_entry')}", *values)
        settings, readings = defaultdict(list), defaultdict(list)
        for setting in self.records(Setting, now.format("setting"), *values):
            settings[setting.ride_id].append(setting)
        for reading in self.records(Reading, now.format("reading"), *values):
            readings[reading.ride_id].append(reading)
        bikes = self.records(StoredBike, f"bike.id IN (SELECT bike_id FROM ride WHERE {where})", *values)
        cases = Loads(self.connection, self.path).whole(
            f"load_case.id IN (SELECT load_case_id FROM ride_entry WHERE {of_rides})", *values
        )
        names: dict[str, str] = {}
        for (
            bike
        ) in bikes:  # the commands ask for one bike's rides, or for those of the few that a logbook has
            names |= Loads(self.connection, self.path).names(bike.id)
        entry_of = {entry.ride_id: entry for entry in entries}
        bike_of = {bike.id: bike for bike in bikes}
        case_of = {case.id: replace(case, name=names[case.id]) for case in cases}
        return [
            Ride(
                number=row["number"],
                id=row["id"],
                bike=bike_of[row["bike_id"]],
                entry=entry_of[row["id"]],
                load_case=case_of.get(entry_of[row["id"]].load_case_id or ""),
                settings=tuple(settings[row["id"]]),
                readings=tuple(readings[row["id"]]),
            )
            for row in self.all(f"SELECT * FROM ride WHERE {where} ORDER BY number", *values)
        ]


def _among(readings: tuple[Reading, ...], replaces: str | None) -> str | None:
    """Keep the identifier of a reading that another one corrects, where it is one of these."""
    return replaces if any(one.id == replaces for one in readings) else None


def refuse_contradictions(reading: Reading) -> None:
    """Refuse lengths that were measured separately and do not add up.

    Raises
    ------
    RecordError
    """
    try:
        ShaftLengths(reading.exposed_mm, reading.marker_mm, reading.remaining_mm)
    except SuspensionError as error:
        raise RecordError(f"{reading.leg.value}: {error.message}", error.remedy) from error
