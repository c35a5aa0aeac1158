"""A made-up day: a folder with a roster, bikes' files and made-up photos, and the run over it."""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from strandline.__main__ import cli
from strandline.day.pipeline import DayRequest, run_day
from strandline.day.reading.jobs import Answer, Job
from strandline.day.results.results import DayResults
from strandline.shared.worker import Limits, Lost
from tests.helpers.stub_reader import READER, Scene, process_photo, put

ROSTER = "card,label,bike,end,side,from,to\n3,Anna,bikes/twin.toml,,,,\n4,Béla,bikes/single.toml,,,,\n"

# E0 205, S 120 for the fork, as in the trade's check values; the shock's reserve goes to its bumper.
FORK = """
[leg.{name}]
layout = "fork"
shaft = "{shaft}"
extended = "205 mm"
stroke = "120 mm"
marker.kind = "o-ring"
marker.width = "3.6 mm"
"""
SHOCK = """
[leg.{name}]
layout = "shock"
shaft = "{shaft}"
extended = "80 mm"
bumper_free = "20 mm"
bumper_crushed = "8 mm"
marker.kind = "o-ring"
marker.width = "2.5 mm"
"""
TWIN = 'format = 1\nname = "Grey twin"\n' + "".join(
    (
        FORK.format(name="front-left", shaft="41.0 mm"),
        FORK.format(name="front-right", shaft="41.0 mm"),
        SHOCK.format(name="rear-left", shaft="14.0 mm"),
        SHOCK.format(name="rear-right", shaft="14.0 mm"),
    )
)
SINGLE = 'format = 1\nname = "Blue single"\n' + "".join(
    (
        FORK.format(name="front-left", shaft="38.0 mm"),
        FORK.format(name="front-right", shaft="41.0 mm"),
        SHOCK.format(name="rear", shaft="16.0 mm"),
    )
)
SHOCK_SEEN = Scene(exposed=70.0, marker=40.0)
"""A shock's lengths: its stroke to the bumper is 80 mm."""


class Inline:
    """An engine in this very process: quick to start, for tests that are not about processes."""

    def work(self, jobs: Iterable[Job], limit_s: float) -> Iterator[tuple[Job, Answer | Lost]]:
        """Do all jobs, one after the other."""
        for job in jobs:
            yield job, process_photo(job)

    def close(self) -> None:
        """Nothing to close."""


class MadeDay:
    """The folder and the run; `pool` makes it run in worker processes."""

    def __init__(self, folder: Path, roster: str = ROSTER, *, pool: bool = False) -> None:
        self.folder = folder
        (folder / "bikes").mkdir(parents=True)
        (folder / "bikes" / "twin.toml").write_text(TWIN, encoding="utf-8")
        (folder / "bikes" / "single.toml").write_text(SINGLE, encoding="utf-8")
        (folder / "roster.csv").write_text(roster, encoding="utf-8")
        self.set_up(pool=pool)

    def set_up(self, *, pool: bool) -> None:
        """Prepare the run over a folder that is there."""
        self.request = DayRequest(
            self.folder,
            state="on-wheels",
            workers=2,
            limits=Limits(20, 6000),
            reader=READER,
            program="stub",
            own_engine=None if pool else Inline,
        )

    @property
    def out(self) -> Path:
        """Folder of the results."""
        return self.request.day.out

    def put(self, name: str, scene: Scene | None = None, **values: Any) -> Path:
        """Add a made-up photo."""
        if scene is None:
            scene = Scene(salt=1_000_000 + zlib.crc32(name.encode("utf-8", "surrogateescape")) % 1_000_000)
        return put(self.folder / name, replace(scene, **values))

    def run(self, **values: Any) -> DayResults:
        """Run over the folder."""
        return run_day(replace(self.request, **values))

    def lines(self, kind: str) -> list[dict[str, Any]]:
        """Objects of a kind in the JSON lines."""
        text = (self.out / "day.jsonl").read_text(encoding="utf-8")
        return [one for one in map(json.loads, text.splitlines()) if one["kind"] == kind]


def codes(results: DayResults) -> dict[str, str]:
    """Reason by file."""
    return {one.file: one.code for one in results.exceptions}


def legs(results: DayResults) -> dict[tuple[str, str, str], float]:
    """Return the used stroke by label, leg and phase, mm."""
    found = {}
    for bike in results.bikes:
        for leg in bike.legs:
            used = leg.counted.used
            assert used is not None
            found[bike.label, leg.leg.value, leg.phase.value] = round(used.value, 3)
    return found


def run(*words: str | Path) -> Result:
    """Run the command line as a person would."""
    return CliRunner().invoke(cli, [str(word) for word in words])


def json_lines(result: Result) -> list[dict[str, Any]]:
    """Parse the objects on standard output, one per line."""
    return [json.loads(line) for line in result.stdout.splitlines()]
