"""The next step for each end and load: the arithmetic's advice on what the logbook holds."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ridelog.errors import RecordError
from ridelog.names import End
from ridelog.storage.store import Logbook
from strandline.facts.ends import EndFacts, end_facts
from strandline.facts.loads import CaseLoads
from strandline.facts.rides import BikeLog, EndRide, end_rides, runs
from strandline.facts.sag import PlaceSag, judged, sag_at, sag_sessions
from suspension.advice.advise import Advice, advise
from suspension.advice.facts import RideFacts, Setup
from suspension.advice.predict import ModelInputs, Prediction, RideCase, RideModel
from suspension.advice.prior import RidePrior, physical_prior
from suspension.advice.setting import EqualSprings, SettingForLoad, setting_from_rides, setting_from_statics
from suspension.errors import SuspensionError
from suspension.loads.limits import LoadVerdict
from suspension.springs.adjuster import Adjuster, preload_mm
from suspension.springs.equilibrium import rest_under
from suspension.springs.springs import LinearSpring
from suspension.stroke.verdict import Band, judge_used


@dataclass(frozen=True)
class CaseAdvice:
    """The next step for one end and one load case.

    Attributes
    ----------
    facts : EndFacts
    load : CaseLoads
    rides : tuple of EndRide
        Of this load, with a reading; empty for a load that was never ridden.
    advice : Advice or None
        On the latest of them.
    setup : Setup or None
    next_ride : Prediction or None
        At the count that the advice ends at; none after a marker at the bumper.
    setting : SettingForLoad or None
        The count for this load, from rides or from statics.
    base : str or None
        The load that a setting from statics starts from.
    remarks : tuple of str
        What the person should know besides; what is missing.
    """

    facts: EndFacts
    load: CaseLoads
    rides: tuple[EndRide, ...] = ()
    advice: Advice | None = None
    setup: Setup | None = None
    next_ride: Prediction | None = None
    setting: SettingForLoad | None = None
    base: str | None = None
    remarks: tuple[str, ...] = ()

    @property
    def ridden(self) -> bool:
        """Whether it rests on rides of this load; else it is predicted."""
        return bool(self.rides)


@dataclass(frozen=True)
class EndAdvice:
    """One end: its rides, and the advice for each load case."""

    facts: EndFacts
    log: BikeLog
    rides: tuple[EndRide, ...]
    cases: tuple[CaseAdvice, ...]

    def model(self, case: CaseAdvice, route: str) -> RideModel:
        """Make the model of what the rides of a route say for a load, at any count."""
        return _model(self.facts, self.log, self.rides, case.load, route)


def advice_for(logbook: Logbook, log: BikeLog, end: End) -> EndAdvice:
    """Advise on one end, load case by load case; those that were ridden come first.

    Raises
    ------
    SuspensionError
        Values of the bike's file that cannot be reckoned with.
    """
    facts = end_facts(log.bike, end)
    rides = end_rides(log, facts)
    measured = sag_sessions(logbook, log)
    by_load: dict[str, list[EndRide]] = {}
    for ride in rides:
        if ride.has_reading:
            by_load.setdefault(ride.load, []).append(ride)
    ridden = [
        _ridden(facts, log, rides, tuple(own), sag_at(measured, log, name, end, own[-1], rides))
        for name, own in by_load.items()
    ]
    others = [load for name, load in log.loads.items() if name not in by_load]
    unread = {ride.load: ride for ride in rides if not ride.has_reading}
    predicted = [_predicted(facts, log, load, ridden, unread.get(load.name)) for load in others]
    return EndAdvice(facts, log, rides, (*ridden, *predicted))


def whole_bike(logbook: Logbook, log: BikeLog) -> tuple[EndAdvice, ...]:
    """Advise on both ends, as far as the bike has legs there."""
    ends = dict.fromkeys(leg.name.end for leg in log.bike.legs)
    return tuple(advice_for(logbook, log, end) for end in End if end in ends)


def _ridden(
    facts: EndFacts,
    log: BikeLog,
    rides: tuple[EndRide, ...],
    own: tuple[EndRide, ...],
    sag: tuple[PlaceSag | None, tuple[str, ...]],
) -> CaseAdvice:
    last = own[-1]
    load = log.load_of(last.ride)
    remarks = [*last.problems, *sag[1]]
    if facts.adjuster is None:
        remarks.append("No preload adjuster is described in the bike's file, so no step can be given.")
        return CaseAdvice(facts, load, own, remarks=tuple(remarks))
    model = _model(facts, log, rides, load, last.ride.entry.route or "")
    setup = Setup(
        facts.end,
        facts.adjuster,
        last.count,
        rider_sag=judged(sag[0]),
        sag_room_mm=None if sag[0] is None else sag[0].room_mm,
        load=load.verdict,
    )
    if last.up is not None and last.count.is_sure:
        learnt = model.predict(last.up).per_preload
        setup = setup if learnt is None else replace(setup, effect=learnt)
    advice = advise(_ride_facts(facts, own), setup)
    # No prediction after a censored reading: how far it went is not known.
    predicts = advice.resulting_count is not None and not last.at_far_end
    return CaseAdvice(
        facts,
        load,
        own,
        advice,
        setup,
        model.predict(advice.resulting_count) if predicts and advice.resulting_count is not None else None,
        _setting(advice, model, load, len(own)),
        remarks=tuple(remarks),
    )


def _setting(advice: Advice, model: RideModel, load: CaseLoads, rides: int) -> SettingForLoad | None:
    """Give the count that the rules come to, and the counts at which the rides so far would reach the target depth.

    The rules count: a ride in the window is right as it is, and one quiet ride is no reason for less preload, so the
    count may lie beside the interval.
    """
    if advice.target_mm is None or advice.resulting_count is None or load.verdict is LoadVerdict.OVER:
        return None
    found = setting_from_rides(model, advice.target_mm)
    kind = model.inputs.adjuster.kind
    rests_on = f"from {rides} {'ride' if rides == 1 else 'rides'} of this load"
    words = f"{kind.place(advice.resulting_count).capitalize()}, {rests_on}."
    aim = f"The target is {advice.target_mm:.0f} mm on average, which would take"
    if found.high == model.inputs.adjuster.first:
        words += " By depth alone the soft end would do, but one quiet ride is not enough reason to reduce preload."
    elif found.low is not None and found.high is not None:
        reach = f"{found.low:g}" if found.low == found.high else f"{found.low:g} to {found.high:g}"
        words += f" {aim} {reach}, 9 times in 10."
    elif found.low is not None:
        words += f" {aim} {found.low:g} or more."
    return SettingForLoad(advice.resulting_count, found.low, found.high, rides, True, words)


def _ride_facts(facts: EndFacts, own: tuple[EndRide, ...]) -> RideFacts:
    last = own[-1]
    return RideFacts(
        last.used_mm,
        facts.bumper_met_mm,
        facts.hard_stop_mm,
        facts.marker_width_mm,
        frozenset(last.ride.entry.felt),
        last.at_far_end,
        last.legs_differ,
        _earlier_in_window(facts, own),
    )


def _earlier_in_window(facts: EndFacts, own: tuple[EndRide, ...]) -> int:
    """Count the runs right before the last one, at its count and over its route, that were in the window."""
    last, number = own[-1], 0
    for one in reversed(own[:-1]):
        same = one.up == last.up and one.ride.entry.route == last.ride.entry.route
        band = judge_used(one.used_mm, facts.bumper_met_mm, facts.hard_stop_mm).band
        sure = last.count.is_sure and one.count.is_sure  # a count that is not sure cannot be the same
        if not same or not sure or band is not Band.WINDOW:
            break
        number += 1
    return number


def _model(
    facts: EndFacts, log: BikeLog, rides: tuple[EndRide, ...], load: CaseLoads, route: str
) -> RideModel:
    assert facts.adjuster is not None
    sprung = load.sprung_n(log.bike, facts.end)
    case = RideCase(route, None if sprung is None else sprung.value, load.name)
    return RideModel(runs(rides, log, facts.end), case, _model_inputs(facts, facts.adjuster, case))


def _model_inputs(facts: EndFacts, adjuster: Adjuster, case: RideCase) -> ModelInputs:
    prior = RidePrior()
    middle = adjuster.first if adjuster.end is None else round((adjuster.first + adjuster.end) / 2)
    start = preload_mm(adjuster, middle, facts.preload_at_soft_mm)
    if facts.forces is not None and start is not None and case.sprung_load_n is not None:
        try:
            prior = physical_prior(facts.forces, start, case.sprung_load_n)
        except SuspensionError:
            prior = RidePrior()  # a table that ends too early: then the runs alone
    return ModelInputs(adjuster, prior, facts.preload_at_soft_mm)


def _predicted(
    facts: EndFacts, log: BikeLog, load: CaseLoads, ridden: list[CaseAdvice], unread: EndRide | None
) -> CaseAdvice:
    """Predict for a load without a used stroke (`unread`: its last ride, if any), from the load ridden most."""
    if load.verdict is LoadVerdict.OVER:
        return CaseAdvice(facts, load, remarks=("Over the plate's limits: no setting is given for it.",))
    start = max(ridden, key=lambda one: len(one.rides), default=None)
    count = None if start is None else _found_count(start)
    if start is None or count is None:
        problems: tuple[str, ...] = ("No load has been ridden yet to start from.",)
        if unread is not None:
            problems = ("It was ridden, but its readings do not give the stroke used yet.", *unread.problems)
        return CaseAdvice(facts, load, remarks=problems)
    now, then = load.sprung_n(log.bike, facts.end), start.load.sprung_n(log.bike, facts.end)
    rates = set() if facts.forces is None else {_rate(leg.spring) for leg in facts.forces.legs}
    if now is None or then is None or facts.adjuster is None or facts.forces is None or len(rates) != 1:
        words = (
            "Not predicted: that needs both loads, the spring rate, the motion ratio and the unsprung mass."
        )
        return CaseAdvice(facts, load, remarks=(words,))
    rate = rates.pop()
    if rate is None:
        return CaseAdvice(facts, load, remarks=("Not predicted: that needs springs with one rate.",))
    setting = setting_from_statics(
        count,
        now.value - then.value,
        EqualSprings(len(facts.forces.legs), rate, _ratio(facts, then.value)),
        facts.adjuster,
    )
    if setting is None:
        return CaseAdvice(facts, load, remarks=("Not predicted: the mm per step are not known.",))
    return CaseAdvice(facts, load, setting=setting, base=start.load.name)


def _found_count(case: CaseAdvice) -> float | None:
    """Give the count that a ridden load has come to: what the advice says next, since that follows all rules."""
    return None if case.advice is None else case.advice.resulting_count


def _rate(spring: object) -> float | None:
    return spring.rate if isinstance(spring, LinearSpring) else None


def _ratio(facts: EndFacts, sprung_n: float) -> float:
    """Give the motion ratio where the end stands."""
    assert facts.forces is not None
    if facts.forces.ratio.is_constant:
        return facts.forces.ratio.ratios[0]
    return facts.forces.ratio.at(rest_under(facts.forces, sprung_n).stroke_mm)


def narrowed(ends: tuple[EndAdvice, ...], load: str | None) -> tuple[EndAdvice, ...]:
    """Only the cases of one load, where one is named.

    Raises
    ------
    RecordError
        There is nothing to advise on.
    """
    known = dict.fromkeys(case.load.name for end in ends for case in end.cases)
    if not known or (load is not None and load not in known):
        there = ", ".join(known) or "none with a reading"
        raise RecordError(
            f"There is no reading to advise on{f' for the load {load}' if load else ''} (loads there: {there}).",
            "Record a ride with a reading: strandline ride add.",
        )
    if load is None:
        return ends
    return tuple(
        replace(end, cases=tuple(case for case in end.cases if case.load.name == load)) for end in ends
    )
