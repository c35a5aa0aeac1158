"""From a logbook to the situation of the rules, by known numbers in and out.

Shock: E0 80, S 92, Sb 80; MR 0.8, k 40 N/mm, preload 8 mm at soft, 1 mm a click; sag(d2) = sag(d1) - (d2 - d1)/MR
[derived, domain.md 6].
"""

from __future__ import annotations

from pathlib import Path

import pytest

from ridelog.bikes.file import read_bike
from ridelog.names import End
from ridelog.storage.store import Logbook
from strandline.advise.advice import EndAdvice, advice_for
from strandline.advise.case import CaseAdvice
from strandline.facts.carried_sag import CARRIED_RELATIVE_SIGMA, CarriedSag
from strandline.facts.ends import end_facts
from strandline.facts.rides import gather
from suspension.advice.situation import Flaw
from suspension.quantities.quantity import Bound
from tests.helpers.made_bikes import WEIGHED, Garage


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    found = Garage(tmp_path / "garage", WEIGHED)
    found.ok("loads", "--bike", "grey-twin", "--load", "solo", "--rider", "80 kg at 700 mm")
    return found


def ride(place: Garage, day: int, count: str, reading: str, *more: str, load: str = "solo") -> None:
    place.ok(
        *("ride", "add", "--bike", "grey-twin", "--date", f"2026-05-{day:02d}", "--route", "Loop"),
        *("--load", load, "--setting", f"rear={count}", "--reading", f"rear={reading}", *more),
    )


def rear(place: Garage) -> EndAdvice:
    with Logbook.open(place.logbook) as book:
        return advice_for(book, gather(book, read_bike(place.bike).bike), End.REAR)


def solo(place: Garage) -> CaseAdvice:
    return next(case for case in rear(place).cases if case.load.name == "solo")


def sag(place: Garage, rider_mm: float, day: int) -> None:
    lengths = f"rear=hanging 640 mm, rider-aboard {638 - rider_mm} mm / {642 - rider_mm} mm"
    words = ("--load", "solo", "--date", f"2026-05-{day:02d}", "--length", lengths)
    place.ok("sag", "--bike", "grey-twin", *words)


def test_rides_and_counts(garage: Garage) -> None:
    ride(garage, 1, "4 clicks", "remaining 2 mm, at-stop", "--felt", "bottomed")
    ride(garage, 2, "6 clicks", "remaining 15 mm")
    situation = solo(garage).situation
    assert situation is not None
    assert (situation.now, situation.stroke_mm, situation.bumper_mm) == (6, 92, 80)
    assert [one.count for one in situation.counts] == [float(i) for i in range(16)]
    first, second = situation.rides
    assert (first.route, first.count, first.at_stop, second.at_stop) == ("Loop", 4, True, False)
    assert first.used_mm is not None and first.used_mm.bound is Bound.AT_LEAST
    assert second.used_mm is not None and second.used_mm.value == pytest.approx(65)
    assert {felt.value for felt in first.felt} == {"bottomed"} and not second.felt
    chances = [one.chance for one in situation.counts]
    assert None not in chances and chances == sorted(chances, reverse=True)  # type: ignore[type-var]


def test_sag_is_carried_to_other_counts(garage: Garage) -> None:
    ride(garage, 1, "4 clicks", "remaining 15 mm")
    sag(garage, 34.5, 1)
    ride(garage, 2, "8 clicks", "remaining 15 mm")
    situation = solo(garage).situation
    assert situation is not None and situation.sag_measured
    at = {one.count: one.rider_sag_percent for one in situation.counts}
    # 34.5 of 115 mm are 30 %; 4 mm more preload are 4/0.8 = 5 mm less, 25.65 %.
    assert at[4.0] is not None and at[4.0].value == pytest.approx(30.0)
    assert at[8.0] is not None and at[8.0].value == pytest.approx(100 * 29.5 / 115)
    extra = CARRIED_RELATIVE_SIGMA * 5 / 115 * 100
    assert at[8.0].sigma == pytest.approx((at[4.0].sigma ** 2 + extra**2) ** 0.5)
    assert situation.sag_window is not None and (situation.sag_window.low, situation.sag_window.high) == (
        25,
        35,
    )


def test_sag_from_the_statics_before_it_was_measured(garage: Garage) -> None:
    """Ws (100 + 40 - 18) g = 1196.4 N; u = Ws/(k MR) - d = 37.39 - 14 = 23.39 mm of 92: 25.4 % at 6 clicks."""
    ride(garage, 1, "6 clicks", "remaining 15 mm")
    situation = solo(garage).situation
    assert situation is not None and not situation.sag_measured
    here = situation.at(6.0)
    assert here is not None and here.rider_sag_percent is not None
    assert here.rider_sag_percent.value == pytest.approx(100 * (1196.4 / 32 - 14) / 92, abs=0.1)


@pytest.mark.parametrize(
    ("reading", "flaw"),
    [
        ("remaining 15 mm", None),
        ("remaining 65 mm", Flaw.SLIPPED),  # 15 mm used, 27.6 mm with the rider aboard
        ("remaining 55 mm", None),  # 25 mm: within half of what friction leaves
        ("marker 0 mm, hanging", Flaw.UNMOVED),
        ("remaining 15 mm ± 25 mm", Flaw.VAGUE),
        ("exposed 70 mm, marker 40 mm, hanging", Flaw.BEYOND),
    ],
)
def test_flaws_of_readings(garage: Garage, reading: str, flaw: Flaw | None) -> None:
    ride(garage, 1, "6 clicks", "remaining 15 mm")
    sag(garage, 34.5, 1)
    ride(garage, 2, "6 clicks", reading)
    situation = solo(garage).situation
    assert situation is not None and situation.last is not None and situation.last.flaw is flaw
    assert len(situation.runs) == (1 if flaw else 2)


def test_other_loads_bear_on_the_risk_where_all_were_weighed(garage: Garage) -> None:
    heavy = ("--rider", "80 kg at 700 mm", "--luggage", "14 kg at 1400 mm")
    garage.ok("loads", "--bike", "grey-twin", "--load", "bags", *heavy)
    for day in (1, 2, 3):
        ride(garage, day, "6 clicks", "remaining 15 mm")
    ride(garage, 4, "6 clicks", "remaining 8 mm", load="bags")
    case = next(one for one in rear(garage).cases if one.load.name == "bags")
    assert case.risk is not None and len(case.risk.usable("loop")) == 4
    assert [run.load for run in case.risk.usable("loop")].count("bags") == 1
    assert case.situation is not None and len(case.situation.rides) == 1


def test_without_a_steps_worth_only_todays_count_has_a_chance(tmp_path: Path) -> None:
    text = WEIGHED.replace('step = "1.0 mm"\n', "")
    place = Garage(tmp_path / "clicks", text)
    for day, count in ((1, 6), (2, 6), (3, 8), (4, 6)):
        ride(place, day, f"{count} clicks", "remaining 15 mm")
    case = solo(place)
    assert case.situation is not None and case.risk is not None
    assert [one.count for one in case.situation.counts if one.chance is not None] == [6.0]
    assert len(case.risk.usable("loop")) == 3


def test_half_turns_are_counts_of_their_own(tmp_path: Path) -> None:
    place = Garage(tmp_path / "turns", WEIGHED)
    words = ("--setting", "front=2.5 turns", "--reading", "front-left=remaining 100 mm")
    place.ok("ride", "add", "--bike", "grey-twin", "--load", "solo", *words)
    with Logbook.open(place.logbook) as book:
        (case,) = advice_for(book, gather(book, read_bike(place.bike).bike), End.FRONT).cases
    assert case.situation is not None
    assert [one.count for one in case.situation.counts] == [0.5, 1.5, 2.5, 3.5, 4.5, 5.5]


def test_sag_along_the_stroke_and_without_a_count(garage: Garage) -> None:
    ride(garage, 1, "6 clicks", "remaining 15 mm")
    facts = end_facts(read_bike(garage.bike).bike, End.REAR)
    assert CarriedSag(facts).stroke_mm(6.0) is None and CarriedSag(facts).percent(6.0) is None
    assert CarriedSag(facts, sprung_n=1196.4).stroke_mm(None) is None
