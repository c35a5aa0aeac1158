"""What to do in a session: marker, pressures, sag, the loop three times, then one step; as far as it is not done."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ridelog.bikes.bike import Bike
from ridelog.names import End
from ridelog.storage.folded_names import fold
from ridelog.storage.records import LoadCase, Ride
from ridelog.storage.store import Logbook
from strandline.facts.comparable import changed_parts, comparable_rides
from strandline.facts.ends import end_facts
from strandline.facts.events import open_events, placard_kpa
from strandline.facts.rides import BikeLog, EndRide, end_rides, gather
from strandline.shared.load_names import check_load
from suspension.advice.cautions import cautions_before_ride
from suspension.stroke.leg import State
from suspension.stroke.marker import MARKER_CHECK

# So many runs of the same loop at one count are needed before a step is judged [common practice, no source].
RUNS_NEEDED = 3


@dataclass(frozen=True)
class Plan:
    """A session, in order.

    Attributes
    ----------
    stop : tuple of str
        Open events; with any, nothing else is to be done.
    steps : tuple of str
    cautions : tuple of str
    """

    stop: tuple[str, ...]
    steps: tuple[str, ...]
    cautions: tuple[str, ...]


def plan_session(logbook: Logbook | None, bike: Bike, load: str | None, route: str | None) -> Plan:
    """Plan a session for a load and a route.

    Parameters
    ----------
    logbook : Logbook or None
        None: there is none yet.
    bike : Bike
    load, route : str or None
        None: those of the latest ride, if there is one.

    Raises
    ------
    RecordError
        There is no such load.
    """
    log = BikeLog(bike, (), {}, {}) if logbook is None else gather(logbook, bike)
    if log.loads:
        check_load(load, log.loads)
    last = log.rides[-1] if log.rides else None
    if load is None and last is not None and last.load_case is not None:
        load = last.load_case.name
    if route is None and last is not None:
        route = last.entry.route
    stop = tuple(open_events(log.rides))
    steps = () if stop else tuple(_steps(logbook, log, load, route))
    return Plan(stop, steps, tuple(one.value for one in cautions_before_ride()))


def _steps(logbook: Logbook | None, log: BikeLog, load: str | None, route: str | None) -> Iterator[str]:
    if not log.rides:
        yield MARKER_CHECK
    yield "Look for leaks, bent tubes and play; note what you find with --event."
    case = None if load is None or load not in log.loads else log.loads[load].case
    yield _pressures(log.bike, case)
    missing = [end for end in End if _has_legs(log.bike, end) and not _sag_known(logbook, log, load, end)]
    if missing:
        ends = " and ".join(end.value for end in missing)
        yield f"Measure sag, {ends}, both ways, with a helper: strandline sag --help."
    counts = _counts(log.rides)
    yield (
        f"Check the counts of both sides, last noted as {counts}, and note them with --setting."
        if counts
        else "Count all adjusters from their ends and note them with --setting."
    )
    runs = max(0, RUNS_NEEDED - _runs(log, load, route))
    loop = f"“{route}”" if route else "one loop"
    if runs:
        times = {1: "once more", 2: "twice more", 3: "three times"}[runs]
        yield (
            f"Slide the markers to the seals. Ride {loop} {times}, warm and as briskly as usual; after each time read "
            "the markers before you rock the bike, record the ride, and slide them back."
        )
    yield (
        "Ask for advice, strandline advise, and make one step on one adjuster, both sides alike. Then ride the same "
        "loop at least twice."
    )


def _pressures(bike: Bike, case: LoadCase | None) -> str:
    parts = []
    for end in End:
        wanted = placard_kpa(bike.end(end), case)
        if wanted:
            parts.append(f"{end.value} {' or '.join(f'{one / 100:.1f}' for one in wanted)} bar")
    if not parts:
        return (
            "Set the tyre pressures cold, by the placard (set tyre_solo and tyre_loaded in the bike's file)."
        )
    return f"Set the tyre pressures cold: {', '.join(parts)}."


def _has_legs(bike: Bike, end: End) -> bool:
    return any(leg.name.end is end for leg in bike.legs)


def _sag_known(logbook: Logbook | None, log: BikeLog, load: str | None, end: End) -> bool:
    """Whether rider sag of this load was measured with the parts of today."""
    known = None if logbook is None else logbook.bikes.find(log.bike.name)
    if logbook is None or known is None:
        return False
    names = logbook.loads.names(known.id)
    versions = None
    for session in logbook.sag.current(known.id):
        name = names.get(session.load_case_id or "")
        if name is not None and load is not None and fold(name) != fold(load):
            continue
        if not any(one.place.end is end and one.state is State.RIDER_ABOARD for one in session.measurements):
            continue
        versions = versions or _versions(logbook, log)
        if not changed_parts(versions[session.bike_version_id], log.bike, end):
            return True
    return False


def _versions(logbook: Logbook, log: BikeLog) -> dict[str, Bike]:
    from ridelog.bikes.file import parse_bike

    known = logbook.bikes.find(log.bike.name)
    kept = {} if known is None else logbook.bikes.versions(known.id)
    return {key: parse_bike(version.toml, log.bike.name).bike for key, version in kept.items()}


def _counts(rides: tuple[Ride, ...]) -> str:
    """Give the latest counts of all adjusters, for a sentence."""
    latest: dict[tuple[str, str], str] = {}
    for ride in rides:
        for one in ride.settings:
            text = "not known" if one.count is None else f"{one.count:g}"
            latest[one.leg.value, one.adjuster] = text
    return ", ".join(f"{leg} {adjuster} {text}" for (leg, adjuster), text in latest.items())


def _runs(log: BikeLog, load: str | None, route: str | None) -> int:
    """Count how many runs of this load and route there are with today's settings, at the end that has the fewest."""
    found = []
    for end in End:
        facts = end_facts(log.bike, end)
        seen = end_rides(log, facts) if facts.legs else ()
        kept, _ = comparable_rides(seen, log.bike, log.then, end)
        if seen:
            found.append(_at_last_count(kept, load, route))
    return min(found, default=0)


def _at_last_count(rides: tuple[EndRide, ...], load: str | None, route: str | None) -> int:
    own = [one for one in rides if load is None or fold(one.load) == fold(load)]
    if not own:
        return 0
    here = [one for one in own if one.up == own[-1].up and one.has_reading]
    return sum(fold(one.ride.entry.route or "") == fold(route or "") for one in here)
