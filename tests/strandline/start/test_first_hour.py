"""Install to first advice, typed as docs/first-hour.md has it, into a terminal of 80 columns."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest

from docs.folder_map import ROOT
from tests.helpers.terminal import ROWS, Terminal, screen_faults

GUIDE = ROOT / "docs/first-hour.md"
PHOTO = ROOT / "sample-images/upside-down-fork-orange-tie.jpg"


def typed() -> list[str]:
    """Give the lines that the guide says are typed."""
    (block,) = re.findall(r"```text\n(.*?)```", GUIDE.read_text(encoding="utf-8"), re.DOTALL)
    return str(block).removesuffix("\n").split("\n")


def is_command(line: str) -> bool:
    return line.startswith(("strandline ", "pipx "))


def test_figures_are_those_of_what_is_typed() -> None:
    lines = typed()
    commands = [line for line in lines if is_command(line)]
    figures = f"| now | {len(commands)} | {len(lines) - len(commands)} | {sum(map(len, lines))} |"
    assert figures in GUIDE.read_text(encoding="utf-8")


def test_what_is_typed_ends_in_advice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    shutil.copy(PHOTO, tmp_path / "IMG_1.jpg")
    lines = [line for line in typed() if not line.startswith("pipx ")]
    screens = []
    while lines:
        command, *words = shlex.split(lines.pop(0))
        assert command == "strandline"
        terminal = Terminal(*words, logbook=tmp_path / "log" / "logbook.sqlite")
        while lines and not is_command(lines[0]):
            terminal.wait_for("> ")
            terminal.type(lines.pop(0))
        screens.append(terminal.end())
        assert terminal.code == 0, terminal.shown
    card, new, read, advise = screens
    assert not [fault for one in (card, new, advise) for fault in screen_faults(one)]
    assert "Enough for advice on the front." in new and "Ride 1" in read and "Traceback" not in read
    assert "1 turn more, both sides alike, to 4 turns" in " ".join(advise.split())
    assert len(advise.rstrip("\n").split("\n")) <= ROWS
