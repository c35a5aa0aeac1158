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


# What a rider looks at next, and mistakes: each fits a screen, and breaks no word.
SCREENS = {
    "advise": "Do: Front preload: 1 turn more",
    "ride list": "3: 110",
    "ride show 1": "front preload, both sides: 3 turns from the soft end",
    "settings": "No card is measured yet",
    "read none.jpg": "none.jpg does not exist. Check the name and the folder.",
    "advise --load sloo": "There is no reading to advise on for the load sloo (loads there: load not stated).",
}


def blocks() -> list[list[str]]:
    """Give the lines that the guide says are typed: from the install to the first advice, then the second ride."""
    found = re.findall(r"```text\n(.*?)```", GUIDE.read_text(encoding="utf-8"), re.DOTALL)
    return [one.removesuffix("\n").split("\n") for one in found]


def is_command(line: str) -> bool:
    return line.startswith(("strandline ", "pipx "))


def screens_of(lines: list[str], log: Path) -> list[str]:
    """Type lines into terminals, a new one for each command; what each showed."""
    found = []
    while lines:
        command, *words = shlex.split(lines.pop(0))
        assert command == "strandline"
        terminal = Terminal(*words, logbook=log)
        while lines and not is_command(lines[0]):
            terminal.wait_for("> ")
            terminal.type(lines.pop(0))
        found.append(terminal.end())
        assert terminal.code == 0, terminal.shown
    return found


def test_figures_are_those_of_what_is_typed() -> None:
    first, second = blocks()
    commands = [line for line in first if is_command(line)]
    counted = (len(commands), len(first) - len(commands), sum(map(len, first)))
    assert "| now | {} | {} | {} |".format(*counted) in GUIDE.read_text(encoding="utf-8")
    assert all(now <= wanted for now, wanted in zip(counted, (4, 12, 150), strict=True)) and len(second) == 1


def test_what_is_typed_ends_in_advice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    shutil.copy(PHOTO, tmp_path / "IMG_1.jpg")
    (tmp_path / "IMG_2.jpg").write_bytes(PHOTO.read_bytes() + b"\0")
    first, second = blocks()
    log = tmp_path / "log" / "logbook.sqlite"
    card, new, read = screens_of([line for line in first if not line.startswith("pipx ")], log)
    (again,) = screens_of(second, log)
    assert not [fault for one in (card, new, read, again) for fault in screen_faults(one)]
    assert "Enough for advice on the front." in new and "Recorded as ride 1, 2026-05-01" in read
    assert "1 turn more, both sides alike, to 4 turns" in " ".join(read.split())
    assert "4 turns taken over, as advised before it" in " ".join(again.split())
    assert "Do: Front preload: 1 turn more, both sides alike, to 5 turns" in " ".join(again.split())
    for words, said in SCREENS.items():
        terminal = Terminal(*words.split(), logbook=log)
        shown = terminal.end()
        assert said in " ".join(shown.split()) and not screen_faults(shown), shown
        assert len(shown.rstrip("\n").split("\n")) < ROWS, shown
    # One line is for the next command.
    assert all(len(one.rstrip("\n").split("\n")) < ROWS for one in (read, again)), read
