"""From an end's facts, rides, load and sag to the situation that the rules of the next step look at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ridelog.names import AdjusterKind
from strandline.facts.carried_sag import CarriedSag
from strandline.facts.damping import damping_steps
from strandline.facts.ends import EndFacts
from strandline.facts.events import open_events, tyre_fault
from strandline.facts.loads import CaseLoads
from strandline.facts.rides import BikeLog, EndRide
from strandline.facts.risk import RiskModel, Run, runs_of
from strandline.facts.spring_wanted import spring_words
from suspension.advice.situation import AtCount, Flaw, RideSeen, Situation, is_vague
from suspension.quantities.quantity import COVERAGE_FACTOR
from suspension.springs.adjuster import Adjuster

# Without a known hard end counts are reckoned so far beyond those ridden, clicks; of turns and ramp positions half as
# many [common practice, no source].
MOST_CLICKS_BEYOND = 4


@dataclass(frozen=True)
class CaseSituation:
    """A situation, and the model of the risk behind it."""

    situation: Situation
    risk: RiskModel


@dataclass(frozen=True)
class Before:
    """What is known before a load's first ride: the count to begin with, and what it rests on."""

    start: float | None = None
    why: str = ""


def case_situation(
    log: BikeLog,
    facts: EndFacts,
    load: CaseLoads,
    rides: Sequence[EndRide],
    sag: CarriedSag,
    before: Before | None = None,
) -> CaseSituation:
    """Build the situation of one end and load.

    Parameters
    ----------
    log : BikeLog
    facts : EndFacts
        With an adjuster.
    load : CaseLoads
    rides : sequence of EndRide
        Of all loads at this end, comparable with today; oldest first.
    sag : CarriedSag
    before : Before, optional
        For a load that was never ridden.
    """
    assert facts.adjuster is not None
    own = [one for one in rides if one.load == load.name and (one.has_reading or one.is_refused)]
    now = own[-1].up if own else None
    flaws = {one.ride.id: flaw_of(one, facts, sag) for one in own}
    counted = tuple(one for one in rides if flaws.get(one.ride.id) is None)
    sprung = load.sprung_n(log.bike, facts.end)
    runs = runs_of(counted, log, facts.end)
    least = sag.stroke_mm(now) if sag.is_measured else None
    before = before or Before()
    about = now if now is not None else before.start if before.start is not None else facts.adjuster.first
    risk = RiskModel(
        facts,
        load.name,
        None if sprung is None else sprung.value,
        runs,
        about,
        None if least is None else max(0.0, least.value - sag.half_stiction_mm),
    )
    names = _names(rides)
    counts = tuple(
        AtCount(count, sag.percent(count), risk.chance(count))
        for count in _counts(facts.adjuster, now, runs, before.start)
    )
    situation = Situation(
        facts.end,
        facts.adjuster.kind,
        now,
        counts,
        now_in_doubt=bool(own) and not own[-1].count.is_sure,
        hard_end_known=facts.adjuster.end is not None,
        stroke_mm=facts.hard_stop_mm,
        bumper_mm=facts.bumper_met_mm,
        rides=tuple(
            RideSeen(
                names[one.route],
                one.up,
                one.used_mm,
                one.ride.entry.felt_at(facts.end),
                one.legs_differ,
                flaws[one.ride.id],
                one.at_far_end,
            )
            for one in own
        ),
        worst_route=names.get(risk.worst_route, ""),
        sag_window=sag.window,
        sag_measured=sag.is_measured and sag.percent(sag.count or 0.0) is not None,
        start=before.start,
        start_why=before.why,
        load=load.verdict,
        events=open_events(log.rides),
        tyres=_tyres(log, facts, own),
        damping=damping_steps(log, facts, own),
        spring=spring_words(facts, load, [one for one in own if flaws[one.ride.id] is None]),
    )
    return CaseSituation(situation, risk)


def _tyres(log: BikeLog, facts: EndFacts, own: Sequence[EndRide]) -> str | None:
    """Say how the tyre's pressure at the last ride is off the placard, and what to do."""
    if not own:
        return None
    last = own[-1].ride
    fault = tyre_fault(log.bike, facts.end, last.entry, log.load_of(last).case or last.load_case)
    return None if fault is None else f"{fault} Set it cold, and ride again before anything is adjusted."


def flaw_of(one: EndRide, facts: EndFacts, sag: CarriedSag) -> Flaw | None:
    """Why a ride's reading is no run; None where it is one.

    The deepest point of any ride is at least the compression with the rider aboard, less half of what friction
    leaves: a marker that shows less slipped, or was not set.
    """
    used = one.used_mm
    if used is None:
        return None if one.at_far_end else Flaw.BEYOND if one.is_refused else Flaw.MISSING
    if is_vague(used, facts.hard_stop_mm):
        return Flaw.VAGUE
    least = sag.stroke_mm(one.up)
    if least is not None and not used.at_least:
        lowest = least.value - COVERAGE_FACTOR * least.sigma - sag.half_stiction_mm
        if used.value + used.u95 < lowest:
            return Flaw.UNMOVED if used.at_most else Flaw.SLIPPED
    if used.at_most and (least is None or used.value < least.value):
        return Flaw.UNMOVED
    return None


def _counts(
    adjuster: Adjuster, now: float | None, runs: Sequence[Run], start: float | None
) -> tuple[float, ...]:
    """List the counts that can be set, from the soft end: whole steps from today's, which may lie between two turns."""
    ridden = [run.count for run in runs] + [one for one in (now, start) if one is not None]
    beyond = MOST_CLICKS_BEYOND if adjuster.kind is AdjusterKind.CLICKS else MOST_CLICKS_BEYOND // 2
    end = adjuster.end if adjuster.end is not None else max(ridden, default=adjuster.first) + beyond
    first = adjuster.first if now is None else now - int(now - adjuster.first)
    return tuple(first + i for i in range(int(end - first) + 1))


def _names(rides: Sequence[EndRide]) -> dict[str, str]:
    """Each route as it was first written."""
    found: dict[str, str] = {}
    for one in rides:
        found.setdefault(one.route, " ".join((one.ride.entry.route or "").split()))
    return found
