"""``strandline bike more``, in a terminal of 80 columns."""

from __future__ import annotations

from pathlib import Path

from ridelog.bikes.file import read_bike
from strandline.bike.groups import open_groups
from tests.helpers.made_bikes import BIKE, Garage
from tests.helpers.terminal import Terminal, screen_faults


def talk(terminal: Terminal, *lines: tuple[str, str]) -> str:
    """Answer each prompt that ends in the first word of a pair with the second; all that was shown."""
    for prompt, typed in lines:
        terminal.wait_for(prompt)
        terminal.type(typed)
    shown = terminal.end()
    assert terminal.code == 0 and not screen_faults(shown), shown
    return shown


def test_groups_say_what_they_buy_and_answers_are_kept_with_comments(tmp_path: Path) -> None:
    garage = Garage(tmp_path)
    shown = talk(
        Terminal("bike", "more", logbook=garage.logbook),  # the only bike
        ("stop: ", "waights"),
        ("stop: ", "weights"),
        ("> ", "210 kg"),
        ("> ", "9 mm"),
        ("> ", "1460 mm"),
        ("> ", "<"),
        ("> ", "1450 mm"),
        ("> ", ""),
        ("> ", "105 kg"),
        ("stop: ", ""),
    )
    assert "predictions for two-up" in shown and "Did you mean weights?" in shown
    assert "1 of 4" in shown and "800 to 2500 mm" in shown
    text = garage.bike.read_text(encoding="utf-8")
    assert "# ours" in text
    bike = read_bike(garage.bike).bike
    assert bike.wheelbase is not None and bike.wheelbase.value == 1450
    assert bike.rear.wheel_load is not None and bike.front.wheel_load is None
    # what was left out is asked the next time, and only that
    (weights,) = (one for one in open_groups(text) if one.name == "weights")
    assert [one.path for one in weights.open] == [("front", "wheel_load")]


def test_ctrl_c_keeps_what_was_answered(tmp_path: Path) -> None:
    garage = Garage(tmp_path)
    terminal = Terminal("bike", "more", "grey-twin", logbook=garage.logbook)
    terminal.wait_for("stop: ")
    terminal.type("weights")
    terminal.wait_for("> ")
    terminal.type("210 kg")
    terminal.wait_for("2 of 4")
    terminal.wait_for("> ")
    terminal.interrupt()
    assert "what you answered is in it" in terminal.end()
    assert not screen_faults(terminal.shown)
    mass = read_bike(garage.bike).bike.mass
    assert mass is not None and mass.value == 210


def test_the_other_end_is_described_by_the_same_eight(tmp_path: Path) -> None:
    front = BIKE[: BIKE.index("[leg.rear]")]
    garage = Garage(tmp_path, front)
    answers = ("fork", "shock", "14 mm", "80 mm", "bumper 20 mm", "15 clicks", "1 mm", "o-ring 2.5 mm", "two")
    shown = talk(
        Terminal("bike", "more", "grey-twin", logbook=garage.logbook),
        ("stop: ", "rear"),
        *(("> ", one) for one in answers),
        ("stop: ", ""),
    )
    assert "That is not at the rear" in shown
    legs = {leg.name.value: leg for leg in read_bike(garage.bike).bike.legs}
    assert list(legs) == ["front-left", "front-right", "rear-left", "rear-right"]
    assert legs["rear-right"].adjuster("preload").steps == 15


def test_the_only_bike_is_meant_and_of_two_it_is_asked_which(tmp_path: Path) -> None:
    garage = Garage(tmp_path)
    garage.ok("ride", "add", "--reading", "rear=remaining 15 mm")
    garage.bike.with_name("red-one.toml").write_text(BIKE.replace("Grey twin", "Red one"), encoding="utf-8")
    said = garage.refused("ride", "add", "--reading", "rear=remaining 15 mm")
    assert "Which bike? There are grey-twin, red-one." in said
