"""A bike and records to put into logbooks."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

from ridelog.bikes.file import BikeFile, parse_bike
from ridelog.names import AdjusterKind, Confidence, CountedFrom, End, Felt, LegName
from ridelog.storage.records import (
    Approach,
    AxleLoad,
    BikeVersion,
    Load,
    LoadCase,
    LoadItem,
    Provenance,
    Reading,
    Ride,
    RideEntry,
    SagLength,
    SagMeasurement,
    SagSession,
    SagSetting,
    Setting,
    Source,
)
from ridelog.storage.store import Logbook
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import State
from suspension.stroke.marker import MarkerKind

TYPED = Provenance(Source.TYPED, "0.0-test", who="A. Tester")
PHOTO = Provenance(Source.PHOTO, "0.0-test", photo_name="IMG_1.jpg", photo_sha256="ab" * 32)

REAR = """\
[leg.rear]
layout = "shock"
shaft = "14.0 mm"
extended = "80 mm"
bumper_free = "20 mm"
bumper_crushed = "8 mm"

[leg.rear.marker]
kind = "o-ring"
width = "2.5 mm"

[leg.rear.adjuster.preload]
kind = "clicks"
steps = "15 clicks"
step = "1.0 mm"
"""

# Fork and shock as in the trade's check values: fork E0 205, S 120; shock E0 80 to the bumper's face, b 20, bs 8.
BIKE = (
    """\
format = 1
name = "Grey twin"            # ours
use = "street"
wheelbase = "1460 mm"
mass = "210 kg"
total_limit = "400 kg"

[front]
rake = "25 deg"
wheel_travel = "108 mm"
limit = "160 kg"

[rear]
motion_ratio = [
  ["0 mm", 0.80],             # soft end
  ["40 mm", 0.74],
]
limit = "260 kg"

[leg.front-left]
layout = "fork"
shaft = "41.0 mm"
extended = "205 mm"
stroke = "120 mm"

[leg.front-left.marker]
kind = "o-ring"
width = "3.6 mm"

[leg.front-left.spring]
rate = "9.0 N/mm"

[leg.front-left.adjuster.preload]
kind = "turns"
steps = "6 turns"
step = "1.5 mm"

[leg.front-left.adjuster.rebound]
kind = "clicks"
steps = "20 clicks"

[leg.front-right]
same_as = "front-left"

"""
    + REAR
)


def bike_file(text: str = BIKE) -> BikeFile:
    return parse_bike(text, "grey-twin.toml")


def length(value_mm: float, u95_mm: float = 0.5) -> Quantity:
    return Quantity(value_mm, u95_mm / 2)


def fork_reading(provenance: Provenance = TYPED, leg: LegName = LegName.FRONT_LEFT) -> Reading:
    return Reading(
        leg,
        provenance,
        State.ON_WHEELS,
        length(175),
        length(62),
        length(113),
        marker_kind=MarkerKind.O_RING,
        marker_width_mm=length(3.6, 0.1),
    )


def remaining(leg: LegName, mm: float, *, at_stop: bool | None = None) -> Reading:
    """Make a reading of the remaining length alone, as one measures it with a ruler."""
    return Reading(leg, TYPED, State.UNKNOWN, remaining_mm=length(mm), at_stop=at_stop)


def rear_preload(count: float | None = 4, confidence: Confidence = Confidence.COUNTED) -> Setting:
    return Setting(
        LegName.REAR, "preload", AdjusterKind.CLICKS, CountedFrom.SOFT, TYPED, count, confidence=confidence
    )


def entry(version: BikeVersion, day: int = 1, **more: object) -> RideEntry:
    fields: dict[str, object] = {"route": "Ridge loop", "felt": (Felt.HARSH, Felt.DIVES), **more}
    return RideEntry(dt.date(2026, 5, day), version.id, TYPED, **fields)  # type: ignore[arg-type]


def put_bike(logbook: Logbook) -> BikeVersion:
    return logbook.bikes.put_file(bike_file(), TYPED)


def put_ride(logbook: Logbook, day: int = 1) -> Ride:
    version = put_bike(logbook)
    facts = entry(version, day, felt_front=(Felt.DIVES,), events=("oil leak front",))
    return logbook.rides.add(version.bike_id, facts, [rear_preload()], [fork_reading(), fork_reading(PHOTO)])


def new_logbook(folder: Path) -> Logbook:
    return Logbook.open(folder / "book" / "logbook.sqlite")


def put_load(book: Logbook, mass: float = 80.0) -> LoadCase:
    version = put_bike(book)
    rider = LoadItem(Load.RIDER, TYPED, Quantity(mass, 0.5), length(700, 20))
    bag = LoadItem(Load.LUGGAGE, TYPED, Quantity(12, 0.5), None, "tail bag")
    scale = AxleLoad(End.REAR, Quantity(160, 0.5), TYPED)
    return book.loads.put_case(version.bike_id, LoadCase("solo", TYPED, (rider, bag), (scale,)))


def put_sag(book: Logbook) -> SagSession:
    version = put_bike(book)
    lengths = tuple(
        SagMeasurement(LegName.REAR, SagLength.AXLE_TO_TAIL, state, length(value), TYPED, approach)
        for state, value, approach in (
            (State.HANGING, 600.0, Approach.NOT_STATED),
            (State.ON_WHEELS, 590.0, Approach.FROM_BELOW),
            (State.ON_WHEELS, 586.0, Approach.FROM_ABOVE),
        )
    )
    counts = (SagSetting(LegName.REAR, "preload", AdjusterKind.CLICKS, CountedFrom.SOFT, TYPED, 4),)
    return book.sag.add(version.bike_id, SagSession(entry(version).date, version.id, TYPED, lengths, counts))


def fill(book: Logbook) -> None:
    put_load(book)
    put_sag(book)
    ride = put_ride(book)
    facts = replace(ride.entry, route='"odd", text;\r\nwith lines', felt=(), felt_front=(), events=())
    book.rides.amend(ride, entry=facts)
