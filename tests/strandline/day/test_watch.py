"""Watching: photos count when they have settled, the page follows, and a roster being edited stops nothing."""

from __future__ import annotations

from pathlib import Path

from strandline.day.pipeline import watch_day
from strandline.day.results.results import DayResults
from tests.helpers.made_day import MadeDay, legs
from tests.helpers.stub_reader import Scene


class Steps:
    """Things that happen between scans; the watch ends when all have happened."""

    def __init__(self, *steps: object) -> None:
        self.steps = list(steps)

    def go_on(self) -> bool:
        return bool(self.steps)

    def wait(self, seconds: float) -> None:
        step = self.steps.pop(0)
        if callable(step):
            step()


def nothing() -> None:
    """Change nothing between two scans."""


def test_photos_appear_settle_change_and_go(tmp_path: Path) -> None:
    day = MadeDay(tmp_path / "day")
    reported: list[DayResults] = []
    warned: list[str] = []
    path = day.folder / "fl.jpg"
    whole = Scene().content

    def half() -> None:
        path.write_bytes(whole[:20])

    def rest() -> None:
        path.write_bytes(whole)

    def break_roster() -> None:
        (day.folder / "roster.csv").write_text("card,label\n", encoding="utf-8")

    steps = Steps(
        *(nothing, half, rest, nothing, nothing),
        *(lambda: day.put("fr.jpg", marker=61.0), nothing, nothing),
        *(break_roster, nothing, nothing),
        *(path.unlink, nothing),
    )
    watch_day(
        day.request,
        lambda done, total: None,
        reported.append,
        warned.append,
        go_on=steps.go_on,
        wait=steps.wait,
    )
    seen = [(one.photos, len(one.exceptions), len(legs(one))) for one in reported]
    assert (1, 1, 0) not in seen  # half a photo was never read
    assert seen[0] == (0, 0, 0) and (1, 0, 1) in seen and (2, 0, 2) in seen and seen[-1] == (1, 0, 1)
    assert warned and "no line with a card" in warned[0]
    assert 'data-reload="0"' in (day.out / "day.html").read_text(encoding="utf-8")
