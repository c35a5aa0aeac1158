"""Advice as fields for JSON: lengths in mm, counts up from the soft end."""

from __future__ import annotations

from typing import Any

from strandline.advise.advice import EndAdvice
from strandline.advise.besides import besides
from strandline.advise.case import CaseAdvice
from strandline.advise.words import case_cautions, chances, do, notes, plate, reserve_bumper, verdict_words
from strandline.shared.fields import as_fields
from suspension.advice.step import RUNS_TO_JUDGE


def advice_fields(end: EndAdvice) -> dict[str, Any]:
    """Fields of one end."""
    return {"end": end.facts.end.value, "cases": [_fields(end, case) for case in end.cases]}


def _fields(end: EndAdvice, case: CaseAdvice) -> dict[str, Any]:
    answer = case.rides[-1].answer if case.rides else None
    forecast, interval = case.forecast, case.interval
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
        "advice": None if case.step is None else _step(end, case),
        "next_ride": None
        if forecast is None
        else {
            "mean_mm": forecast.mid_mm,
            "low_mm": forecast.low_mm,
            "high_mm": forecast.high_mm,
            "probability": 0.9,
            "runs": forecast.runs,
            "mostly_prior": forecast.runs < RUNS_TO_JUDGE,
        },
        "setting": None
        if case.found is None and case.to_try is None
        else {
            "found": case.found,
            "try": case.to_try,
            "low": None if interval is None else interval.low,
            "high": None if interval is None else interval.high,
            "runs": len(case.rides),
        },
        "predicted_from": case.base,
        "besides": dict(besides(end, case)),
        "remarks": [*case.remarks, *plate(case)],
        "cautions": [caution.value for caution in case_cautions(case)],
    }


def _step(end: EndAdvice, case: CaseAdvice) -> dict[str, Any]:
    step, situation = case.step, case.situation
    assert step is not None and situation is not None
    steps = 0.0 if step.count is None or situation.now is None else step.count - situation.now
    last = situation.last
    return {
        "action": step.action.value,
        "steps": steps,
        "resulting_count": step.count,
        "recount_first": situation.now_in_doubt,
        "bands": [] if last is None else [band.value for band in situation.verdict(last).bands],
        "verdict": verdict_words(case),
        "bumper_assumed": situation.bumper_is_assumed,
        "chances": [{"count": count, "chance": chance} for count, chance in chances(case)],
        "do": do(end, case),
        "why": list(step.why),
        "missing": [lack.words for lack in step.missing],
        "stop": step.done,
        "remarks": list(notes(end, case)),
    }
