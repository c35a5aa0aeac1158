"""Which rides tell of today's settings: of those made with other parts or settings, how many and why not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Protocol, TypeVar

from ridelog.bikes.bike import Air, Bike, BikeLeg, Spring
from ridelog.bikes.file import parse_bike
from ridelog.names import End
from ridelog.storage.folded_names import fold
from ridelog.storage.records import Ride, SagSession
from ridelog.storage.store import Logbook
from strandline.facts.bike import motion_ratio
from strandline.facts.ends import PRELOAD, hard_stop_mm, preload_adjuster
from strandline.facts.events import RETIRED, SAME_PRESSURE_KPA
from suspension.errors import SuspensionError
from suspension.quantities.declared import Amount

# Hard stops worked out from a bumper agree within so much, mm: the half-width of a crushed length by rule.
STOP_APART_MM = 1.0


RETIRED_ROUTE = "a route that is retired"


class SeenRide(Protocol):
    """What one end saw of a ride."""

    @property
    def ride(self) -> Ride: ...


R = TypeVar("R", bound=SeenRide)


def comparable_rides(
    rides: Sequence[R], now: Bike, then: Mapping[str, Bike], end: End
) -> tuple[tuple[R, ...], tuple[str, ...]]:
    """Sort out the rides that were made with today's parts and settings at one end, preload's count apart.

    Today's are the bike's file as it is now, and the latest other counts and tyre pressure recorded, the pressure of
    the same load. What was not recorded with a ride is taken over from the rides before it; what is not known at all
    leaves no ride out.

    Parameters
    ----------
    rides : sequence
        With `ride`, by date; such as `strandline.facts.rides.EndRide`.
    now : Bike
    then : mapping of str to Bike
        The bike at each ride, by the version that the ride names.
    end : End

    Returns
    -------
    tuple of rides, tuple of str
        Those that may be pooled, and a sentence a reason for the others, with their number: "2 rides are left out
        (1 and 2): made with another spring than today."
    """
    changed = {version: changed_parts(bike, now, end) for version, bike in then.items()}
    counts = tuple(_counts_over(rides, end))
    today = counts[-1] if counts else {}
    pressures = _latest_pressures(rides, end)
    kept: list[R] = []
    why: dict[str, list[int]] = {}
    for one, its in zip(rides, counts, strict=True):
        reasons = [RETIRED_ROUTE] if fold(one.ride.entry.route or "").endswith(fold(RETIRED)) else []
        reasons += [*changed.get(one.ride.entry.bike_version_id, ())]
        reasons += [f"another {name} setting" for name in today if name in its and its[name] != today[name]]
        pressure, latest = one.ride.entry.pressure_kpa(end), pressures.get(_load(one.ride))
        if pressure is not None and latest is not None and abs(pressure - latest) > SAME_PRESSURE_KPA:
            reasons.append("another tyre pressure")
        if reasons:
            why.setdefault(reasons[0], []).append(one.ride.number)
        else:
            kept.append(one)
    return tuple(kept), tuple(_sentence(numbers, reason) for reason, numbers in why.items())


def comparable_sessions(
    logbook: Logbook, now: Bike, end: End, sessions: Sequence[tuple[SagSession, str | None]]
) -> tuple[tuple[tuple[SagSession, str | None], ...], tuple[str, ...]]:
    """Sort out the sag sessions in which an end had the parts that it has today.

    Parameters
    ----------
    logbook : Logbook
    now : Bike
    end : End
    sessions : sequence of (SagSession, str or None)
        With the name of each load.

    Returns
    -------
    tuple of sessions, tuple of str
        Those that hold today, and a sentence on the others.
    """
    known = logbook.bikes.find(now.name)
    if known is None or not sessions:
        return tuple(sessions), ()
    versions = logbook.bikes.versions(known.id)
    needed = {one.bike_version_id for one, _ in sessions}
    changed = {key: changed_parts(parse_bike(versions[key].toml, now.name).bike, now, end) for key in needed}
    here = [pair for pair in sessions if any(one.place.end is end for one in pair[0].measurements)]
    kept = tuple(pair for pair in here if not changed[pair[0].bike_version_id])
    gone = [changed[one.bike_version_id][0] for one, _ in here if changed[one.bike_version_id]]
    if not gone:
        return kept, ()
    what = "Sag measured once is" if len(gone) == 1 else f"Sag measured {len(gone)} times is"
    return kept, (f"{what} left out: made with {' and '.join(dict.fromkeys(gone))} than today.",)


def changed_parts(then: Bike, now: Bike, end: End) -> tuple[str, ...]:
    """Name what is another at an end than it was, by two states of the bike's file; values that agree within their
    uncertainty, or that one of the two does not say, are the same.

    Sag that was measured with other parts is left out by the same rule.
    """
    old, new = (tuple(leg for leg in bike.legs if leg.name.end is end) for bike in (then, now))
    if len(old) != len(new):
        return ("another number of legs",)
    found = [name for a, b in zip(old, new, strict=True) for name in _of_leg(a, b)]
    if _steps_differ(old, new):
        found.append("another worth of a step")
    try:
        ratios = motion_ratio(then, end), motion_ratio(now, end)
    except SuspensionError:
        ratios = None, None
    if None not in ratios and ratios[0] != ratios[1]:
        found.append("another motion ratio")
    return tuple(dict.fromkeys(found))


def _of_leg(old: BikeLeg, new: BikeLeg) -> Iterator[str]:
    if _springs_differ(old.spring, new.spring) or (
        None not in (old.has_spring, new.has_spring) and old.has_spring != new.has_spring
    ):
        yield "another spring"
    if _differ(old.spring.preload_at_soft, new.spring.preload_at_soft):
        yield "another preload at the soft end"
    if _air_differs(old.air, new.air):
        yield "other air in the fork"
    stops = hard_stop_mm(old), hard_stop_mm(new)
    stroke = _differ(old.stroke, new.stroke)
    if not stroke and stops[0] is not None and stops[1] is not None:
        stroke = abs(stops[0] - stops[1]) > STOP_APART_MM
    if stroke or _differ(old.extended, new.extended):
        yield "another stroke or extended length"


def _differ(a: Amount | None, b: Amount | None) -> bool:
    return a is not None and b is not None and abs(a.value - b.value) > max(a.quantity.u95, b.quantity.u95)


def _springs_differ(a: Spring, b: Spring) -> bool:
    if a.table and b.table:
        return [(x.value, f.value) for x, f in a.table] != [(x.value, f.value) for x, f in b.table]
    dimensions = ("wire", "mean_diameter")
    coils = None not in (a.active_coils, b.active_coils) and a.active_coils != b.active_coils
    return (
        (a.rate is not None and b.rate is not None and a.rate.value != b.rate.value)
        or a.count != b.count
        or coils
        or any(_differ(getattr(a, name), getattr(b, name)) for name in dimensions)
    )


def _air_differs(a: Air, b: Air) -> bool:
    return any(
        _differ(getattr(a, name), getattr(b, name))
        for name in ("piston_diameter", "volume", "pressure_absolute")
    )


def _steps_differ(old: tuple[BikeLeg, ...], new: tuple[BikeLeg, ...]) -> bool:
    a, b = preload_adjuster(old), preload_adjuster(new)
    if a is None or b is None:
        return False
    if a.kind is not b.kind or _differ(a.step, b.step):
        return True
    pairs = zip(a.positions, b.positions, strict=False)
    return any(_differ(x, y) for x, y in pairs)


def _counts_over(rides: Iterable[SeenRide], end: End) -> Iterator[dict[str, tuple[float | None, str]]]:
    """Give the counts of all adjusters but preload at each ride, those not recorded taken over."""
    known: dict[str, tuple[float | None, str]] = {}
    for one in rides:
        for setting in one.ride.settings:
            if setting.leg.end is end and setting.adjuster != PRELOAD and setting.count is not None:
                known[setting.adjuster] = (setting.count, setting.counted_from.value)
        yield dict(known)


def _latest_pressures(rides: Iterable[SeenRide], end: End) -> dict[str, float]:
    found = {}
    for one in rides:
        pressure = one.ride.entry.pressure_kpa(end)
        if pressure is not None:
            found[_load(one.ride)] = pressure
    return found


def _load(ride: Ride) -> str:
    return "" if ride.load_case is None else fold(ride.load_case.name)


def _sentence(numbers: Sequence[int], reason: str) -> str:
    shown = " and ".join(map(str, numbers)) if len(numbers) < 3 else f"{numbers[0]} to {numbers[-1]}"
    what = "1 ride is" if len(numbers) == 1 else f"{len(numbers)} rides are"
    if reason == RETIRED_ROUTE:
        return f"{what} left out ({shown}): over {reason}."
    words = f"{what} left out ({shown}): made with {reason} than today."
    if not reason.endswith(("setting", "pressure")):
        words += " If only the file was wrong: strandline ride amend NUMBER --bike-file-now."
    return words
