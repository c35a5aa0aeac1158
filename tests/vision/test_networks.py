"""The networks by ONNX Runtime against OpenCV's own engine, which reads the same files; and views of any length."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import onnx
import pytest

from vision.networks import run

FILES = sorted(Path(run.__file__).parent.glob("*.onnx"))


def trained_on(path: Path) -> tuple[int, ...]:
    """Size of the views that a network was trained on, as its file keeps it."""
    (kept,) = (one.value for one in onnx.load(path).metadata_props if one.key == "trained_on")
    return tuple(map(int, kept.split(" x ")))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_scores_are_those_of_another_engine(path: Path) -> None:
    """Two engines differ by rounding alone: scores of up to 30 by a thousandth; with fewer rows than trained on."""
    batch, channels, rows, columns = trained_on(path)
    rows = rows if rows in (96, 216) else rows // 2 + 32
    view = np.random.default_rng(1).random((batch, channels, rows, columns), np.float32)
    other = cv2.dnn.readNetFromONNX(str(path))
    other.setInput(view)
    np.testing.assert_allclose(run._run(path.stem, view), other.forward(), atol=2e-3)


def test_a_worker_of_several_uses_one_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cv2, "getNumThreads", lambda: 1)
    run._network.cache_clear()
    try:
        options = run._network("rim_refinement_a").get_session_options()
        assert options.intra_op_num_threads == 1 and options.inter_op_num_threads == 1
    finally:
        run._network.cache_clear()
