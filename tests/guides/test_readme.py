"""README.md: short, its two commands, and options that exist."""

from __future__ import annotations

import re
import shlex

import click
import pytest

from docs.folder_map import ROOT
from strandline.__main__ import cli

TEXT = (ROOT / "README.md").read_text("utf-8")
# What a rider reads before giving up; the brief of the rewrite set it.
MOST_LINES = 120


def commands() -> list[list[str]]:
    """Words of each indented `strandline …` line, continuation lines joined."""
    joined = re.sub(r"\\\n\s+", " ", TEXT)
    lines = [line.strip() for line in joined.splitlines() if line.startswith("    strandline ")]
    return [shlex.split(line)[1:] for line in lines]


def test_it_is_short() -> None:
    assert len(TEXT.splitlines()) <= MOST_LINES


def test_make_is_asked_for_in_two_ways_before_more() -> None:
    block = TEXT.split("## Two commands")[1].split("\n## ")[0]
    assert re.findall(r"^    make (\w+)", block, re.M) == ["demo", "test"]


def test_there_are_commands() -> None:
    assert len(commands()) >= 8


@pytest.mark.parametrize("words", commands(), ids=lambda words: " ".join(words[:2]))
def test_each_command_and_option_exists(words: list[str]) -> None:
    command: click.Command | None = cli
    context = click.Context(cli)
    while isinstance(command, click.Group):
        command = command.get_command(context, words.pop(0))
    assert command is not None
    known = {name for parameter in command.params for name in (*parameter.opts, *parameter.secondary_opts)}
    asked = {word.split("=")[0] for word in words if re.match(r"--?[a-z]", word)}
    assert asked <= known
