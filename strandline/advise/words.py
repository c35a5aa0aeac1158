"""Sentences of one case: what to do, how sure that is, why, and what to know besides."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ridelog.names import CountedFrom, End, Felt
from strandline.advise.advice import EndAdvice
from strandline.advise.besides import lasting_difference
from strandline.advise.case import CaseAdvice
from strandline.facts.damping import damping_lacks
from strandline.facts.ends import preload_adjuster
from strandline.facts.plausible import unusual_values
from strandline.shared.units import estimate_text, in_units, percent_text
from suspension.advice.cautions import Caution, cautions_for_step
from suspension.advice.found import dive_words
from suspension.advice.situation import Flaw
from suspension.advice.step import RUNS_TO_JUDGE, Action, in_words
from suspension.loads.limits import LoadVerdict
from suspension.quantities.lengths import Units
from suspension.quantities.quantity import Quantity
from suspension.stroke.verdict import CENSORED_WORDS

# Where rides differ among themselves by more than this, it is said [common practice, no source; domain.md 6].
WIDE_SCATTER_MM = 8.0


def do(end: EndAdvice, case: CaseAdvice) -> str:
    """Write the step in a sentence, and from the hard end, too, if the owner counts from there."""
    step, situation = case.step, case.situation
    assert step is not None and situation is not None
    kind, now, to = situation.kind, situation.now, step.count
    which = f"{end.facts.end.value.capitalize()} preload"
    both = ", both sides alike" if end.facts.sides > 1 else ""
    recount = "count again from the soft end, then wind to " if situation.now_in_doubt else ""
    at = "" if to is None else f"{recount}{kind.place(to)}"
    if step.action in (Action.MORE, Action.LESS) and to is not None and now is not None and not recount:
        way = "more" if to > now else "less"
        return f"{which}: {kind.some(abs(to - now))} {way}{both}, to {at}.{_from_hard(end, to)}"
    if step.action in (Action.MORE, Action.LESS, Action.START, Action.COUNT) and to is not None:
        counted = "count it from the soft end, then wind to " if step.action is Action.COUNT else ""
        return f"{which}: {counted}{at}{both}.{_from_hard(end, to)}"
    review = "Have the spring and the oil level" if end.facts.end is End.FRONT else "Have the spring"
    left = (
        f" {which}: {at}." if recount else f" Leave the {which[0].lower()}{which[1:]} at {at}." if at else ""
    )
    return {
        Action.FOUND: f"Nothing.{left}",
        Action.DAMPING: f"{end.facts.end.value.capitalize()} {step.damping}, then the same loop.{left}",
        Action.RIDE_AGAIN: f"Ride again.{left}",
        Action.READ_AGAIN: f"Set the marker, ride, and read again.{left}",
        Action.MEASURE_SAG: f"Measure rider sag (strandline sag).{left}",
        Action.REVIEW: f"{review} reviewed.{left}",
        Action.REDUCE_LOAD: "Reduce the load.",
        Action.STOP_RIDING: "Stop riding until it was looked at.",
        Action.TYRES: f"Set the tyre pressures first.{left}",
    }.get(step.action, f"{which}: count it, and record the count with the ride.")


def _from_hard(end: EndAdvice, to: float) -> str:
    own, adjuster = preload_adjuster(end.facts.legs), end.facts.adjuster
    if own is None or adjuster is None or adjuster.end is None or own.counted_from is not CountedFrom.HARD:
        return ""
    back = adjuster.end + adjuster.first - to
    return f" Counted from the hard end, as you do, that is {adjuster.kind.some(back)}."


def chances(case: CaseAdvice) -> list[tuple[float, float]]:
    """Chance of reaching the bumper at today's count and the next two, and at the count to set."""
    situation, step = case.situation, case.step
    if situation is None or step is None or not case.rides or not situation.runs:
        return []
    about = situation.now if situation.now is not None else step.count
    if about is None:
        return []
    shown = [
        one
        for one in situation.counts
        if one.chance is not None and (about <= one.count <= about + 2 or one.count == step.count)
    ]
    return [(one.count, one.chance) for one in shown if one.chance is not None]


def how_sure(case: CaseAdvice, units: Units) -> Iterator[str]:
    """Write the chance of the bumper at this count and the next two, and the next ride."""
    situation = case.situation
    assert situation is not None
    known = chances(case)
    if known:
        where = f" over {situation.worst_route}" if situation.worst_route else ""
        (count, first), *others = known
        words = f"At {_short(case, count)}, {in_words(first)}{where} reaches the bumper"
        words = words.replace("rides in 10" + where + " reaches", "rides in 10" + where + " reach")
        others_said = [f"at {_bare(case, count)}, {_brief(chance)}" for count, chance in others]
        yield "; ".join([words, *others_said]) + "."
    forecast = case.forecast
    if forecast is None:
        return
    rides = f"{forecast.runs} {'ride' if forecast.runs == 1 else 'rides'}"
    low, mid, high = (round(one) for one in (forecast.low_mm, forecast.mid_mm, forecast.high_mm))
    about = in_units(f"{mid} mm", units)
    assert case.step is not None and case.step.count is not None
    at = f"The next ride at {_bare(case, case.step.count)}"
    if forecast.runs < RUNS_TO_JUDGE:
        yield f"A rough estimate from {rides}. {at}: about {about}."
    else:
        yield f"{at}: about {about}, {in_units(f'{low} to {high} mm', units)} 9 times in 10, by {rides}."


def _short(case: CaseAdvice, count: float) -> str:
    assert case.situation is not None
    return case.situation.kind.at(count)


def _bare(case: CaseAdvice, count: float) -> str:
    return f"{count:g}"


def _brief(chance: float) -> str:
    return in_words(chance).replace("1 ride in", "1 in").replace(" rides in", " in")


def why(case: CaseAdvice, units: Units) -> Iterator[str]:
    """Write the reasons, and what a setting that looks right still lacks."""
    step = case.step
    assert step is not None
    yield from (in_units(reason, units) for reason in step.why)
    if step.missing:
        yield "Not called found yet: " + " ".join(lack.words for lack in step.missing)


def read(case: CaseAdvice, units: Units) -> str:
    """Write what the last ride used and left, and the verdict on it."""
    answer, parts = case.rides[-1].answer, []
    last = None if case.situation is None else case.situation.last
    if last is not None and last.flaw in (Flaw.UNMOVED, Flaw.VAGUE):
        return verdict_words(case)  # where it was set, or anywhere: no stroke
    if answer is not None and answer.used_mm is not None:
        parts.append(f"used {estimate_text(answer.used_mm, units)} of stroke")
        if answer.used_percent is not None:
            parts.append(percent_text(answer.used_percent))
        reserve = reserve_bumper(case)
        if reserve is not None and reserve.value >= 0:
            parts.append(f"left to the bumper {estimate_text(reserve, units)}")
        elif reserve is not None:
            into = Quantity(-reserve.value, reserve.sigma, reserve.bound.opposite)
            parts.append(f"into the bumper by {estimate_text(into, units)}")
        if answer.reserve_hard_mm is not None:
            parts.append(f"left to the hard stop {estimate_text(answer.reserve_hard_mm, units)}")
    words = [", ".join(parts) + "."] if parts else []
    return " ".join([*words, verdict_words(case)]).strip()


def verdict_words(case: CaseAdvice) -> str:
    """Write the verdict on the last ride, and where the bumper was only taken to be somewhere."""
    situation = case.situation
    if situation is None or situation.last is None:
        return ""
    last = situation.last
    words = CENSORED_WORDS if last.at_stop else situation.verdict(last).words
    if situation.bumper_is_assumed and last.flaw is None and last.used_mm is not None:
        words += " The bumper is taken at 92 % of the stroke: set bumper_contact in the bike's file."
    return words


def reserve_bumper(case: CaseAdvice) -> Quantity | None:
    """Give what the last ride left to the bumper: of a shock as it was read, of a fork Sb - u."""
    answer = case.rides[-1].answer if case.rides else None
    if answer is None or answer.used_mm is None or answer.reserve_bumper_mm is not None:
        return None if answer is None else answer.reserve_bumper_mm
    met = case.facts.legs[0].bumper_stroke_mm
    if met is None:
        return None
    used = answer.used_mm
    return Quantity(met.value - used.value, math.hypot(met.sigma, used.sigma), used.bound.opposite)


def notes(end: EndAdvice, case: CaseAdvice) -> Iterator[str]:
    """Write what to know besides, the most useful first."""
    step, situation, risk = case.step, case.situation, case.risk
    if step is None or situation is None:
        yield from case.remarks
        return
    yield from step.notes
    if case.rides and step.action is not Action.DAMPING:
        lacks = damping_lacks(end.log, end.facts, case.rides)
        if lacks is not None:
            yield lacks
    if (
        case.rides
        and end.facts.end is End.FRONT
        and Felt.DIVES in case.rides[-1].ride.entry.felt_at(End.FRONT)
    ):
        yield _dive(case)
    yield from case.remarks
    worst = None if risk is None or not situation.runs else risk.worst
    if worst is not None and worst.contradicts_file:
        yield (
            "The rides do not fit the springs, the motion ratio or the load in the bike's file: one of them is wrong. "
            "The rides decide here."
        )
        unusual = [f"In the bike's file, {one}" for one in unusual_values(end.facts.bike, end.facts.end)]
        yield from (one for one in unusual if one not in case.remarks)
    lasting = lasting_difference(end)
    if lasting is not None:
        yield lasting
    forecast = case.forecast
    if forecast is not None and forecast.runs >= RUNS_TO_JUDGE and forecast.scatter_mm > WIDE_SCATTER_MM:
        sd = f"{forecast.scatter_mm:.0f} mm"
        yield f"Rides differ among themselves by some {sd} (standard deviation): ride one loop, at one pace."
    latest = next((ride for ride in reversed(end.rides) if ride.up is not None), None)
    if latest is not None and case.rides and latest.up != case.rides[-1].up:
        place = situation.kind.place(latest.up or 0.0)
        yield f"The bike was last ridden at {place} (ride {latest.ride.number}), with another load."
    if not situation.hard_end_known and step.action is Action.MORE:
        yield "The adjuster's range is not known (steps in the bike's file): stop where it stiffens, never force it."
    yield from plate(case)


def _dive(case: CaseAdvice) -> str:
    adjuster, situation = case.facts.adjuster, case.situation
    assert adjuster is not None and situation is not None
    now = situation.now
    above = None if now is None else situation.at(now + 1)
    added = None
    if now is not None and above is not None:
        after, before = adjuster.added_mm(above.count), adjuster.added_mm(now)
        added = None if after is None or before is None else after - before
    return dive_words(adjuster.kind.one, added, above is None or situation.in_sag_window(above))


def plate(case: CaseAdvice) -> Iterator[str]:
    """Write which loads are over the plate's limits, or not checked."""
    for check in case.load.checks:
        if check.verdict in (LoadVerdict.OVER, LoadVerdict.BETWEEN):
            yield check.words
    if case.load.verdict is LoadVerdict.NOT_CHECKED:
        yield "Load not checked: axle loads (strandline loads) or the plate's limits (bike's file) are not known."


def case_cautions(case: CaseAdvice) -> tuple[Caution, ...]:
    """Cautions that a case gives cause for."""
    found: list[Caution] = []
    if case.step is not None and case.situation is not None and case.rides:
        found += cautions_for_step(case.step, case.situation)
    if case.load.verdict in (LoadVerdict.OVER, LoadVerdict.BETWEEN) or (not case.ridden and case.to_try):
        found.append(Caution.LOAD)
    return tuple(dict.fromkeys(found))
