"""One word for one thing in the options of all commands."""

from __future__ import annotations

import re

import click
import pytest

from strandline.__main__ import cli
from strandline.help.commands_page import commands_of
from strandline.shared.option_kinds import FormerArgument, RenamedOption
from tests.helpers.made_bikes import Garage
from tests.helpers.made_readings import made_in_full, photo, put_in_place, run

LEAVES = {
    one.command_path.removeprefix("strandline "): one.command
    for one in commands_of(click.Context(cli, info_name="strandline"))
    if not isinstance(one.command, click.Group)
}
# What click writes where nobody named a value.
NAMELESS = {"TEXT", "INTEGER", "FLOAT", "PATH", "DIRECTORY", "UUID", "BOOLEAN"}
UNIT = {
    "LENGTH": r"\d ?(mm|in)\b",
    "MASS": r"\d ?(kg|lb)\b",
    "PRESSURE": r"\d ?(bar|psi|kPa)\b",
    "TEMPERATURE": r"\d ?(C|F)\b",
}
# These write nothing but their own store, or what they are named after.
WRITES = {
    "card",
    "read",
    "bike new",
    "logbook export",
    "logbook backup",
    "logbook repair",
    "chart",
    "card-of-settings",
    "pool export",
    "pool show",
    "pool demo",
    "day run",
    "demo",
}
# They show no length: files, counts of rows, words.
NO_LENGTHS = {
    "ride plan",
    "bike ratio",
    "ride recount",
    "ride route",
    "card",
    "settings",
    "bike more",
    "completion install",
    "bike new",
    "bike edit",
    "bike list",
    "logbook export",
    "logbook import",
    "logbook backup",
    "logbook repair",
    "logbook check",
    "pool export",
    "pool demo",
    "day new",
    "help",
}


def options(command: click.Command) -> dict[str, click.Option]:
    return {one.opts[-1]: one for one in command.params if isinstance(one, click.Option)}


def metavar(command: click.Command, option: click.Option) -> str:
    return option.make_metavar(click.Context(command))


@pytest.mark.parametrize("name", LEAVES)
def test_every_value_is_named_and_has_its_unit(name: str) -> None:
    for spelling, option in options(LEAVES[name]).items():
        if option.is_flag or isinstance(option.type, click.Choice):
            continue
        shown = metavar(LEAVES[name], option)
        if spelling != "--note":  # which is text
            assert shown not in NAMELESS and "RANGE" not in shown, (spelling, shown)
        for quantity, unit in UNIT.items():
            if quantity in shown:
                assert re.search(unit, option.help or ""), (spelling, option.help)


@pytest.mark.parametrize("name", LEAVES)
def test_what_is_written_is_named_by_output_and_replaced_by_force(name: str) -> None:
    found = options(LEAVES[name])
    assert ("--output" in found) == (name in WRITES)
    if name not in WRITES:
        return
    assert found["--output"].opts == ["-o", "--output"]
    assert metavar(LEAVES[name], found["--output"]) in ("FILE", "DIR")
    if name != "day run":  # its results are its own, written anew each time
        assert "--force" in found


@pytest.mark.parametrize("name", LEAVES)
def test_lengths_come_in_the_owners_units(name: str) -> None:
    found = options(LEAVES[name])
    assert ("--units" in found) == (name not in NO_LENGTHS)
    if "--units" in found:
        assert metavar(LEAVES[name], found["--units"]) == "[mm|in]"


def test_an_option_of_one_name_is_one_option() -> None:
    """Same name, same metavar and same kind of value, whatever the command."""
    seen: dict[str, set[str]] = {}
    for command in LEAVES.values():
        for spelling, option in options(command).items():
            seen.setdefault(spelling, set()).add(metavar(command, option))
    allowed = {
        "--output": {"FILE", "DIR"},
        "--photo": {"LEG=FILE", "LEG.STATE=FILE"},  # a leg's sag needs the state as well
        "--state": {"[hanging|on-wheels|rider-aboard]", "[LEG=]STATE"},
        "--format": {"[svg|png]", "[json|csv]"},
    }
    several = {name: found for name, found in seen.items() if len(found) > 1}
    assert all(found <= allowed.get(name, set()) for name, found in several.items()), several


@pytest.mark.parametrize("name", LEAVES)
def test_colour_is_spelt_one_way(name: str) -> None:
    shown = run(*name.split(), "--help").output
    assert not re.search(r"\bcolor|gray\b", shown, re.IGNORECASE)


def test_former_spellings_are_read_and_not_shown() -> None:
    former = {
        spelling: name
        for name, command in LEAVES.items()
        for option in command.params
        if isinstance(option, RenamedOption)
        for spelling in option.former
    }
    assert {"--overlay", "--marker-color"} <= former.keys()
    for spelling, name in former.items():
        assert spelling not in run(*name.split(), "--help").output.replace(",", " ").split()
        option = next(one for one in LEAVES[name].params if spelling in getattr(one, "former", ()))
        arguments = ["a.jpg", "--shaft", "41mm", "--layout", "fork"] if name == "read" else ["a"]
        context = LEAVES[name].make_context(name, [*arguments, spelling, "orange"])
        assert str(context.params[str(option.name)]) == "orange"


def test_former_arguments_are_read_and_not_shown(tmp_path: pytest.TempPathFactory) -> None:
    named = {
        name for name, one in LEAVES.items() if any(isinstance(param, FormerArgument) for param in one.params)
    }
    assert named == {"logbook export", "logbook backup"}
    for name in named:
        assert "FORMER" not in run(*name.split(), "--help").output.upper()
        assert run(*name.split()).exit_code == 2
        assert run(*name.split(), "a", "-o", "b").exit_code == 2


def test_former_targets_still_work(tmp_path_factory: pytest.TempPathFactory) -> None:
    garage = Garage(tmp_path_factory.mktemp("former") / "garage")
    garage.ok("ride", "add", "--bike", "grey-twin", "--date", "2026-05-01", "--note", "wet")
    for number, words in enumerate((("logbook", "export"), ("logbook", "backup"))):
        target = garage.logbook.parent / f"out-{number}"
        garage.ok(*words, target)
        assert target.is_file()


def test_overlay_still_names_the_folder(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path_factory.mktemp("overlay")
    put_in_place(monkeypatch, made_in_full())
    picture = photo(folder / "a.jpg")
    for option, out in (("--overlay", folder / "old"), ("-o", folder / "new")):
        assert run("read", picture, "--shaft", "41mm", "--layout", "fork", option, out).exit_code == 0
        assert (out / "a-reading.jpg").is_file()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("ride", "show", "x"), "“x” is not a whole number, 1 or more."),
        (("ride", "show", "0"), "0 is not allowed: give a whole number, 1 or more."),
        (("card", "--tags", "9"), "9 is not allowed: give a whole number from 1 to 7."),
        (("pool", "show", "a.csv", "--bin", "x"), "“x” is not a number of kg, 1 or more."),
    ],
)
def test_wrong_numbers_are_said_in_plain_words(words: tuple[str, ...], said: str) -> None:
    result = run(*words)
    assert result.exit_code == 2 and said in result.stderr


def test_a_bikes_values_in_inches_pounds_and_psi(tmp_path_factory: pytest.TempPathFactory) -> None:
    """NIST SP 811, B.8: 25.4 mm an inch; 41.0 mm are 1.614 in, ± 0.05 mm are 0.002 in."""
    garage = Garage(tmp_path_factory.mktemp("units") / "garage")
    assert "shaft: 41.0 mm (± 0.05 mm)" in garage.ok("bike", "show", "grey-twin")
    inches = garage.ok("bike", "show", "grey-twin", "--units", "in")
    assert "shaft: 1.614 ± 0.002 in" in inches and "mm" not in inches
    assert "shaft: 41.0 ± 0.1 mm" in garage.ok("bike", "show", "grey-twin", "--units", "mm")


def test_a_ride_is_shown_in_inches(tmp_path_factory: pytest.TempPathFactory) -> None:
    garage = Garage(tmp_path_factory.mktemp("ride") / "garage")
    said = garage.ok(
        *("ride", "add", "--bike", "grey-twin", "--date", "2026-05-01"),
        *("--reading", "rear=remaining 25.4 mm", "--units", "in"),
    )
    assert "remaining 1.000 ± 0.020 in" in said


def test_a_wrong_state_is_refused_even_where_no_reading_takes_it(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    garage = Garage(tmp_path_factory.mktemp("state") / "garage")
    assert "“flying” is not a state" in garage.refused(
        "ride", "add", "--bike", "grey-twin", "--state", "flying"
    )
