"""What in the bike's file does not fit the sag that was measured, or is unusual: said when sag is worked out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from ridelog.bikes.bike import Bike
from ridelog.storage.records import LoadCase
from strandline.facts.attitude import attitude_lines
from strandline.facts.plausible import unusual_values
from strandline.facts.sag import PlaceSag
from strandline.facts.sag_pair import pair_rate
from strandline.sag.session import SagRequest, SagResult, sags_before
from strandline.shared.parse import day_or_none
from strandline.shared.storage import opened, place


def what_contradicts(logbook_path: Path | None, result: SagResult, bike: Bike) -> tuple[str, ...]:
    """List what does not fit, place by place, and what is unusual in the file at these ends.

    Parameters
    ----------
    logbook_path : Path or None
        Which knows what the load is made of.
    result : SagResult
    bike : Bike
    """
    case = _case(logbook_path, bike, result.load)
    found = []
    for one in result.sags:
        pair = pair_rate(one, bike, case)
        if pair is not None and pair.contradiction is not None:
            found.append(f"{one.place.value.capitalize()}: {pair.contradiction}")
    found += _later(logbook_path, bike)
    ends = dict.fromkeys(one.place.end for one in result.sags)
    unusual = [words for end in ends for words in unusual_values(bike, end)]
    return (*found, *(f"In the bike's file, {words}" for words in unusual))


def _later(logbook_path: Path | None, bike: Bike) -> Iterator[str]:
    """Say that the session that counts is of a day to come: the clock may have gone back since."""
    if not place(logbook_path).exists():
        return
    now = day_or_none()
    with opened(logbook_path, create=False) as logbook:
        known = logbook.bikes.find(bike.name)
        dates = () if known is None else (one.date for one in logbook.sag.current(known.id))
        latest = max(dates, default=None)
    if now is not None and latest is not None and latest > now:
        yield (
            f"A sag of {latest} is kept, later than today by this machine's clock: one of the two dates is "
            "wrong, and the later one counts. Set the clock, or give the day with --date."
        )


def how_it_stands(logbook_path: Path | None, request: SagRequest, result: SagResult) -> tuple[str, ...]:
    """Say how the bike stands by these sags, compared with the session before of the same load.

    Parameters
    ----------
    logbook_path : Path or None
        Which knows the earlier sessions.
    request : SagRequest
    result : SagResult
    """
    bike = request.file.bike
    before: tuple[PlaceSag, ...] = ()
    if place(logbook_path).exists():
        with opened(logbook_path, create=False) as logbook:
            before = sags_before(logbook, request, result)
    return tuple(attitude_lines(bike, result.sags, before))


def _case(logbook_path: Path | None, bike: Bike, name: str | None) -> LoadCase | None:
    if name is None or not place(logbook_path).exists():
        return None
    with opened(logbook_path, create=False) as logbook:
        known = logbook.bikes.find(bike.name)
        return None if known is None else logbook.loads.find(known.id, name)
