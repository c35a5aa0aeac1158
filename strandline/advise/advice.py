"""The next step for each end and load: the rules on what the logbook holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ridelog.errors import LogbookError, RecordError
from ridelog.names import End
from ridelog.storage.folded_names import fold
from ridelog.storage.records import SagSession
from ridelog.storage.store import Logbook
from strandline.advise.case import CaseAdvice
from strandline.advise.taken_over import with_counts
from strandline.facts.attitude import attitude_lines
from strandline.facts.carried_sag import CarriedSag
from strandline.facts.comparable import comparable_rides, comparable_sessions
from strandline.facts.ends import EndFacts, end_facts
from strandline.facts.loads import CaseLoads
from strandline.facts.plausible import unusual_values
from strandline.facts.rides import NO_LOAD, BikeLog, EndRide, end_rides
from strandline.facts.sag import PlaceSag, place_sags, sag_at, sag_sessions
from strandline.facts.sag_pair import pair_rate
from strandline.facts.situation import Before, case_situation
from strandline.shared.suggest import did_you_mean
from suspension.advice.next_step import next_step
from suspension.advice.setting import count_from_statics
from suspension.advice.step import Step
from suspension.errors import SuspensionError
from suspension.loads.limits import LoadVerdict
from suspension.sag.windows import WhichSag
from suspension.springs.adjuster import preload_mm
from suspension.springs.equilibrium import rest_under
from suspension.springs.wheel_rate import wheel_force_n

NO_STATICS = (
    "No count to start from: that needs the spring's rate and preload_at_soft, motion_ratio and unsprung in the bike's "
    "file, and the masses of both loads (strandline loads)."
)


@dataclass(frozen=True)
class EndAdvice:
    """One end: all its rides, those that are left out of the advice too, and the advice for each load case."""

    facts: EndFacts
    log: BikeLog
    rides: tuple[EndRide, ...]
    cases: tuple[CaseAdvice, ...]


@dataclass(frozen=True)
class EndLog:
    """What the logbook holds of one end."""

    log: BikeLog
    facts: EndFacts
    rides: tuple[EndRide, ...]
    sessions: tuple[tuple[SagSession, str | None], ...]

    def sag(self, load: CaseLoads) -> tuple[CarriedSag, tuple[str, ...]]:
        """Rider sag of a load, and remarks on it."""
        place, count, remarks = sag_at(self.sessions, self.log, load.name, self.facts.end, self.rides)
        sprung = load.sprung_n(self.log.bike, self.facts.end)
        if place is not None and count is None:
            remarks = (
                *remarks,
                "At which preload sag was measured is not known: give --setting with strandline sag, "
                "or record a ride with its count.",
            )
        pair = None if place is None else pair_rate(place, self.log.bike, load.case)
        if pair is not None and pair.in_short is not None:
            remarks = (*remarks, pair.in_short, *self.unusual)
        return CarriedSag(self.facts, place, count, None if sprung is None else sprung.value), remarks

    @property
    def unusual(self) -> tuple[str, ...]:
        """What is unusual in the bike's file at this end."""
        return tuple(f"In the bike's file, {one}" for one in unusual_values(self.log.bike, self.facts.end))

    def stance(self, load: CaseLoads) -> tuple[str, ...]:
        """How the bike stands by the latest sag of a load at both ends, else what a step does at this one."""
        found: list[tuple[PlaceSag, ...]] = []
        for session, name in self.sessions:
            if name in (None, load.name):
                try:
                    found.append(place_sags(session, self.log.bike, self.log.bike.use))
                except (LogbookError, SuspensionError):
                    continue
        both = [
            one for one in found if len({place.place.end for place in one if place.sag(WhichSag.RIDER)}) == 2
        ]
        latest = (both or found)[-1:]
        if not latest:
            return ()
        return tuple(
            attitude_lines(self.log.bike, latest[0], both[-2] if len(both) > 1 else (), (self.facts.end,))
        )


def advice_for(logbook: Logbook, log: BikeLog, end: End) -> EndAdvice:
    """Advise on one end, load case by load case; those that were ridden come first.

    Raises
    ------
    SuspensionError
        Values of the bike's file that cannot be reckoned with.
    """
    facts = end_facts(log.bike, end)
    sessions, of_sag = comparable_sessions(logbook, log.bike, end, sag_sessions(logbook, log))
    recorded = end_rides(log, facts)

    def step_before(before: tuple[EndRide, ...], one: EndRide) -> Step | None:
        then = tuple(pair for pair in sessions if pair[0].date <= one.ride.entry.date)
        known = EndLog(log, facts, before, then)
        own = _by_load(before)
        if one.load in own:
            return _ridden(known, own[one.load]).step
        ridden = [_ridden(known, rides) for rides in own.values()]
        return _new_load(known, log.load_of(one.ride), ridden, None).step

    every = with_counts(recorded, facts, step_before)
    rides, left_out = comparable_rides(every, log.bike, log.then, end)
    known = EndLog(log, facts, rides, sessions)
    in_use = {NO_LOAD, *log.loads}  # a retired load gets no advice
    by_load = {name: own for name, own in _by_load(rides).items() if name in in_use}
    ridden = [_ridden(known, own) for own in by_load.values()]
    unread = {ride.load: ride for ride in rides if not ride.has_reading}
    others = [load for name, load in log.loads.items() if name not in by_load]
    new = [_new_load(known, load, ridden, unread.get(load.name)) for load in others]
    cases = (replace(case, remarks=(*left_out, *of_sag, *case.remarks)) for case in (*ridden, *new))
    return EndAdvice(facts, log, every, tuple(cases))


def whole_bike(logbook: Logbook, log: BikeLog) -> tuple[EndAdvice, ...]:
    """Advise on both ends, as far as the bike has legs there."""
    ends = dict.fromkeys(leg.name.end for leg in log.bike.legs)
    return tuple(advice_for(logbook, log, end) for end in End if end in ends)


def _by_load(rides: Sequence[EndRide]) -> dict[str, tuple[EndRide, ...]]:
    """Sort the rides that say something of this end by their load."""
    found: dict[str, tuple[EndRide, ...]] = {}
    for ride in rides:
        if ride.has_reading or ride.is_refused:
            found[ride.load] = (*found.get(ride.load, ()), ride)
    return found


def _ridden(known: EndLog, own: tuple[EndRide, ...]) -> CaseAdvice:
    last = own[-1]
    load = known.log.load_of(last.ride)
    sag, remarks = known.sag(load)
    said = (*(() if last.taken_over is None else (last.taken_over,)), *last.problems, *remarks)
    if known.facts.adjuster is None:
        words = "No preload adjuster is described in the bike's file, so no step can be given."
        return CaseAdvice(known.facts, load, own, remarks=(*said, words))
    case = case_situation(known.log, known.facts, load, known.rides, sag)
    return CaseAdvice(
        known.facts,
        load,
        own,
        next_step(case.situation),
        case.situation,
        case.risk,
        remarks=said,
        stance=known.stance(load),
    )


def _new_load(known: EndLog, load: CaseLoads, ridden: list[CaseAdvice], unread: EndRide | None) -> CaseAdvice:
    """Start a load without a used stroke (`unread`: its last ride, if any): from its sag, else from the statics."""
    if load.verdict is LoadVerdict.OVER:
        return CaseAdvice(
            known.facts, load, remarks=("Over the plate's limits: no setting is given for it.",)
        )
    if known.facts.adjuster is None:
        words = "No preload adjuster is described in the bike's file, so no step can be given."
        return CaseAdvice(known.facts, load, remarks=(words,))
    remarks: tuple[str, ...] = ()
    if unread is not None:
        remarks = ("It was ridden, but its readings do not give the stroke used yet.", *unread.problems)
    sag, of_sag = known.sag(load)
    base = max(ridden, key=lambda one: len(one.rides), default=None)
    before, named = Before(), None
    if not sag.is_measured and base is not None:
        start = _from_statics(known, load, base)
        if start is not None:
            why = (
                f"Not ridden yet: this count keeps the rider sag of {base.load.name} with the load's weight."
            )
            before, named = Before(start, why), base.load.name
            if start == known.facts.adjuster.end:
                words = "The adjuster ends there: less load, or a stiffer spring, is what this load needs."
                remarks = (*remarks, words)
    case = case_situation(known.log, known.facts, load, known.rides, sag, before)
    step = next_step(case.situation)
    if step.count is None:
        remarks = (*remarks, NO_STATICS)
    said = (*remarks, *of_sag)
    return CaseAdvice(known.facts, load, (), step, case.situation, case.risk, named, said, known.stance(load))


def _from_statics(known: EndLog, load: CaseLoads, base: CaseAdvice) -> float | None:
    """Find the count that keeps the rider sag of a load that was ridden; None where springs or loads are not known."""
    facts, bike = known.facts, known.log.bike
    count = base.found if base.found is not None else base.to_try
    now, then = load.sprung_n(bike, facts.end), base.load.sprung_n(bike, facts.end)
    if count is None or now is None or then is None or facts.forces is None or facts.adjuster is None:
        return None
    preload = preload_mm(facts.adjuster, count, facts.preload_at_soft_mm)
    if preload is None:
        return None
    forces, soft = facts.forces, preload - (facts.adjuster.added_mm(count) or 0.0)
    try:
        stroke = rest_under(forces.with_preload(preload), then.value).stroke_mm
        return count_from_statics(
            now.value - then.value + wheel_force_n(forces.with_preload(preload), stroke),
            lambda added: wheel_force_n(forces.with_preload(soft + added), stroke),
            facts.adjuster,
        )
    except SuspensionError:
        return None  # a table that ends too early


def narrowed(ends: Sequence[EndAdvice], load: str | None) -> tuple[EndAdvice, ...]:
    """Only the cases of one load, where one is named.

    Raises
    ------
    RecordError
        There is nothing to advise on.
    """
    known = dict.fromkeys(case.load.name for end in ends for case in end.cases)
    if not known or (load is not None and fold(load) not in map(fold, known)):
        there = ", ".join(known) or "none with a reading"
        raise RecordError(
            f"There is no reading to advise on{f' for the load {load}' if load else ''} (loads there: {there}).",
            did_you_mean(load or "", known) or "Record a ride with a reading: strandline ride add.",
        )
    if load is None:
        return tuple(ends)
    return tuple(
        replace(end, cases=tuple(case for case in end.cases if fold(case.load.name) == fold(load)))
        for end in ends
    )
