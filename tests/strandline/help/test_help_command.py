"""``strandline help``, the glossary, and docs/commands.md."""

from __future__ import annotations

from pathlib import Path

import click
import pytest

from strandline.__main__ import COMMANDS, cli
from strandline.help.commands_page import commands_page
from strandline.shared.terms import DRAWING, TERMS
from tests.helpers.made_readings import run, strict

PAGE = Path(__file__).parents[3] / "docs" / "commands.md"


def test_help_is_the_overview() -> None:
    said = run("help")
    assert said.exit_code == 0
    assert all(f"\n  {name} " in said.stdout for name in COMMANDS)


def test_help_of_a_command_is_what_its_own_option_prints() -> None:
    assert run("help", "ride", "add").stdout == run("ride", "add", "--help").stdout
    assert strict(run("help", "sag", "--json").stdout)["help"] + "\n" == run("sag", "--help").stdout


@pytest.mark.parametrize("topic", [("raed",), ("ride", "ad"), ("read", "more"), ("terms", "all")])
def test_no_such_topic(topic: tuple[str, ...]) -> None:
    said = run("help", *topic)
    assert said.exit_code == 2
    assert " ".join(topic) in said.stderr
    assert "Did you mean " in said.stderr or "strandline help terms" in said.stderr


def test_terms_have_one_drawing_and_fit_a_terminal() -> None:
    said = run("help", "terms").stdout
    assert DRAWING.rstrip() in said
    assert len(TERMS) == 10 and all(f"\n{term} " in said for term, _ in TERMS)
    lines = said.splitlines()
    assert len(lines) <= 24 and max(map(len, lines[:-1])) <= 80 and Path(lines[-1]).is_file()
    words = strict(run("help", "terms", "--json").stdout)
    assert [(one["term"], one["meaning"]) for one in words["terms"]] == list(TERMS)


def test_page_of_commands_is_up_to_date() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert page == commands_page(), "run: python -m strandline.help.commands_page > docs/commands.md"
    ride = cli.get_command(click.Context(cli), "ride")
    assert isinstance(ride, click.Group)
    assert all(f"\n### strandline ride {name}\n" in page for name in ride.list_commands(click.Context(ride)))
