"""A folder with a logbook and a bike, and the command line run on it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from strandline.__main__ import cli
from tests.helpers.made_readings import strict
from tests.helpers.made_records import REAR

# Fork and shock as in the trade's check values: fork E0 205, S 120; shock E0 80 to the bumper's face, b 20, bs 8.
BIKE = (
    """\
format = 1
name = "Grey twin"  # ours
use = "street"

[leg.front-left]
layout = "fork"
shaft = "41.0 mm"
extended = "205 mm"
stroke = "120 mm"

[leg.front-left.marker]
kind = "o-ring"
width = "3.6 mm"

[leg.front-left.adjuster.preload]
kind = "turns"
steps = "6 turns"

[leg.front-right]
same_as = "front-left"

"""
    + REAR
)

# Both wheels weighed, and all that the physics needs at the rear: MR 0.8, k 40 N/mm, 8 mm of preload at the soft end,
# 115 mm of wheel travel (S 92); the front without springs.
WEIGHED = BIKE.replace(
    "[leg.front-left]",
    """\
wheelbase = "1400 mm"
total_limit = "400 kg"

[front]
wheel_load = "100 kg"
limit = "160 kg"
rake = "25 deg"
wheel_travel = "108 mm"

[rear]
wheel_load = "100 kg"
limit = "240 kg"
motion_ratio = 0.8
wheel_travel = "115 mm"
unsprung = "18 kg"

[leg.front-left]""",
    1,
).replace(
    "[leg.rear.adjuster",
    '[leg.rear.spring]\nrate = "40 N/mm"\npreload_at_soft = "8 mm"\n\n[leg.rear.adjuster',
)


class Garage:
    """A folder with a logbook, and the bike's file where the commands look for it."""

    def __init__(self, folder: Path, bike: str = BIKE) -> None:
        self.logbook = folder / "logbook.sqlite"
        self.bike = folder / "bikes" / "grey-twin.toml"
        self.bike.parent.mkdir(parents=True)
        self.bike.write_text(bike, encoding="utf-8")

    def run(self, *words: str | Path, typed: str | None = None) -> Result:
        """Run a command on this logbook."""
        return CliRunner().invoke(cli, [*map(str, words), "--logbook", str(self.logbook)], input=typed)

    def ok(self, *words: str | Path) -> str:
        """Run a command that must succeed; what it said."""
        result = self.run(*words)
        assert result.exit_code == 0, result.output
        return result.stdout

    def json(self, *words: str | Path) -> dict[str, Any]:
        """Run a command that must succeed and answer with one strict JSON object."""
        return strict(self.ok(*words, "--json"))

    def refused(self, *words: str | Path) -> str:
        """Run a command that must refuse; what it said, without a traceback.

        Which of the two statuses it is for which mistake: tests/strandline/test_same_mistakes.py.
        """
        result = self.run(*words)
        assert result.exit_code in (1, 2), result.output
        assert "Traceback" not in result.output
        return result.stderr
