"""What a reading asks for: passes of the networks, rows shown to them, evaluations of the adjustment, views sampled.

Times depend on the machine and on what else it does; these counts do not. Limits are what was counted when they were
set, and a little more of what depends on rounding. A photo whose rims are clear must not cost what one that leaves
them open does.
"""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import wraps
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import calibration.grey
from bench.photo12 import enlarged, sample_named
from calibration import detect_markers
from calibration.find_card import find_card
from calibration.photo import load_photo
from tests.helpers.special_photos import case, sample_case
from vision.adjustment.residuals import ResidualModel
from vision.geometry import sampling, views
from vision.networks import run
from vision.reading import Status

# Evaluations that another processor's rounding may add: a solve takes three at the least.
ROUNDING_EVALUATIONS = 1


@dataclass
class Cost:
    """Passes and rows of each network, by its file's name, and how often the rest was called."""

    passes: Counter[str] = field(default_factory=Counter)
    rows: Counter[str] = field(default_factory=Counter)
    calls: Counter[str] = field(default_factory=Counter)


@pytest.fixture
def cost(monkeypatch: pytest.MonkeyPatch) -> Cost:
    """Count from now on."""
    counted = Cost()
    ask = run._run

    def asked(name: str, channels: np.ndarray) -> np.ndarray:
        counted.passes[name] += 1
        counted.rows[name] += channels.shape[0] * channels.shape[2]
        return ask(name, channels)

    def counting(name: str, work: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(work)
        def called(*args: Any, **kwargs: Any) -> Any:
            counted.calls[name] += 1
            return work(*args, **kwargs)

        return called

    monkeypatch.setattr(run, "_run", asked)
    monkeypatch.setattr(ResidualModel, "evaluate", counting("evaluations", ResidualModel.evaluate))
    monkeypatch.setattr(views, "sample", counting("views", sampling.sample))
    return counted


@pytest.mark.parametrize(
    ("name", "sides", "part_rows", "evaluations"),
    [
        ("fork-chrome-blue-tie.jpg", {"silhouette_coarse": 1, "silhouette_fine": 1}, 896, 20),
        ("bare-shock-red-o-ring.jpg", {"silhouette_fine": 2}, 576, 28),
    ],
)
def test_a_clear_photo_asks_for_no_more_than_this(
    name: str, sides: dict[str, int], part_rows: int, evaluations: int, cost: Cost
) -> None:
    """The finder looks for a second shaft, too; the second part segmentation at either end, at 288 rows about it."""
    assert sample_case(sample_named(name)).read().status is Status.READ
    rims = {"rim_refinement_a": 1, "rim_refinement_b": 1}
    assert dict(cost.passes) == {
        "shaft_segmentation": 2, "part_segmentation": 1, "part_segmentation_b": 2, **sides, **rims
    }  # fmt: skip
    assert cost.rows["part_segmentation"] <= part_rows
    assert cost.rows["part_segmentation_b"] <= 2 * 288
    # Three of the evaluations ask for stray corners and for a cut; each is one of the card alone.
    # The card's plane, two silhouettes twice, the view along the shaft, the photo's own lines beside both silhouettes
    # (3 ms of 150 for a fork).
    assert cost.calls["views"] == 8
    assert cost.calls["evaluations"] <= evaluations + ROUNDING_EVALUATIONS


def test_the_card_of_a_large_photo_is_looked_for_once_and_little_of_it_turned_grey(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Comparing outlines with 148 markers one by one took 10 ms of 12 megapixels, all of it in grey 7 ms."""
    seen: list[int] = []
    grey = calibration.grey._grey

    def counted(pixels: np.ndarray) -> np.ndarray:
        seen.append(pixels.shape[0] * pixels.shape[1])
        return grey(pixels)

    def searched(*_: object) -> None:
        raise AssertionError("the card was searched marker by marker")

    monkeypatch.setattr(calibration.grey, "_grey", counted)
    monkeypatch.setattr(detect_markers, "_detect_markers", searched)
    pixels = load_photo(enlarged(tmp_path, "fork-chrome-blue-tie.jpg").path).stored
    assert len(find_card(pixels).corner_ids) >= 24
    assert sum(seen) < 0.6 * pixels.shape[0] * pixels.shape[1]


def test_a_reading_loads_no_optimiser() -> None:
    """SciPy's take a fifth of a second to load, for one function."""
    code = "import sys, vision.read, vision.adjustment.solve as s\nfrom tests.helpers.special_photos import case\n"
    code += "case('plain').read()\nprint([m for m in sys.modules if m.startswith('scipy.optimize')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip().splitlines()[-1] == "[]"


def test_where_a_rim_is_open_all_networks_see_the_whole_view_once_a_side(cost: Cost) -> None:
    """As it is and mirrored; the second one without the card as well, and at 288 rows about the far end.

    What stays open then is asked of the third one, beside the first and once more, mirrored, beside the fourth; what it
    says of the ends without the card is known by then.
    """
    assert case("paint-ring").read().status is Status.PARTIAL
    assert cost.passes["part_segmentation"] == 2
    assert cost.passes["part_segmentation_b"] == 4
    assert cost.passes["part_segmentation_c"] == 4
    assert cost.passes["part_segmentation_d"] == 2


def test_a_fork_that_seems_to_stand_on_its_head_is_asked_about_its_ends_alone(cost: Cost) -> None:
    """Where they say that the card lies right the first network's rims are believed as ever."""
    assert case("plain").read().status is Status.READ
    assert cost.passes["part_segmentation"] == 1
    assert cost.passes["part_segmentation_b"] == 2
