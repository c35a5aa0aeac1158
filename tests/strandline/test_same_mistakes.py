"""The same mistake has the same exit status in every command, and under --json its message is JSON.

The statuses are those of the table in docs/conventions.md, "Exit statuses".
"""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from strandline.__main__ import cli
from strandline.help.commands_page import commands_of
from tests.helpers.made_bikes import Garage
from tests.helpers.made_readings import photo, strict

LEAVES = {
    one.command_path.removeprefix("strandline "): one.command
    for one in commands_of(click.Context(cli, info_name="strandline"))
    if not isinstance(one.command, click.Group)
}
# What each command needs besides, so that only the mistake is left; {folder} is the test's own.
NEEDED: dict[str, str] = {
    "read": "{folder}/a.jpg",
    "mark": "{folder}/a.jpg --no-browser",
    "bike new": "Red --blank",
    "bike edit": "--set leg.rear.stroke=90mm",
    "bike ratio": "--mount 300mm --arm 500mm --shock-angle 70deg --arm-angle 5deg",
    "ride add": "--note wet",
    "ride show": "1",
    "ride amend": "1 --note dry",
    "ride recount": "--setting rear.preload=6clicks",
    "logbook export": "-o {folder}/out.json",
    "logbook import": "{folder}/none.json",
    "logbook backup": "-o {folder}/out.sqlite",
    "logbook repair": "-o {folder}/out.sqlite",
    "pool export": "--kind Twin -o {folder}/out.csv",
    "pool show": "{folder}/none.csv -o {folder}/charts",
    "pool demo": "-o {folder}/demo.csv",
    "chart": "-o {folder}/charts",
    "card": "-o {folder}/card.pdf",
    "card-of-settings": "-o {folder}/settings.pdf",
    "day run": "{folder}/none",
    "day new": "{folder}/day --count 3",
    "demo": "-o {folder}/demo --samples {folder}/none",
    "loads": "--load solo",
    "completion install": "--shell bash",
}
# They go on serving, or write where no option leads.
LEFT_OUT = {"garage", "completion install", "help"}
WALKED = sorted(set(LEAVES) - LEFT_OUT)


def has(name: str, option: str) -> bool:
    return any(option in one.opts for one in LEAVES[name].params)


class Place:
    """A garage with a bike, a photo file, and what a command needs."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.garage = Garage(folder / "garage")
        photo(folder / "a.jpg")

    def ride(self) -> None:
        """Record a ride, so that there is a logbook."""
        ride = ("ride", "add", "--reading", "rear=remaining 15 mm", "--setting", "rear=6 clicks")
        self.garage.ok(*ride, "--load", "solo")

    def words(self, name: str) -> list[str]:
        return [*name.split(), *NEEDED.get(name, "").format(folder=self.folder).split()]

    def status(self, name: str, *more: str, words: list[str] | None = None) -> int:
        """Run it with a mistake, for a person and as JSON; the status, the same in both."""
        typed = [*(self.words(name) if words is None else words), *more]
        result = self._run(name, typed)
        said = result.output
        assert result.exit_code in (1, 2), said
        assert "Traceback" not in said and isinstance(result.exception, SystemExit), said
        if has(name, "--json"):
            again = self._run(name, [*typed, "--json"])
            assert again.exit_code == result.exit_code, again.output
            line = (again.stderr or again.stdout).splitlines()[-1]
            answer = strict(line if line.startswith("{") else again.stdout.splitlines()[-1])
            assert answer.get("status") == "refused" or answer["error"]["exit_status"] == result.exit_code
            assert "Usage:" not in again.output and "Error:" not in again.output
        return result.exit_code

    def _run(self, name: str, typed: list[str]) -> Result:
        if has(name, "--logbook"):
            return self.garage.run(*typed)
        return CliRunner().invoke(cli, typed)


@pytest.fixture
def place(tmp_path: Path) -> Place:
    return Place(tmp_path)


@pytest.mark.parametrize("name", WALKED)
def test_an_option_that_is_none(name: str, place: Place) -> None:
    assert place.status(name, "--nonsense") == 2


@pytest.mark.parametrize("name", [one for one in WALKED if any(p.required for p in LEAVES[one].params)])
def test_something_left_out(name: str, place: Place) -> None:
    assert place.status(name, words=name.split()) == 2


WRONG = {
    "LENGTH": "wide",
    "RATIO": "wide",
    "COUNT": "rear.preload=many",
    "YYYY-MM-DD": "yesterday",
    "MASS": "heavy",
    "TEMPERATURE": "warm",
    "PRESSURE": "front=hard",
    "LENGTHS": "rear=wide",
    "STATE": "flying",
    "NUMBERS": "99",
}


def wrong_values() -> list[tuple[str, str, str]]:
    """Every option that takes a number, a day or one of several words, with a value that it cannot take."""
    found = []
    for name in WALKED:
        for one in LEAVES[name].params:
            if not isinstance(one, click.Option) or one.is_flag:
                continue
            kind = one.make_metavar(click.Context(LEAVES[name]))
            value = next((value for word, value in WRONG.items() if kind.strip("[]").endswith(word)), None)
            if isinstance(one.type, click.Choice | click.IntRange | click.FloatRange):
                value = "-77"
            if value is not None:
                found.append((name, one.opts[-1], value))
    return found


@pytest.mark.parametrize(("name", "option", "value"), wrong_values())
def test_a_value_that_is_none(name: str, option: str, value: str, place: Place) -> None:
    place.ride()
    words = place.words(name)
    if option in words:  # in place of the right one
        at = words.index(option)
        words = [*words[:at], *words[at + 2 :]]
    beside = {"--leg": [], "--date": ["--record"], "--setting": ["--record"], "--felt": ["--record"]}
    more = beside.get(option, []) if name == "read" else []
    shaft = ["--shaft", "41mm", "--layout", "fork"]
    if name == "read" and not more:
        given = {"--shaft": shaft[2:], "--layout": shaft[:2], "--tie-lock": [*shaft, "--marker", "tie"]}
        more = given.get(option, shaft)
        more += ["--bumper", "20mm"] if option == "--bumper-crushed" else []
        more += ["--bumper-crushed", "8mm"] if option == "--bumper" else []
    if name == "read" and more[:1] == ["--record"]:
        more = [*more, "--leg", "rear"]
    if name == "sag" and option == "--date":
        more = ["--length", "rear=hanging 640 mm, rider-aboard 602 mm"]
    assert place.status(name, option, value, *more, words=words) == 2


@pytest.mark.parametrize("name", [one for one in WALKED if has(one, "--bike") or has(one, "bike")])
def test_a_bike_that_is_not_there(name: str, place: Place) -> None:
    place.ride()
    named = ["--bike", "grey-twim"] if has(name, "--bike") else ["grey-twim"]
    words = place.words(name)
    assert place.status(name, *named, words=words) == 1
    result = place.garage.run(*words, *named)
    assert "Did you mean grey-twin?" in result.stderr


@pytest.mark.parametrize(
    "name", [one for one in WALKED if (has(one, "--bike") or has(one, "bike")) and one != "ride list"]
)
def test_no_bike_at_all_and_two_of_them(name: str, place: Place) -> None:
    place.ride()
    words = place.words(name)
    text = place.garage.bike.read_text(encoding="utf-8")
    other = place.garage.bike.with_name("red-one.toml")
    other.write_text(text.replace("Grey twin", "Red one"), encoding="utf-8")
    assert place.status(name, words=words) == 1
    assert "Which bike?" in place.garage.run(*words).stderr
    other.unlink()
    place.garage.bike.unlink()
    assert place.status(name, words=words) == 1
    assert "There is no bike" in place.garage.run(*words).stderr


NEEDS_A_LOG = [
    *("ride list", "ride show", "ride amend", "ride legs", "ride recount", "ride route", "logbook export"),
    *(
        "logbook backup",
        "logbook check",
        "logbook repair",
        "advise",
        "chart",
        "card-of-settings",
        "pool export",
    ),
    *("sag", "loads"),
]


@pytest.mark.parametrize("name", NEEDS_A_LOG)
def test_a_logbook_that_is_not_there(name: str, place: Place) -> None:
    assert place.status(name) == 1


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("read", "read {folder}/none.jpg --shaft 41mm --layout fork"),
        ("ride add", "ride add --photo rear={folder}/none.jpg"),
        ("sag", "sag --photo rear.on-wheels={folder}/none.jpg"),
        ("logbook import", "logbook import {folder}/none.json"),
        ("pool show", "pool show {folder}/none.csv"),
        ("day run", "day run {folder}/none"),
        ("day new", "day new {folder}/day --entrants {folder}/none.txt"),
        ("demo", "demo -o {folder}/demo --samples {folder}/none"),
        ("bike show", "bike show {folder}/none.toml"),
    ],
)
def test_a_file_that_is_not_there(name: str, words: str, place: Place) -> None:
    assert place.status(name, words=words.format(folder=place.folder).split()) == 1


@pytest.mark.parametrize("name", [one for one in WALKED if has(one, "--output") and one != "day run"])
def test_an_output_that_cannot_be_written(name: str, place: Place) -> None:
    place.ride()
    words = place.words(name)
    target = words[words.index("-o") + 1] if "-o" in words else str(place.folder / "out")
    Path(target).write_text("mine", encoding="utf-8")
    more = [] if "-o" in words else ["-o", target]
    assert place.status(name, *more, words=words) == 1
    assert Path(target).read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("advise", "advise --load sloo"),
        ("loads", "loads --load sloo"),
        ("sag", "sag --load sloo"),
        ("bike spring", "bike spring --load sloo"),
        ("ride plan", "ride plan --load sloo"),
    ],
)
def test_a_load_that_is_not_there(name: str, words: str, place: Place) -> None:
    place.ride()
    assert place.status(name, words=words.split()) == 1
    assert "Did you mean solo?" in place.garage.run(*words.split()).stderr


def test_no_command_of_that_name(place: Place) -> None:
    for words in (["raed"], ["bike", "shwo"], ["ride", "ad"]):
        for more in ([], ["--json"]):
            result = place.garage.run(*words, *more)
            assert result.exit_code == 2
            assert "Did you mean" in (strict(result.stderr)["error"]["message"] if more else result.stderr)
