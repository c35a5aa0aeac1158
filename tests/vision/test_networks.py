"""The networks by ONNX Runtime against OpenCV's own engine, which reads the trained files; and views of any length."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import onnx
import pytest
from onnx.numpy_helper import to_array

from tests.helpers.special_photos import case
from vision.networks import run
from vision.reading import Status

FILES = sorted(Path(run.__file__).parent.glob("*.onnx"))
# What networks of integers were made of (training/quantize.py).
TRAINED = {path.stem: path for path in (Path(__file__).parents[2] / "training" / "trained").glob("*.onnx")}


# Most by which the mean probabilities of integers differ from the trained network's: half of it was measured.
MOST_OFF = 0.001


def trained_on(path: Path) -> tuple[int, ...]:
    """Size of the views that a network was trained on, as its file keeps it."""
    (kept,) = (one.value for one in onnx.load(path).metadata_props if one.key == "trained_on")
    return tuple(map(int, kept.split(" x ")))


@pytest.mark.parametrize("path", [p for p in FILES if p.stem not in TRAINED], ids=lambda path: path.stem)
def test_scores_are_those_of_another_engine(path: Path) -> None:
    """Two engines differ by rounding alone: scores of up to 30 by a thousandth; with fewer rows than trained on."""
    batch, channels, rows, columns = trained_on(path)
    rows = rows if rows in (96, 216) else rows // 2 + 32
    view = np.random.default_rng(1).random((batch, channels, rows, columns), np.float32)
    other = cv2.dnn.readNetFromONNX(str(path))
    other.setInput(view)
    np.testing.assert_allclose(run._run(path.stem, view), other.forward(), atol=2e-3)


@pytest.fixture(scope="module")
def shown() -> dict[str, np.ndarray]:
    """Keep what each network is shown of a photo; the view along its shaft for those that are not asked."""
    views: dict[str, np.ndarray] = {}
    asked = run._run

    def remembered(name: str, channels: np.ndarray) -> np.ndarray:
        views.setdefault(name, channels)
        return asked(name, channels)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(run, "_run", remembered)
        assert case("plain").read().status is Status.READ
    whole = views["part_segmentation"]
    return {
        **views,
        "part_segmentation_b": whole[:, :5],
        "part_segmentation_c": whole[:, :5],
        "part_segmentation_d": whole,
    }


@pytest.mark.parametrize("name", sorted(TRAINED))
def test_integers_answer_as_the_trained_network_does(name: str, shown: dict[str, np.ndarray]) -> None:
    """By OpenCV's engine, at a photo: another network of the same kind differs by 1.5 times the limit and more."""
    other = cv2.dnn.readNetFromONNX(str(TRAINED[name]))
    other.setInput(shown[name])
    off = np.abs(_probabilities(run._run(name, shown[name])) - _probabilities(other.forward())).mean()
    assert off < MOST_OFF


def _probabilities(scores: np.ndarray) -> np.ndarray:
    return run._sigmoid(scores) if scores.shape[1] == 1 else np.stack([run._softmax(one) for one in scores])


@pytest.mark.parametrize("name", sorted(TRAINED))
def test_integers_are_small_enough_for_any_processor(name: str) -> None:
    """Two products of 8 and 7 bits fit into 16 bits (Intel's manual, VPMADDUBSW); both ends stay as trained."""
    model = onnx.load(Path(run.__file__).with_name(f"{name}.onnx"))
    weights = [to_array(one) for one in model.graph.initializer if len(one.dims) == 4]
    integers = [one for one in weights if one.dtype == np.int8]
    layers = sum(node.op_type == "Conv" for node in onnx.load(TRAINED[name]).graph.node)
    assert len(weights) == layers and len(integers) == layers - 2
    assert 2 * 255 * max(int(np.abs(one.astype(int)).max()) for one in integers) < 2**15


def test_a_worker_of_several_uses_one_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cv2, "getNumThreads", lambda: 1)
    run._network.cache_clear()
    try:
        options = run._network("rim_refinement_a").get_session_options()
        assert options.intra_op_num_threads == 1 and options.inter_op_num_threads == 1
    finally:
        run._network.cache_clear()
