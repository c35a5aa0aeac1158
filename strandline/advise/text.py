"""Advice as lines for a person, and as fields for JSON."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from ridelog.names import CountedFrom
from strandline.advise.advice import CaseAdvice, EndAdvice
from strandline.facts.ends import preload_adjuster
from strandline.shared.fields import as_fields
from strandline.shared.messages import printable
from strandline.shared.units import estimate_text, in_units, percent_text, span
from suspension.advice.advise import instruction
from suspension.advice.cautions import Caution, cautions_for_advice
from suspension.advice.facts import Action
from suspension.loads.limits import LoadVerdict
from suspension.quantities.lengths import Units
from suspension.quantities.quantity import Quantity
from suspension.springs.adjuster import recount_steps


def advice_lines(ends: Sequence[EndAdvice], units: Units) -> Iterator[str]:
    """Lines for a person: each end, load by load, and the cautions once at the end."""
    cautions: dict[Caution, None] = {}
    for end in ends:
        for case in end.cases:
            yield from _case(end, case, units)
            cautions.update(dict.fromkeys(case_cautions(case)))
    if cautions:
        yield "Take care"
        yield from (f"  {caution.value}" for caution in cautions)


def case_cautions(case: CaseAdvice) -> tuple[Caution, ...]:
    """Cautions that a case gives cause for."""
    found = [] if case.advice is None else list(cautions_for_advice(case.advice))
    over = case.load.verdict in (LoadVerdict.OVER, LoadVerdict.BETWEEN)
    if over or (not case.ridden and case.setting is not None):
        found.append(Caution.LOAD)
    return tuple(dict.fromkeys(found))


def _case(end: EndAdvice, case: CaseAdvice, units: Units) -> Iterator[str]:
    where = end.facts.end.value.capitalize()
    if not case.ridden:
        about = "predicted, not ridden yet" if case.setting is not None else "no setting yet"
        yield printable(f"{where}, {case.load.name}: {about}")
        yield from (f"  {line}" for line in _setting(case, units))
        yield from (f"  {in_units(line, units)}" for line in (*case.remarks, *plate_text(case)))
        yield ""
        return
    last = case.rides[-1]
    entry = last.ride.entry
    ride = [f"ride {last.ride.number}", entry.date.isoformat(), *([entry.route] if entry.route else [])]
    yield printable(f"{where}, {case.load.name} ({', '.join(ride)})")
    yield from (f"  {line}" for line in _read(case, units))
    if case.advice is not None:
        yield from (f"  {line}" for line in _advice(end, case, units))
    yield from (f"  {printable(in_units(line, units))}" for line in case.remarks)
    yield from (f"  {in_units(line, units)}" for line in plate_text(case))
    yield ""


def _read(case: CaseAdvice, units: Units) -> Iterator[str]:
    answer = case.rides[-1].answer
    if answer is not None and answer.used_mm is not None:
        parts = [f"used {estimate_text(answer.used_mm, units)} of stroke"]
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
        yield "Read: " + ", ".join(parts) + "."
    if case.advice is not None:
        yield f"Verdict: {case.advice.verdict.words}"


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


def _advice(end: EndAdvice, case: CaseAdvice, units: Units) -> Iterator[str]:
    advice, setup = case.advice, case.setup
    assert advice is not None and setup is not None
    yield f"Do: {do(end, case)}"
    yield from (f"Why: {in_units(reason, units)}" for reason in advice.reasons)
    expected = expectation(case, units)
    if expected is not None:
        yield f"Expect: {expected}"
    if advice.stop is not None:
        yield f"{'Done' if advice.action is Action.NONE else 'No further step'}: {advice.stop}"
    elif advice.steps:
        yield "Done when: two runs are in the window, or a step no longer helps."
    if advice.recount_first:
        yield "Count again first:"
        steps = recount_steps(setup.adjuster, None)
        yield from (f"  {number}. {step}" for number, step in enumerate(steps, start=1))
    yield from (f"Note: {in_units(remark, units)}" for remark in advice.remarks)
    if case.next_ride is not None:
        yield from (f"Note: {in_units(remark, units)}" for remark in case.next_ride.remarks)
    yield from _setting(case, units)
    latest = end.rides[-1]
    if latest.up is not None and case.rides[-1].up is not None and latest.up != case.rides[-1].up:
        place = setup.adjuster.kind.place(latest.up)
        yield f"Note: the bike was last ridden at {place} (ride {latest.ride.number}), with another load."


def do(end: EndAdvice, case: CaseAdvice) -> str:
    """Write the step in a sentence, and from the hard end, too, if the owner counts from there."""
    advice, setup = case.advice, case.setup
    assert advice is not None and setup is not None
    sentence = instruction(advice, setup, len(end.facts.legs))
    own = preload_adjuster(end.facts.legs)
    last = setup.adjuster.end
    if advice.steps and advice.resulting_count is not None and own is not None and last is not None:
        if own.counted_from is CountedFrom.HARD:
            back = last + setup.adjuster.first - advice.resulting_count
            sentence += f" Counted from the hard end, as you do, that is {setup.adjuster.kind.some(back)}."
    elif not advice.steps and advice.resulting_count is not None:
        sentence = f"{sentence[:-1]}, at {setup.adjuster.kind.place(advice.resulting_count)}."
    return sentence


def expectation(case: CaseAdvice, units: Units) -> str | None:
    """Write what the next ride should read: by the model if it can predict, else by the step alone."""
    advice, model = case.advice, case.next_ride
    assert advice is not None
    if model is not None and model.mean_mm is not None:
        assert model.low_mm is not None and model.high_mm is not None
        mean = in_units(f"{model.mean_mm:.0f} mm", units)
        runs = f"{model.runs} {'run' if model.runs == 1 else 'runs'}"
        return (
            f"the next ride over this route reads about {mean}, "
            f"{span(model.low_mm, model.high_mm, units)} 9 times in 10; from {runs} over it."
        )
    if advice.expected_mm is not None:
        return f"the next ride reads {estimate_text(advice.expected_mm, units)}."
    return None


def _setting(case: CaseAdvice, units: Units) -> Iterator[str]:
    setting = case.setting
    if setting is None:
        return
    line = f"Setting for this load: {setting.words[0].lower()}{in_units(setting.words[1:], units)}"
    yield line
    if case.base is None:
        return
    if setting.low is not None and setting.high is not None and setting.low != setting.high:
        yield (
            f"{setting.low:.1f} would keep the sag, {setting.high:.1f} the depth of a hard ride; the right count is "
            "between."
        )
    yield printable(f"Predicted from the rides with the load {case.base}.")


def plate_text(case: CaseAdvice) -> Iterator[str]:
    """Write which loads are over the plate's limits, or not checked."""
    for check in case.load.checks:
        if check.verdict in (LoadVerdict.OVER, LoadVerdict.BETWEEN):
            yield check.words
    not_checked = case.load.verdict is LoadVerdict.NOT_CHECKED
    if not_checked and case.advice is None:
        yield "Load not checked: axle loads or the plate's limits are not known."


def advice_fields(end: EndAdvice) -> dict[str, Any]:
    """Fields for JSON; lengths in mm, counts up from the soft end."""
    return {"end": end.facts.end.value, "cases": [_fields(end, case) for case in end.cases]}


def _fields(end: EndAdvice, case: CaseAdvice) -> dict[str, Any]:
    advice, answer = case.advice, case.rides[-1].answer if case.rides else None
    model = case.next_ride
    return {
        "load": case.load.name,
        "ridden": case.ridden,
        "load_verdict": case.load.verdict.value,
        "ride": case.rides[-1].ride.number if case.rides else None,
        "runs": len(case.rides),
        "used_mm": None if answer is None else as_fields(answer.used_mm),
        "used_percent": None if answer is None else as_fields(answer.used_percent),
        "reserve_bumper_mm": as_fields(reserve_bumper(case)),
        "reserve_hard_mm": None if answer is None else as_fields(answer.reserve_hard_mm),
        "advice": None
        if advice is None
        else {
            "action": advice.action.value,
            "steps": advice.steps,
            "resulting_count": advice.resulting_count,
            "recount_first": advice.recount_first,
            "bands": [band.value for band in advice.verdict.bands],
            "verdict": advice.verdict.words,
            "target_mm": advice.target_mm,
            "expected_mm": as_fields(advice.expected_mm),
            "do": do(end, case),
            "why": list(advice.reasons),
            "stop": advice.stop,
            "remarks": list(advice.remarks),
        },
        "next_ride": None
        if model is None
        else {
            "mean_mm": model.mean_mm,
            "low_mm": model.low_mm,
            "high_mm": model.high_mm,
            "probability": 0.9,
            "runs": model.runs,
            "mostly_prior": model.mostly_prior,
            "withheld": model.withheld,
            "remarks": list(model.remarks),
        },
        "setting": None if case.setting is None else as_fields(case.setting),
        "predicted_from": case.base,
        "remarks": [*case.remarks, *plate_text(case)],
        "cautions": [caution.value for caution in case_cautions(case)],
    }
