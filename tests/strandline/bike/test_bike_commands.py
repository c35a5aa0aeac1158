"""``strandline bike``: questions, values, changes."""

from __future__ import annotations

from pathlib import Path

import click
import pytest

from ridelog.bikes.file import read_bike
from tests.helpers.made_bikes import BIKE, Garage


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path)


def test_new_asks_explains_and_takes_dont_know(garage: Garage) -> None:
    result = garage.run("bike", "new", "Red one", "--shocks", "2", typed="\n" * 80)
    assert result.exit_code == 0, result.output
    for words in ("by caliper", "Plate on the frame", "Manual, chassis data", "Enter alone"):
        assert words in result.stderr
    file = read_bike(garage.bike.parent / "red-one.toml")
    assert [leg.name.value for leg in file.bike.legs] == [
        "front-left",
        "front-right",
        "rear-left",
        "rear-right",
    ]
    assert file.bike.leg("rear-left").shaft is None and "leg.rear-left.shaft" in file.not_known
    assert "values are not known" in result.stdout


def test_new_takes_answers_and_asks_again_where_one_is_wrong(garage: Garage) -> None:
    said = ["street", "1460", "1460 mm", "don't know", "400 kg"]
    result = garage.run(
        "bike", "new", "Red one", "--shocks", "1", "--json", typed="\n".join(said) + "\n" * 80
    )
    assert result.exit_code == 0, result.output
    assert "has no unit" in result.stderr
    bike = read_bike(garage.bike.parent / "red-one.toml").bike
    assert bike.wheelbase is not None and bike.wheelbase.value == 1460
    assert bike.mass is None and bike.total_limit is not None and bike.total_limit.value == 400
    assert result.stdout.startswith('{"file"') and result.stdout.count("\n") == 1


def test_new_stopped_midway_keeps_what_was_answered(garage: Garage, monkeypatch: pytest.MonkeyPatch) -> None:
    said = iter(["sport", "1400 mm"])

    def prompt(*_: object, **__: object) -> str:
        try:
            return next(said)
        except StopIteration:
            raise click.Abort from None

    monkeypatch.setattr(click, "prompt", prompt)
    result = garage.run("bike", "new", "Red one", "--all")
    assert result.exit_code == 0 and "stopped midway" in result.stdout
    text = (garage.bike.parent / "red-one.toml").read_text()
    assert 'use = "sport"' in text and 'wheelbase = "1400 mm"' in text


def test_new_never_overwrites_and_says_so_before_the_first_question(garage: Garage) -> None:
    assert "is there already" in garage.refused("bike", "new", "Grey Twin")
    assert garage.bike.read_text() == BIKE


def test_blank_file_can_be_filled_in(garage: Garage) -> None:
    garage.ok("bike", "new", "Blue one", "--blank")
    garage.ok("bike", "edit", "Blue one", "--set", "leg.rear.shaft=14 mm", "--set", "rear.motion_ratio=0.75")
    bike = read_bike(garage.bike.parent / "blue-one.toml").bike
    assert bike.leg("rear").shaft is not None and bike.rear.motion_ratio is not None
    assert "needs a name" in garage.refused("bike", "new", "--blank")


def test_show(garage: Garage) -> None:
    text = garage.ok("bike", "show", "Grey twin")
    assert "Leg rear: shock" in text and "extended: 80 mm (± 0.5 mm)" in text
    assert "clicks, 0 to 15, counted from the soft end" in text
    found = garage.json("bike", "show", str(garage.bike))
    (left, _, rear) = found["bike"]["legs"]
    assert left["stroke"] == {"value": 120.0, "u95": 1.0, "unit": "mm", "as_written": "120 mm"}
    assert rear["adjusters"][0]["steps"] == 15


def test_a_wrong_file_is_told_with_its_line(garage: Garage) -> None:
    garage.bike.write_text(BIKE.replace('"120 mm"', "120"))
    line = BIKE.splitlines().index('stroke = "120 mm"') + 1
    assert f"line {line}: The stroke 120 has no unit." in garage.refused("bike", "show", "grey-twin")
    found = garage.json("bike", "list")["bikes"]
    assert f"line {line}" in found[0]["problem"]


def test_edit_by_value_refuses_what_is_wrong_and_leaves_the_file(garage: Garage) -> None:
    assert "has no unit" in garage.refused("bike", "edit", "grey-twin", "--set", "leg.rear.extended=80")
    assert garage.bike.read_text() == BIKE
    assert garage.run("bike", "edit", "grey-twin", "--set", "leg.rear.extended").exit_code == 2
    assert garage.json("bike", "edit", "grey-twin", "--set", "leg.rear.extended=81 mm")["changed"] is True
    assert "# ours" in garage.bike.read_text()


def test_edit_in_an_editor(garage: Garage, monkeypatch: pytest.MonkeyPatch) -> None:
    wrong, right = BIKE.replace('"120 mm"', "120"), BIKE.replace('"120 mm"', '"118 mm"')
    texts = iter([wrong, right])
    monkeypatch.setattr(click, "edit", lambda text, extension: next(texts))
    result = garage.run("bike", "edit", "grey-twin", typed="y\n")
    assert result.exit_code == 0 and "has no unit" in result.stderr
    assert garage.bike.read_text() == right
    monkeypatch.setattr(click, "edit", lambda text, extension: wrong)
    result = garage.run("bike", "edit", "grey-twin", typed="n\n")
    assert "left as it was" in result.stdout and garage.bike.read_text() == right
    assert garage.bike.with_name("grey-twin.toml.draft").read_text() == wrong


def test_list_and_unknown_bikes(garage: Garage) -> None:
    garage.ok("ride", "add", "--bike", "grey-twin", "--note", "wet")
    assert garage.json("bike", "list")["bikes"] == [
        {"file": str(garage.bike), "name": "Grey twin", "rides": 1, "problem": None}
    ]
    said = garage.refused("bike", "show", "nope")
    assert "There is no bike nope" in said and "grey-twin" in said
