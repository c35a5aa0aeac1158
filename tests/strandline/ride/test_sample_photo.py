"""A real reading through the logbook and back: what `ride add` keeps gives the stroke that `read` gives."""

from __future__ import annotations

from pathlib import Path

import pytest

from strandline.demo.data import TOML
from tests.helpers.made_bikes import Garage
from tests.helpers.made_readings import json_lines, run

SAMPLES = Path(__file__).parents[3] / "sample-images"


@pytest.mark.parametrize(
    ("leg", "name", "options"),
    [
        (
            "front-left",
            "upside-down-fork-orange-tie.jpg",
            "--shaft=41.01mm --layout=upside-down-fork --extended=190mm --stroke=120mm "
            "--marker=tie --marker-width=4.8mm --marker-colour=orange",
        ),
        (
            "rear-left",
            "coil-over-black-o-ring.jpg",
            "--shaft=13.97mm --layout=shock --extended=90mm --bumper=16mm --bumper-crushed=6mm "
            "--marker=o-ring --marker-width=2.0mm --marker-colour=black",
        ),
    ],
)
def test_a_kept_photo_gives_the_same_stroke(tmp_path: Path, leg: str, name: str, options: str) -> None:
    garage = Garage(tmp_path / "garage", TOML)
    path, more = SAMPLES / name, ("--state", "on-wheels")
    (read,) = json_lines(run("read", path, *options.split(), *more, "--json"))
    added = garage.json("ride", "add", "--bike", "grey-twin", "--photo", f"{leg}={path}", *more)
    (kept,) = added["readings"]
    for field in ("used_mm", "reserve_hard_mm"):
        assert kept["stroke"][field]["value"] == pytest.approx(read["stroke"][field]["value"], abs=1e-4)
        assert kept["stroke"][field]["u95"] == pytest.approx(read["stroke"][field]["u95"], abs=1e-4)
