"""The advice that is asked for: what ``strandline advise`` and the garage's pages both show."""

from __future__ import annotations

from ridelog.bikes.bike import Bike
from ridelog.errors import RecordError
from ridelog.names import End
from ridelog.storage.store import Logbook
from strandline.advise.advice import EndAdvice, advice_for, narrowed, whole_bike
from strandline.facts.rides import gather


def ends_asked(
    logbook: Logbook, bike: Bike, end: End | None = None, load: str | None = None
) -> tuple[EndAdvice, ...]:
    """Advise on a bike.

    Parameters
    ----------
    logbook : Logbook
    bike : Bike
    end : End, optional
        Only this one.
    load : str, optional
        Only this one.

    Raises
    ------
    RecordError
        There is nothing to advise on.
    SuspensionError
        Values of the bike's file that cannot be reckoned with.
    """
    log = gather(logbook, bike)
    if not log.rides and not log.loads:
        raise RecordError(
            f"The logbook has no ride and no load of {log.bike.name} yet.",
            "Ride with a marker on, and record it with strandline ride add.",
        )
    ends = whole_bike(logbook, log) if end is None else (advice_for(logbook, log, end),)
    return narrowed(ends, load)
