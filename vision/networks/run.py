"""Inference of the small networks by ONNX Runtime; each is loaded once a process from the ONNX file beside this module.

| file | view | answers |
| --- | --- | --- |
| `shaft_segmentation` | card plane | exposed shaft |
| `part_segmentation` | along the shaft | class of each point |
| `silhouette_coarse`, `silhouette_fine` | along either silhouette | shaft, background, anything else |
| `rim_refinement_a`, `rim_refinement_b` | surface patch round a rim | side of the rim |
"""

from __future__ import annotations

import os
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from vision.errors import VisionError
from vision.geometry.views import DIAMETER_UNIT_MM, READER_COLUMNS

# Rows must be a multiple of these: part_segmentation halves its rows five times, the silhouette networks four times.
ROWS_MULTIPLE, EDGE_ROWS_MULTIPLE = 32, 16
# Averaged with each other and with their answers to the mirror image: where they disagree the mean's transition is
# wider, and sigma is proportional to that width (docs/measurement-model.md, "Rim refinement").
RIM_NETWORKS = ("rim_refinement_a", "rim_refinement_b")
# Part segmentations that are shown the side of the card: the first one, and one that went on from it as the last of
# `OTHER_PARTS` did.
FIRST_PARTS = ("part_segmentation", "part_segmentation_d")
# Part segmentations beside them: one trained on the first renderer's scenes alone, one that went on from it with
# those of the second and with marked photographs, half of them with the card painted over.
OTHER_PARTS = ("part_segmentation_b", "part_segmentation_c")

# Positions along the axis are given to the part segmentation in units of so many mm, and no farther than that many.
SIDE_UNIT_MM, MOST_SIDE = 100.0, 2.0


@lru_cache(maxsize=9)
def _network(name: str) -> Any:
    # ONNX Runtime's newer wheels keep a number for this machine and call their maker's server as soon as they are
    # imported. They look for this first; the call below comes too late for that, and is for Windows' tracing.
    os.environ["ORT_DISABLE_TELEMETRY"] = "1"
    import cv2
    import onnxruntime

    path = Path(__file__).with_name(f"{name}.onnx")
    if not path.is_file():
        raise VisionError(f"the network file {path.name} is missing", "install Strandline again")
    onnxruntime.disable_telemetry_events()
    options = onnxruntime.SessionOptions()
    # As many threads as OpenCV may use: one in a worker of several. They wait asleep between two networks.
    options.intra_op_num_threads = max(1, cv2.getNumThreads())
    options.inter_op_num_threads = 1
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    # Without an arena that keeps the largest buffers, 40 MB less are held after a reading.
    options.enable_cpu_mem_arena = False
    return onnxruntime.InferenceSession(path, options, providers=["CPUExecutionProvider"])


def load_networks() -> None:
    """Load all networks now, so that the first photo does not wait for them."""
    for path in sorted(Path(__file__).parent.glob("*.onnx")):
        _network(path.stem)


def _channels(view: np.ndarray, diameter_mm: float, *more: np.ndarray | np.float32) -> np.ndarray:
    """Stack a network's input channels: RGB from 0 to 1, the diameter, and further ones."""
    channels = np.empty((1, 4 + len(more), *view.shape[:2]), np.float32)
    channels[0, :3] = view.transpose(2, 0, 1) / np.float32(255)
    channels[0, 3] = diameter_mm / DIAMETER_UNIT_MM
    for i, one in enumerate(more):
        channels[0, 4 + i] = one
    return channels


def _run(name: str, channels: np.ndarray) -> np.ndarray:
    net = _network(name)
    return np.asarray(net.run(None, {net.get_inputs()[0].name: channels})[0])


def shaft_probability(view: np.ndarray, diameter_mm: float) -> np.ndarray:
    """Segment the exposed shaft in the finder view.

    Parameters
    ----------
    view : ndarray of uint8, shape (216, 128, 3)
    diameter_mm : float
        Declared diameter.

    Returns
    -------
    ndarray of float32, shape (216, 128)
        Probability that a point lies within the outline of the exposed shaft, hidden or not. The network's second
        channel, the visible shaft, serves training only.
    """
    return _sigmoid(_run("shaft_segmentation", _channels(view, diameter_mm))[0, 0])


def part_probabilities(
    view: np.ndarray, diameter_mm: float, s_mm: np.ndarray, network: str = FIRST_PARTS[0]
) -> np.ndarray:
    """Classify each point of the reader view.

    Parameters
    ----------
    view : ndarray of uint8, shape (rows, 64, 3)
        `READER_ROWS` rows, or fewer: a multiple of `ROWS_MULTIPLE`.
    diameter_mm : float
    s_mm : ndarray of shape (rows,)
        Positions of the rows along the axis: which end of the card a point lies beside is evidence for what it is.
    network : str
        One of `FIRST_PARTS`.

    Returns
    -------
    ndarray of float32, shape (7, rows, 64)
        Probabilities in the order of `vision.networks.classes.Part`.
    """
    side = np.clip(s_mm / SIDE_UNIT_MM, -MOST_SIDE, MOST_SIDE).astype(np.float32)[:, None]
    channels = _channels(view, diameter_mm, _off_middle(READER_COLUMNS), side)
    return _softmax(_run(network, channels)[0])


def other_part_probabilities(view: np.ndarray, diameter_mm: float, network: str) -> np.ndarray:
    """Classify as `part_probabilities` does, by one of `OTHER_PARTS`, which are not shown the side of the card."""
    return _softmax(_run(network, _channels(view, diameter_mm, _off_middle(READER_COLUMNS)))[0])


def silhouette_class_probabilities(
    views: tuple[np.ndarray, np.ndarray], diameter_mm: float, fine: bool = False
) -> np.ndarray:
    """Classify each point of the two edge views.

    Parameters
    ----------
    views : tuple of two ndarrays of uint8, shape (rows, 64, 3)
        `EDGE_ROWS` rows, or fewer: a multiple of `EDGE_ROWS_MULTIPLE`.
    diameter_mm : float
    fine : bool
        Whether these are the fine views.

    Returns
    -------
    ndarray of float32, shape (2, 3, rows, 64)
        Probabilities of bare shaft, of the background behind it, of anything else.
    """
    # Both at once take 0.8 of the time that one after the other does [measured].
    both = np.concatenate([_channels(view, diameter_mm) for view in views])
    return np.stack(
        [_softmax(scores) for scores in _run("silhouette_fine" if fine else "silhouette_coarse", both)]
    )


def rim_side_probabilities(
    patches: list[np.ndarray], diameter_mm: float, slants: list[float], kinds: list[int]
) -> np.ndarray:
    """Classify the points of patches of the shaft's surface by their side of a rim.

    Parameters
    ----------
    patches : list of ndarrays of uint8, shape (96, 48, 3)
        The part that ends the bare shaft comes first, the bare shaft after it.
    diameter_mm : float
    slants : list of float
        Tangents of the viewing angles of the rims, positive from the bare shaft's side.
    kinds : list of int
        0 a seal, 1 a marker's edge, 2 a far end.

    Returns
    -------
    ndarray of float32, shape (n, 96, 48)
        Probability of the bare shaft's side: the mean over `RIM_NETWORKS` and their answers to the mirror image.
    """
    across = _off_middle(patches[0].shape[1])
    channels = np.concatenate([
        _channels(patch, diameter_mm, np.float32(slant), across, *(np.float32(kind == k) for k in range(3)))
        for patch, slant, kind in zip(patches, slants, kinds, strict=True)
    ])  # fmt: skip
    both = np.concatenate([channels, channels[..., ::-1]])
    sides = np.mean([_sigmoid(_run(name, both)[:, 0]) for name in RIM_NETWORKS], axis=0)
    as_seen, mirrored = np.split(sides, 2)
    return np.asarray((as_seen + mirrored[..., ::-1]) / 2)


def _off_middle(columns: int) -> np.ndarray:
    """Distance of each column from a view's middle: 0 to 1 at its sides."""
    return np.abs((np.arange(columns, dtype=np.float32) + 0.5) / columns * 2 - 1)


def _sigmoid(scores: np.ndarray) -> np.ndarray:
    return np.asarray(1 / (1 + np.exp(-scores)))


def _softmax(scores: np.ndarray) -> np.ndarray:
    e = np.exp(scores - scores.max(axis=0, keepdims=True))
    return np.asarray(e / e.sum(axis=0, keepdims=True))
