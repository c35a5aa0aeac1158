"""What the logbook keeps, as it is handed in and out: frozen rows, each with where its values come from."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass, field
from enum import StrEnum

from ridelog.errors import RecordError
from ridelog.names import AdjusterKind, Basis, Confidence, CountedFrom, End, Felt, LegName
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import State
from suspension.stroke.marker import LockFacing, MarkerKind


def new_id() -> str:
    """Make an identifier that no other row of any logbook has."""
    return uuid.uuid4().hex


def now_utc() -> str:
    """Give the time as the logbook writes it: UTC, ISO 8601, to the millisecond."""
    return dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Source(StrEnum):
    """How a value came into the logbook."""

    PHOTO = "photo"
    TYPED = "typed"


@dataclass(frozen=True)
class Provenance:
    """Where a value comes from.

    Attributes
    ----------
    source : Source
    program_version : str
        Of the program that read or recorded it.
    basis : Basis
    photo_name, photo_sha256 : str or None
        Of a photo: its name and its content's hash.
    who : str or None
        Who typed or took it; optional.
    recorded_at : str
        UTC.

    Raises
    ------
    RecordError
        A photo without its hash, or a typed value with one.
    """

    source: Source
    program_version: str
    basis: Basis = Basis.MEASURED
    photo_name: str | None = None
    photo_sha256: str | None = None
    who: str | None = None
    recorded_at: str = field(default_factory=now_utc)
    id: str = field(default_factory=new_id)

    def __post_init__(self) -> None:
        of_photo = self.source is Source.PHOTO
        if of_photo != (self.photo_sha256 is not None) or of_photo != (self.photo_name is not None):
            raise RecordError(
                "A value from a photo needs the photo's name and hash, and a typed one has none.",
                "Give both, or say that it was typed.",
            )


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
    temperature_c: float | None = None
    front_pressure_kpa: float | None = None
    rear_pressure_kpa: float | None = None
    note: str | None = None
    bike_id: str = ""
    ride_id: str = ""
    replaces: str | None = None
    withdrawn: bool = False
    id: str = field(default_factory=new_id)


@dataclass(frozen=True)
class Setting:
    """One adjuster's count on a ride.

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
class SagSession:
    """Lengths taken to find sag, in one go; a correction is another session with all of them."""

    date: dt.date
    bike_version_id: str
    provenance: Provenance
    measurements: tuple[SagMeasurement, ...] = ()
    load_case_id: str | None = None
    note: str | None = None
    bike_id: str = ""
    replaces: str | None = None
    withdrawn: bool = False
    id: str = field(default_factory=new_id)
