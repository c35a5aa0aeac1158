"""A session of sag: measured now and kept in the logbook, or the latest one kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ridelog.bikes.file import BikeFile
from ridelog.errors import RecordError
from ridelog.names import Use
from ridelog.storage.folded_names import fold
from ridelog.storage.records import Provenance, SagMeasurement, SagSession
from ridelog.storage.store import Logbook
from strandline.facts.sag import PlaceSag, place_sags
from strandline.sag.parse import SagOptions, counts, measurements
from strandline.shared.load_names import check_load
from strandline.shared.parse import today
from strandline.shared.photo_days import latest_day
from suspension.stroke.leg import State


@dataclass(frozen=True)
class SagRequest:
    """What was asked for.

    Attributes
    ----------
    file : BikeFile
    use : Use or None
        Whose usual range of sag.
    load : str or None
        Name of what the bike carried.
    date : date or None
        None where nobody said: that of its photos, or today.
    origin : Provenance
        Of what was typed.
    options : SagOptions
        The lengths and photos as typed.
    """

    file: BikeFile
    use: Use | None
    load: str | None
    date: dt.date | None
    origin: Provenance
    options: SagOptions


@dataclass(frozen=True)
class SagResult:
    """A session, the name of its load, and what it comes to."""

    session: SagSession
    load: str | None
    sags: tuple[PlaceSag, ...]


def nothing_kept() -> RecordError:
    """Make the error where the logbook has no sag to show."""
    return RecordError("The logbook has no sag of this bike.", "Measure it: see strandline sag --help.")


def measured_sag(request: SagRequest, read_before: Sequence[SagMeasurement] = ()) -> SagResult:
    """Work out what was measured now.

    Parameters
    ----------
    request : SagRequest
    read_before : sequence of SagMeasurement
        Lengths of photos that were read already, beside those of the options.

    Raises
    ------
    RecordError, AmountError, SuspensionError
    """
    measured = measurements(request.options, request.file.bike, request.origin)
    lengths = (*measured.lengths, *read_before)
    settings = counts(request.options, request.file.bike, request.origin)
    date = request.date or latest_day(measured.taken) or today()
    session = SagSession(date, "", request.origin, lengths, settings)
    return SagResult(session, request.load, place_sags(session, request.file.bike, request.use))


def keep_sag(logbook: Logbook, request: SagRequest, session: SagSession) -> None:
    """Record a session with the bike's file as it is now."""
    version = logbook.bikes.put_file(request.file, request.origin)
    case = logbook.loads.named(version.bike_id, request.load, request.origin) if request.load else None
    kept = replace(session, bike_version_id=version.id, load_case_id=None if case is None else case.id)
    logbook.sag.add(version.bike_id, kept)


def latest_sag(logbook: Logbook, request: SagRequest) -> SagResult:
    """Work out the latest session kept, of the load asked for or of any.

    Raises
    ------
    RecordError
        None is kept.
    """
    known = logbook.bikes.find(request.file.bike.name)
    found = () if known is None else logbook.sag.current(known.id)
    names = {} if known is None else logbook.loads.names(known.id)
    loads = [names.get(one.load_case_id or "") for one in found]
    of_load = [
        (session, load)
        for session, load in zip(found, loads, strict=True)
        if request.load is None or fold(load or "") == fold(request.load)
    ]
    if not of_load:
        if known is not None:
            check_load(request.load, [one.name for one in logbook.loads.current(known.id)])
        raise nothing_kept()
    session, load = of_load[-1]
    return SagResult(session, load, place_sags(session, request.file.bike, request.use))


def sags_before(logbook: Logbook, request: SagRequest, result: SagResult) -> tuple[PlaceSag, ...]:
    """Work out the latest earlier session of the same load in which rider sag was measured at both ends.

    Returns
    -------
    tuple of PlaceSag
        Empty where there is none.
    """
    known = logbook.bikes.find(request.file.bike.name)
    if known is None:
        return ()
    names = logbook.loads.names(known.id)
    taken = {one.id for one in result.session.measurements}
    for session in reversed(logbook.sag.current(known.id)):
        name = names.get(session.load_case_id or "")
        same = fold(name or "") == fold(result.load or "")
        if not same or session.date > result.session.date or taken & {one.id for one in session.measurements}:
            continue
        ends = {one.place.end for one in session.measurements if one.state is State.RIDER_ABOARD}
        if len(ends) == 2:
            return place_sags(session, request.file.bike, request.use)
    return ()
