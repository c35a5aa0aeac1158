"""Photos kept for learning, as training takes them: the rims lie where the renderer put them."""

from __future__ import annotations

import importlib.util
import json
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from bench.photo12 import sample_named
from strandline.day.reading.from_outcome import photo_record
from strandline.demo.samples import Sample
from strandline.garage.marking.kept import record_by_hand
from strandline.garage.marking.learning import Learning, truth_of
from strandline.garage.marking.sight import SightJob
from strandline.garage.marking.solve import Placed
from strandline.read.one_photo import read_one
from strandline.read.parse import parse_options

ROOT = Path(__file__).parents[2]
SAMPLE: Sample = sample_named("fork-chrome-blue-tie.jpg")
TRUE_MM = SAMPLE.rendered


@pytest.fixture(scope="module")
def by_hand() -> ModuleType:
    """Load the script as a module."""
    spec = importlib.util.spec_from_file_location("by_hand", ROOT / "training" / "by_hand.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["by_hand"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Keep a sample photo with what the program saw as the hand's marks."""
    learning = Learning(tmp_path_factory.mktemp("kept") / "learning")
    learning.switch(True)
    inputs = parse_options(SAMPLE.options)
    sight = SightJob(SAMPLE.path, inputs).run()
    placed = Placed(replace(sight.offered, sd_px=1.0), frozenset({"seal", "far"}))
    outcome, _ = read_one(str(SAMPLE.path), inputs)
    record = record_by_hand(sight, inputs, placed)
    learning.keep(SAMPLE.path, truth_of(inputs, placed, record, photo_record(outcome, inputs)), "0" * 16)
    (learning.folder / "broken.json").write_text("{}", encoding="utf-8")
    return learning.folder


def test_a_kept_photo_is_a_view_with_its_rims(by_hand: ModuleType, folder: Path) -> None:
    (one,) = by_hand.views(folder)
    assert one.view.shape == (1024, 64, 3) and one.view.dtype == np.uint8 and one.view.std() > 10
    # 0.25 mm a row; the lengths are the renderer's (sample-images/photos.toml)
    exposed_mm = 0.25 * (one.rows["far end"] - one.rows["seal"])
    marker_mm = 0.25 * (one.rows["marker"] - one.rows["seal"])
    assert exposed_mm == pytest.approx(TRUE_MM["exposed_mm"], abs=1.0)
    assert marker_mm == pytest.approx(TRUE_MM["marker_mm"], abs=1.0)
    assert one.verdicts == {"exposed": "right", "marker": "right", "remaining": "right"}
    assert 0.1 < one.sd_rows < 2


def test_its_command_counts_and_packs(
    by_hand: ModuleType,
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(sys, "argv", ["by_hand.py", str(folder), "--out", str(tmp_path / "views.npz")])
    by_hand.main()
    said = capsys.readouterr()
    assert said.out == "1 photos; the program's lengths: 3 right, 0 wrong, 0 silent\n"
    assert "broken.json: left out" in said.err
    with np.load(tmp_path / "views.npz") as packed:
        assert packed["views"].shape == (1, 1024, 64, 3) and np.isfinite(packed["rows"][0, [0, 1, 3]]).all()


def test_a_kept_photo_says_nothing_of_its_owner(folder: Path) -> None:
    truth = json.loads((folder / f"{'0' * 16}.json").read_text(encoding="utf-8"))
    assert set(truth) == {
        *("format", "layout", "declared", "marks_px", "set_by_hand", "left_out", "hand_sd_px", "program"),
        *("exposed_mm", "marker_mm", "remaining_mm"),
    }
    photo = (folder / f"{'0' * 16}.jpg").read_bytes()
    from PIL import Image

    with Image.open(folder / f"{'0' * 16}.jpg") as image:
        exif = image.getexif()
    # CIPA DC-008: make, model, software, artist, and the directory of the place.
    assert not {0x010F, 0x0110, 0x0131, 0x013B, 0x8825} & set(exif)
    assert SAMPLE.path.name.encode() not in photo
