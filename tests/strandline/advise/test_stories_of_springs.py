"""Forks with the spring in one leg, progressive springs and progressive ratios, through the real commands.

Each number is worked out by hand from F = k (d + c), W = F MR(c) and dz = dc/MR(c) [derived statics].
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from ridelog.bikes.file import parse_bike
from ridelog.names import End
from strandline.facts.carried_sag import CarriedSag
from strandline.facts.ends import end_facts
from tests.helpers.made_bikes import WEIGHED
from tests.strandline.advise.test_stories import Owner

G = 9.80665
RIDER = ("--rider", "80 kg at 700 mm")  # half on each wheel of a wheelbase of 1400 mm
RATIO = 'motion_ratio = [["0 mm", 0.9], ["92 mm", 0.7]]'


def fork(left: str, right: str) -> str:
    """Write a fork with 2 mm a turn from 10 mm on, 16 kg unsprung; what is said of each leg's spring."""
    text = WEIGHED.replace("[front]\n", '[front]\nunsprung = "16 kg"\n', 1)
    text = text.replace('steps = "6 turns"\n', f'steps = "6 turns"\nstep = "2 mm"\n\n{left}', 1)
    return text.replace('same_as = "front-left"\n', f'same_as = "front-left"\n{right}', 1)


def spring(rate: float) -> str:
    return f'[leg.front-left.spring]\nrate = "{rate} N/mm"\npreload_at_soft = "10 mm"\n'


ONE, TWO = fork(spring(18), "has_spring = false\n"), fork(spring(9), "")


def new_load(owner: Owner, load: str, *more: str) -> None:
    owner.place.ok("loads", "--bike", "grey-twin", "--load", load, *RIDER, *more)


def test_a_fork_with_its_spring_in_one_leg_starts_a_new_load_at_the_count_by_hand(tmp_path: Path) -> None:
    owner = Owner(tmp_path, ONE, end="front")
    new_load(owner, "solo")
    new_load(owner, "bags", "--luggage", "8 kg at 700 mm")
    for _ in range(3):
        owner.ride("2 turns", "remaining 125 mm")
    owner.sag(32)
    assert owner.asked("solo")["next_ride"] is not None
    case = owner.asked("bags")
    # dW/(k MR p): 4 kg more in front on one spring of 18 N/mm, MR 1/cos 25, 2 mm a turn: 0.99 turns.
    assert 4 * G / (18 / math.cos(math.radians(25)) * 2.0) == pytest.approx(0.988, abs=1e-3)
    assert case["setting"]["try"] == 3


def test_one_spring_is_predicted_as_two_of_half_its_rate(tmp_path: Path) -> None:
    answers = []
    for name, bike in (("one", ONE), ("two", TWO)):
        owner = Owner(tmp_path / name, bike, end="front")
        owner.place.bike.parent.mkdir(exist_ok=True, parents=True)
        new_load(owner, "solo")
        for left in (110, 104, 107):
            case = owner.ride("2 turns", f"remaining {left} mm")
        answers.append((case["next_ride"], case["advice"]["chances"]))
    assert answers[0] == answers[1]


def test_only_the_leg_with_the_spring_is_set(tmp_path: Path) -> None:
    owner = Owner(tmp_path, ONE, end="front")
    case = owner.ride("2 turns", "remaining 88 mm")
    assert case["advice"]["action"] == "more preload" and "both sides" not in case["said"]
    owner = Owner(tmp_path / "two", TWO, end="front")
    assert "both sides alike" in owner.ride("2 turns", "remaining 88 mm")["said"]


def test_sag_of_one_spring_from_the_statics() -> None:
    facts = end_facts(parse_bike(ONE, "grey-twin.toml").bike, End.FRONT)
    sag = CarriedSag(facts, sprung_n=124 * G)
    # c = W/(k MR) - d with d = 10 + 3 x 2; at the wheel c cos 25, of 108 mm.
    cosine = math.cos(math.radians(25))
    stroke = 124 * G * cosine / 18 - 16
    found, percent = sag.stroke_mm(3), sag.percent(3)
    assert found is not None and found.value == pytest.approx(stroke)
    assert percent is not None and percent.value == pytest.approx(100 * stroke * cosine / 108)


# Progressive springs


def test_a_progressive_spring_starts_a_new_load_by_its_table(tmp_path: Path) -> None:
    table = 'table = [["0 mm", "0 N"], ["30 mm", "900 N"], ["45 mm", "1650 N"], ["130 mm", "9300 N"]]'
    owner = Owner(tmp_path, WEIGHED.replace('rate = "40 N/mm"', table))
    new_load(owner, "solo")
    new_load(owner, "bags", "--luggage", "30 kg at 1400 mm")
    for _ in range(3):
        owner.ride("6 clicks", "remaining 30 mm")
    owner.sag(0.3 * 115)
    # Solo 122 kg: 1495.5 N at the spring, 41.91 mm from free: at 14 mm of preload it stands 27.91 mm in. With 30 kg
    # more 1863.3 N, 47.37 mm from free: 19.46 mm of preload, which is 11.46 clicks; 50 N/mm throughout would be 13.36.
    solo, bags = 122 * G / 0.8, 152 * G / 0.8
    stands = 30 + (solo - 900) / 50 - 14
    assert 45 + (bags - 1650) / 90 - stands - 8 == pytest.approx(11.46, abs=0.01)
    assert owner.asked("bags")["setting"]["try"] == 12


# Progressive ratios


def test_sag_is_carried_over_a_progressive_ratio(tmp_path: Path) -> None:
    facts_of = parse_bike(WEIGHED.replace("motion_ratio = 0.8", RATIO), "grey-twin.toml").bike
    owner = Owner(tmp_path, WEIGHED.replace("motion_ratio = 0.8", RATIO))
    owner.ride("6 clicks", "remaining 30 mm")
    owner.sag(35)
    facts = end_facts(facts_of, End.REAR)
    assert facts.ratio is not None
    # MR = 0.9 - b c: z = -ln(1 - b c/0.9)/b, so 35 mm at the wheel are c = 0.9 (1 - exp(-b 35))/b.
    b = 0.2 / 92
    c = 0.9 * (1 - math.exp(-b * 35)) / b
    weight = 40 * (14 + c) * (0.9 - b * c)
    # 4 clicks more: 40 (18 + c)(0.9 - b c) = W, a quadratic in c.
    p, q, r = -40 * b, 40 * (0.9 - 18 * b), 40 * 18 * 0.9 - weight
    wanted = (-q + math.sqrt(q * q - 4 * p * r)) / (2 * p)
    assert c - wanted > 4.3  # the ratio falls, so that a mm of preload is worth more than a mm
    found = _sag_of(owner, 10)
    assert found == pytest.approx(-math.log(1 - b * wanted / 0.9) / b / 115 * 100, abs=0.05)


def _sag_of(owner: Owner, count: float) -> float:
    """Rider sag, percent, as the advice carries it to a count."""
    from ridelog.storage.store import Logbook
    from strandline.advise.advice import advice_for
    from strandline.facts.rides import gather

    with Logbook.open(owner.place.logbook, create=False) as logbook:
        bike = parse_bike(owner.place.bike.read_text(), "grey-twin.toml").bike
        (case,) = advice_for(logbook, gather(logbook, bike), End.REAR).cases
    assert case.situation is not None
    here = case.situation.at(count)
    assert here is not None and here.rider_sag_percent is not None
    return here.rider_sag_percent.value


@pytest.mark.parametrize(
    "bike",
    [
        WEIGHED.replace("motion_ratio = 0.8", 'motion_ratio = [["0 mm", 0.9], ["50 mm", 0.8]]'),
        WEIGHED.replace("motion_ratio = 0.8", 'motion_ratio = [["0 mm", 0.9], ["50 mm", 0.8]]').replace(
            'wheel_travel = "115 mm"\n', ""
        ),
        WEIGHED.replace('rate = "40 N/mm"', 'table = [["0 mm", "0 N"], ["50 mm", "2000 N"]]'),
    ],
)
def test_a_table_that_ends_before_the_stroke_leaves_the_advice_to_the_rides(
    tmp_path: Path, bike: str
) -> None:
    owner = Owner(tmp_path, bike)
    new_load(owner, "solo")
    for _ in range(3):
        case = owner.ride("6 clicks", "remaining 2 mm")
    assert case["advice"]["action"] in ("more preload", "measure rider sag")
    owner.sag(35)
    assert owner.asked()["advice"]["action"] == "more preload"


def test_the_spring_to_buy_takes_the_ratio_at_sag_and_at_depth(tmp_path: Path) -> None:
    owner = Owner(tmp_path, WEIGHED.replace("motion_ratio = 0.8", RATIO))
    new_load(owner, "solo")
    for _ in range(3):
        owner.ride("15 clicks", "remaining 2 mm")
    owner.sag(0.26 * 115)
    said = owner.asked()["said"]
    # At the bumper's face, 80 - 2.5, and k (d + u_t) MR(u_t) = lam W with u_t = 0.875 x 80 and d = 0, for the sag's
    # middle, 30 %, would need a loose spring.
    b, load = 0.2 / 92, 122 * G
    hit = 40 * (23 + 77.5) * (0.9 - b * 77.5)
    rate = hit / (70 * (0.9 - b * 70))
    # The sag then is load/(k MR), with the ratio in the middle of the window, 25 to 35 % of 115 mm at the wheel.
    middle = 0.9 * (1 - math.exp(-b * 0.30 * 115)) / b
    sag = load / (rate * (0.9 - b * middle))
    assert f"What would do: {rate:.1f} N/mm each, without preload, which gives {sag:.1f} mm" in said
