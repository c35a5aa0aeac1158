"""Which sag speaks for a load at a ride: the latest one, if preload is still what it was when it was measured."""

from __future__ import annotations

from logbook.errors import LogbookError
from logbook.names import End
from logbook.sag_records import SagSession
from logbook.store import Logbook
from strandline.end_rides import BikeLog, EndRide
from strandline.sag_facts import PlaceSag, judged, of_end, place_sags
from suspension.errors import SuspensionError
from suspension.sag_windows import Judgement


def sag_sessions(logbook: Logbook, log: BikeLog) -> tuple[tuple[SagSession, str | None], ...]:
    """All sessions of a bike by date, each with the name of its load case."""
    known = logbook.bikes.find(log.bike.name)
    if known is None:
        return ()
    return tuple(
        (one, None if one.load_case_id is None else logbook.loads.get(one.load_case_id).name)
        for one in logbook.sag.current(known.id)
    )


def sag_at(
    sessions: tuple[tuple[SagSession, str | None], ...],
    log: BikeLog,
    load: str,
    end: End,
    last: EndRide,
    rides: tuple[EndRide, ...],
) -> tuple[PlaceSag | None, tuple[str, ...]]:
    """The latest sag of a load at an end, if preload is still what it was then; and what to know of it."""
    for session, name in reversed(sessions):
        if name not in (None, load):
            continue
        try:
            found = of_end(place_sags(session, log.bike, log.bike.use), end)
        except (LogbookError, SuspensionError) as error:
            return None, (error.message,)
        if found is None:
            continue
        if not _still_so(session, last, rides):
            words = (
                f"Sag was measured on {session.date} at another preload: it is not set against its window."
            )
            return None, (words,)
        return found, () if judged(found) is not Judgement.UNKNOWN else ("Rider sag was not judged.",)
    return None, ()


def _still_so(session: SagSession, last: EndRide, rides: tuple[EndRide, ...]) -> bool:
    """Whether preload at the last ride is what it was when sag was measured, by the rides about that day."""
    before = [one for one in rides if one.ride.entry.date <= session.date and one.up is not None]
    after = [one for one in rides if one.ride.entry.date > session.date and one.up is not None]
    # Before a day's first ride nothing else is known than what it was ridden at.
    then = before[-1] if before else after[0] if after else None
    return then is not None and then.up == last.up
