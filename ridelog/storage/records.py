"""What the logbook keeps, as it is handed in and out: frozen rows, each with where its values come from."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from enum import StrEnum

from ridelog.names import AdjusterKind, Confidence, CountedFrom, End, Felt, LegName
from ridelog.storage.provenance import Provenance as Provenance
from ridelog.storage.provenance import Source as Source
from ridelog.storage.provenance import new_id as new_id
from ridelog.storage.provenance import now_utc as now_utc
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import State
from suspension.stroke.marker import LockFacing, MarkerKind


@dataclass(frozen=True)
class StoredBike:
    """A bike's identity; what is known of it stands in its versions."""

    name: str
    provenance: Provenance
    id: str = field(default_factory=new_id)


@dataclass(frozen=True)
class BikeVersion:
    """A bike's file as it was at one time."""

    bike_id: str
    toml: str
    sha256: str
    provenance: Provenance
    id: str = field(default_factory=new_id)


class Load(StrEnum):
    """What is carried."""

    RIDER = "rider"
    PASSENGER = "passenger"
    LUGGAGE = "luggage"
    FUEL = "fuel"
    OTHER = "other"


@dataclass(frozen=True)
class LoadItem:
    """One thing that is carried.

    Attributes
    ----------
    mass_kg : Quantity or None
    aft_mm : Quantity or None
        Its place behind the front axle, mm.
    """

    what: Load
    provenance: Provenance
    mass_kg: Quantity | None = None
    aft_mm: Quantity | None = None
    label: str | None = None
    load_case_id: str = ""
    id: str = field(default_factory=new_id)


@dataclass(frozen=True)
class AxleLoad:
    """What a scale said under one wheel."""

    axle: End
    mass_kg: Quantity
    provenance: Provenance
    load_case_id: str = ""
    id: str = field(default_factory=new_id)


@dataclass(frozen=True)
class LoadCase:
    """A load by its name, such as "solo", and what it is made of; without items only the name is known."""

    name: str
    provenance: Provenance
    items: tuple[LoadItem, ...] = ()
    axle_loads: tuple[AxleLoad, ...] = ()
    bike_id: str = ""
    replaces: str | None = None
    withdrawn: bool = False
    id: str = field(default_factory=new_id)


@dataclass(frozen=True)
class RideEntry:
    """The facts of a ride; a correction is another entry of the same ride.

    Attributes
    ----------
    felt : tuple of Felt
        All words, at whichever end.
    felt_front, felt_rear : tuple of Felt
        Those of `felt` that were said of this end; a word in neither was said of the whole bike.
    events : tuple of str
        What must be looked at before the bike is ridden again: a leak, a knock, a crack.
    events_cleared : tuple of str
        Events of this ride or of earlier ones that were looked at.
    temperature_c : float or None
        Of the air, degrees Celsius.
    front_pressure_kpa, rear_pressure_kpa : float or None
        Tyres, cold, gauge, kPa.
    """

    date: dt.date
    bike_version_id: str
    provenance: Provenance
    route: str | None = None
    load_case_id: str | None = None
    felt: tuple[Felt, ...] = ()
    felt_front: tuple[Felt, ...] = ()
    felt_rear: tuple[Felt, ...] = ()
    events: tuple[str, ...] = ()
    events_cleared: tuple[str, ...] = ()
    temperature_c: float | None = None
    front_pressure_kpa: float | None = None
    rear_pressure_kpa: float | None = None
    note: str | None = None
    bike_id: str = ""
    ride_id: str = ""
    replaces: str | None = None
    withdrawn: bool = False
    id: str = field(default_factory=new_id)

    def felt_at(self, end: End) -> frozenset[Felt]:
        """Find what was felt at an end: words said of it, and those said of the whole bike."""
        own, other = (
            (self.felt_front, self.felt_rear) if end is End.FRONT else (self.felt_rear, self.felt_front)
        )
        return frozenset(word for word in self.felt if word in own or word not in other)

    def pressure_kpa(self, end: End) -> float | None:
        """Pressure of one tyre, cold, gauge, kPa."""
        return self.front_pressure_kpa if end is End.FRONT else self.rear_pressure_kpa


@dataclass(frozen=True)
class AdjusterCount:
    """One adjuster's count.

    Attributes
    ----------
    count : float or None
        In `kind`, from the end that `counted_from` names; None exactly where the confidence is unknown.
    """

    leg: LegName
    adjuster: str
    kind: AdjusterKind
    counted_from: CountedFrom
    provenance: Provenance
    count: float | None = None
    confidence: Confidence = Confidence.COUNTED


@dataclass(frozen=True)
class Setting(AdjusterCount):
    """One adjuster's count on a ride."""

    ride_id: str = ""
    replaces: str | None = None
    withdrawn: bool = False
    id: str = field(default_factory=new_id)


@dataclass(frozen=True)
class Reading:
    """The lengths on one leg's shaft after a ride.

    Attributes
    ----------
    exposed_mm, marker_mm, remaining_mm : Quantity or None
        Seal to far end E, seal to the marker's near edge d, that edge to the far end gn.
    at_stop : bool or None
        The marker touches or is inside the far end: "at least".
    marker_width_mm : Quantity or None
    reset_compression_mm : Quantity or None
        Compression when the marker was last slid to the seal.
    exposed_marker_mm2, exposed_remaining_mm2, marker_remaining_mm2 : float or None
        Covariances of lengths from one photo, mm squared.
    """

    leg: LegName
    provenance: Provenance
    state: State = State.UNKNOWN
    exposed_mm: Quantity | None = None
    marker_mm: Quantity | None = None
    remaining_mm: Quantity | None = None
    at_stop: bool | None = None
    marker_kind: MarkerKind = MarkerKind.UNKNOWN
    marker_lock: LockFacing = LockFacing.UNKNOWN
    marker_width_mm: Quantity | None = None
    reset_compression_mm: Quantity | None = None
    exposed_marker_mm2: float | None = None
    exposed_remaining_mm2: float | None = None
    marker_remaining_mm2: float | None = None
    ride_id: str = ""
    replaces: str | None = None
    withdrawn: bool = False
    id: str = field(default_factory=new_id)


@dataclass(frozen=True)
class Ride:
    """A ride as it stands now, corrections applied; `Rides.history` has what was replaced."""

    number: int
    id: str
    bike: StoredBike
    entry: RideEntry
    load_case: LoadCase | None
    settings: tuple[Setting, ...]
    readings: tuple[Reading, ...]

    @property
    def withdrawn(self) -> bool:
        """Whether the whole ride was struck out."""
        return self.entry.withdrawn


class Approach(StrEnum):
    """From where the bike settled before a length was taken; the two together cancel friction."""

    FROM_BELOW = "from-below"
    FROM_ABOVE = "from-above"
    NOT_STATED = "not-stated"


class SagLength(StrEnum):
    """What was measured."""

    AXLE_TO_TAIL = "axle-to-tail"
    EXPOSED = "exposed"


@dataclass(frozen=True)
class SagMeasurement:
    """One length of a session; `place` is an end for axle to tail, a leg for an exposed length."""

    place: LegName
    what: SagLength
    state: State
    length_mm: Quantity
    provenance: Provenance
    approach: Approach = Approach.NOT_STATED
    sag_session_id: str = ""
    id: str = field(default_factory=new_id)


@dataclass(frozen=True)
class SagSetting(AdjusterCount):
    """One adjuster's count while sag was measured."""

    sag_session_id: str = ""
    id: str = field(default_factory=new_id)


@dataclass(frozen=True)
class SagSession:
    """Lengths taken to find sag, in one go, and the counts then; a correction is another session with all of them."""

    date: dt.date
    bike_version_id: str
    provenance: Provenance
    measurements: tuple[SagMeasurement, ...] = ()
    settings: tuple[SagSetting, ...] = ()
    load_case_id: str | None = None
    note: str | None = None
    bike_id: str = ""
    replaces: str | None = None
    withdrawn: bool = False
    id: str = field(default_factory=new_id)
