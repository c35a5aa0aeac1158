"""Stroke used at a kept reading, by the bike's file as it was at that ride."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.bikes.bike import Bike, BikeLeg
from ridelog.bikes.file import parse_bike
from ridelog.errors import LogbookError
from ridelog.storage.records import Reading, Ride
from ridelog.storage.store import Logbook
from suspension.errors import SuspensionError
from suspension.stroke.marker import Marker, MarkerKind
from suspension.stroke.question import StrokeQuestion
from suspension.stroke.shaft_lengths import ShaftLengths
from suspension.stroke.stroke import StrokeAnswer, answer_stroke


def bike_then(logbook: Logbook, ride: Ride) -> Bike:
    """Give the bike as its file described it for this ride."""
    return parse_bike(logbook.bikes.version(ride.entry.bike_version_id).toml, ride.bike.name).bike


def bikes_then(logbook: Logbook, rides: Sequence[Ride], bike_id: str | None = None) -> dict[str, Bike]:
    """Give the bikes as their files described them for rides, by the versions that the rides name.

    Parameters
    ----------
    logbook : Logbook
    rides : sequence of Ride
    bike_id : str, optional
        Where all are of this bike.
    """
    versions = logbook.bikes.versions(bike_id)
    names = {ride.entry.bike_version_id: ride.bike.name for ride in rides}
    return {version: parse_bike(versions[version].toml, name).bike for version, name in names.items()}


def answer_for(reading: Reading, bike: Bike) -> StrokeAnswer | SuspensionError | LogbookError:
    """Work out the stroke of a reading, or give the reason why that cannot be done."""
    try:
        return answer_stroke(stroke_question(reading, bike.leg(reading.leg)))
    except (SuspensionError, LogbookError) as error:
        return error


def stroke_question(reading: Reading, leg: BikeLeg) -> StrokeQuestion:
    """Put a reading and its leg together.

    The marker is the one that was on the shaft at the reading; where that was not recorded, the bike's.

    Raises
    ------
    suspension.errors.SuspensionError
        Lengths that contradict each other.
    """
    unknown = reading.marker_kind is MarkerKind.UNKNOWN
    own = leg.marker
    return StrokeQuestion(
        lengths=ShaftLengths(
            reading.exposed_mm, reading.marker_mm, reading.remaining_mm, covariance(reading)
        ),
        leg=leg.leg,
        marker=Marker(
            own.kind if unknown else reading.marker_kind,
            own.width_mm if reading.marker_width_mm is None else reading.marker_width_mm,
            own.lock if unknown else reading.marker_lock,
        ),
        state=reading.state,
        at_stop=reading.at_stop,
        reset_compression_mm=reading.reset_compression_mm,
    )


def covariance(reading: Reading) -> tuple[tuple[float, ...], ...] | None:
    """Covariance of (E, d, gn), mm squared, as far as it was kept; None where they share no error."""
    shared = (reading.exposed_marker_mm2, reading.exposed_remaining_mm2, reading.marker_remaining_mm2)
    if all(one is None for one in shared):
        return None
    ed, eg, dg = (0.0 if one is None else one for one in shared)
    lengths = (reading.exposed_mm, reading.marker_mm, reading.remaining_mm)
    e, d, g = (0.0 if one is None else one.sigma**2 for one in lengths)
    return (e, ed, eg), (ed, d, dg), (eg, dg, g)
