"""``strandline logbook``, the place of the logbook, and what groups of commands must do."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from strandline.__main__ import GROUPS as ALL_GROUPS
from strandline.__main__ import cli
from strandline.shared.storage import place
from tests.helpers.loaded_modules import HEAVY, ROOMS, modules_after
from tests.helpers.made_bikes import Garage

GROUPS = ("bike", "ride", "logbook")


def subcommands() -> list[tuple[str, str]]:
    found = []
    for name in GROUPS:
        found += [(name, sub) for sub in ALL_GROUPS[name].entries]
    return found


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    garage = Garage(tmp_path / "garage")
    garage.ok("ride", "add", "--bike", "grey-twin", "--reading", "rear=remaining 15 mm", "--felt", "dives")
    return garage


@pytest.mark.parametrize("kind", ["json", "csv"])
def test_out_and_in_again(garage: Garage, tmp_path: Path, kind: str) -> None:
    target = tmp_path / "out"
    out = garage.json("logbook", "export", target, "--format", kind)
    other = Garage(tmp_path / "other")
    assert other.json("logbook", "import", target) == {
        "added": out["rows"],
        "known": 0,
        "renumbered": [],
        "joined_loads": [],
    }
    assert other.json("ride", "list") == garage.json("ride", "list")
    assert other.json("logbook", "import", target)["added"] == 0
    assert "already" in garage.refused("logbook", "export", target, "--format", kind)
    garage.ok("logbook", "export", target, "--format", kind, "--force")
    other.ok("logbook", "export", tmp_path / "again", "--format", kind)
    for path in [target, *target.glob("*")] if target.is_dir() else [target]:
        if path.is_file():
            again = tmp_path / "again" / path.name if target.is_dir() else tmp_path / "again"
            assert path.read_bytes() == again.read_bytes()


def test_backup_is_a_logbook(garage: Garage, tmp_path: Path) -> None:
    target = tmp_path / "copy.sqlite"
    garage.ok("logbook", "backup", target)
    assert "already" in garage.refused("logbook", "backup", target)
    copy = Garage(tmp_path / "copy")
    copy.logbook = target
    assert copy.json("ride", "list") == garage.json("ride", "list")
    assert "no errors, 1 ride" in copy.ok("logbook", "check")


def test_check_tells_damage_with_exit_status_1(garage: Garage) -> None:
    import sqlite3

    assert garage.json("logbook", "check")["findings"] == []
    connection = sqlite3.connect(garage.logbook)
    connection.execute("DROP TRIGGER reading_no_delete")
    connection.close()
    result = garage.run("logbook", "check")
    assert result.exit_code == 1 and "the trigger reading_no_delete is missing" in result.stdout
    garage.logbook.write_bytes(b"nonsense")
    assert "is not a logbook" in garage.refused("logbook", "check")


def test_import_of_nonsense_is_refused(garage: Garage, tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text("[]")
    assert "is not a logbook in JSON" in garage.refused("logbook", "import", tmp_path / "a.json")


def test_where_the_logbook_lies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert place(tmp_path / "a.sqlite") == tmp_path / "a.sqlite"
    assert place(None).name == "logbook.sqlite" and "strandline" in place(None).parts
    monkeypatch.setenv("STRANDLINE_LOGBOOK", str(tmp_path / "here" / "l.sqlite"))
    result = CliRunner().invoke(cli, ["bike", "list"])
    assert str(tmp_path / "here" / "bikes") in result.output


@pytest.mark.parametrize(("group", "name"), subcommands())
def test_every_command_has_json_an_example_and_imports_nothing_heavy(group: str, name: str) -> None:
    result = CliRunner().invoke(cli, [group, name, "--help"])
    assert result.exit_code == 0 and "--json" in result.output
    assert f"Example: strandline {group} {name}" in " ".join(result.output.split())
    command = ALL_GROUPS[group].get_command(click.Context(cli), name)
    assert command is not None
    line = ALL_GROUPS[group].entries[name].line
    assert command.name == name and command.get_short_help_str(200).rstrip(".") == line.rstrip(".")


@pytest.mark.parametrize("group", GROUPS)
def test_help_stays_quick(group: str) -> None:
    for words in ((group, "--help"), subcommands_of(group)):
        heavy = HEAVY | ROOMS | {"ridelog", "tomlkit", "sqlite3", "platformdirs"}
        assert not modules_after(*words) & heavy


def subcommands_of(group: str) -> tuple[str, ...]:
    return (group, next(sub for name, sub in subcommands() if name == group), "--help")


@pytest.mark.parametrize(
    ("words", "expected"),
    [(("ride", ""), "amend"), (("logbook", "b"), "backup"), (("bike", "new", "--b"), "--blank")],
)
def test_shell_completion(words: tuple[str, ...], expected: str) -> None:
    # The protocol is click's own: documentation, "Shell Completion".
    environment = {
        **os.environ,
        "_STRANDLINE_COMPLETE": "bash_complete",
        "COMP_WORDS": " ".join(("strandline", *words)),
        "COMP_CWORD": str(len(words)),
    }
    done = subprocess.run(
        [sys.executable, "-m", "strandline"], env=environment, capture_output=True, text=True, check=True
    )
    assert f"plain,{expected}" in done.stdout.splitlines()


def test_unknown_subcommand_is_wrong_usage() -> None:
    assert CliRunner().invoke(cli, ["ride", "delete"]).exit_code == 2
    group = ALL_GROUPS["ride"]
    assert group.get_command(click.Context(group), "delete") is None
