"""A tech day from a sign-up table of 8 lines, typed as docs/first-hour.md has it, into a terminal of 80 columns."""

from __future__ import annotations

import csv
import re
import shlex
import shutil
from pathlib import Path

import pytest

from docs.folder_map import ROOT
from scenes.tech_day import PHOTOS
from tests.helpers.terminal import ROWS, Terminal, screen_faults

GUIDE = ROOT / "docs/first-hour.md"
SAMPLES = ROOT / "sample-images/tech-day"
# A reading that misses the truth by more than its ± and this, mm, would mislead; as in tests/helpers/special_photos.py.
WRONG_MM = 1.0


def typed() -> list[str]:
    """Give the organiser's commands as the guide has them."""
    (block,) = re.findall(r"```sh\n(strandline day new .*?)```", GUIDE.read_text(encoding="utf-8"), re.DOTALL)
    return str(block).splitlines()


def test_figures_are_those_of_what_is_typed() -> None:
    lines = typed()
    figures = f"| now | {len(lines)} | {sum(map(len, lines))} | {len(PHOTOS)} | 17 |"
    assert figures in GUIDE.read_text(encoding="utf-8")
    assert len((SAMPLES / "sign-up.csv").read_text(encoding="utf-8").splitlines()) == 1 + 8


def test_a_day_from_a_sign_up_table_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    shutil.copy(SAMPLES / "sign-up.csv", tmp_path)
    screens = []
    for line in typed():
        _, *words = shlex.split(line)
        terminal = Terminal(*words, logbook=tmp_path / "log.sqlite")
        screens.append(terminal.end())
        assert terminal.code in (0, 1), terminal.shown
        if words[1] == "new":
            for photo in SAMPLES.glob("*.jpg"):
                shutil.copy(photo, tmp_path / "spring-day" / "photos")
    new, day = (what_stays(one) for one in screens)
    for screen in (new, day):
        assert not screen_faults(screen), screen
        assert len(screen.rstrip("\n").split("\n")) <= ROWS
    assert "stroke_mm" in new and "1 of 4 lines" in new and "hanging_mm" not in new
    results = tmp_path / "spring-day" / "results"
    with (results / "readings.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) >= 15 and f"20 photos: {len(rows)} read, {20 - len(rows)} not read; 4 bikes." in day
    assert {row["label"] for row in rows} == {"Ada", "Ben", "Chidi", "Dana"}
    # The truth is the renderer's: where it put the marker.
    for row in rows:
        number = int(re.sub(r".*IMG_(\d+)_.*", r"\1", row["file"]))
        off_mm = abs(float(row["marker_mm"]) - PHOTOS[number - 1].marker_mm)
        assert off_mm <= max(WRONG_MM, float(row["marker_mm_u95"])), row["file"]
    # Dana's fork is without a stroke: a reading, and no verdict.
    assert all(bool(row["used_percent"]) == (row["label"] != "Dana") for row in rows if "front" in row["leg"])
    assert "results/day.html" in day.replace("\n", "")


def what_stays(shown: str) -> str:
    """Take the progress bar off, which is written over."""
    plain = re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", shown)
    return "\n".join(line.rpartition("\r")[2] for line in plain.split("\n") if "photos/min" not in line)
