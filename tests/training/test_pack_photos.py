"""A file of packed photographs is what the second renderer loads."""

from __future__ import annotations

import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

from scenes import photo_bank

sys.path.insert(0, str(Path(__file__).parents[2] / "training"))

from pack_photos import pack


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Hold one photograph of colour and contrast, one of a blank wall, one too small, and a text."""
    rng = np.random.default_rng(1)
    blotches = cv2.resize(rng.integers(0, 255, (8, 12, 3), dtype=np.uint8), (900, 600))
    blotches[..., 0] = 0  # no blue
    cv2.imwrite(str(tmp_path / "a.png"), blotches)
    cv2.imwrite(str(tmp_path / "wall.png"), np.full((600, 900, 3), 200, np.uint8))
    cv2.imwrite(str(tmp_path / "small.png"), blotches[:100, :100])
    (tmp_path / "notes.txt").write_text("no picture")
    return tmp_path


def test_crops_of_photographs_are_loaded_as_light_with_their_colours(folder: Path, tmp_path: Path) -> None:
    found = pack([folder], count=3, seed=0)
    assert len(found) == 3  # the wall has no contrast
    file = tmp_path / "bank.npz"
    np.savez(file, **found)  # type: ignore[arg-type]  # stubs: a keyword of numpy's own
    sharpest = photo_bank.load(file)[0]
    assert sharpest.shape == (3, *photo_bank.SHAPE, 3)
    assert sharpest[..., 0].mean() > 0.1
    assert sharpest[..., 2].mean() < 0.02  # OpenCV's blue comes first, the bank's last
