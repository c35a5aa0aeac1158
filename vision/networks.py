"""The three small networks, run by OpenCV: loaded once a process, from the files beside this one."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from vision.errors import VisionError
from vision.views import DIAMETER_UNIT_MM, READER_COLUMNS

# The reader network halves its rows five times, the edge network four times.
ROWS_MULTIPLE, EDGE_ROWS_MULTIPLE = 32, 16


@lru_cache(maxsize=3)
def _network(name: str) -> Any:
    import cv2

    path = Path(__file__).with_name(f"{name}.onnx")
    if not path.is_file():
        raise VisionError(f"the network file {path.name} is missing", "install Strandline again")
    if not hasattr(cv2.dnn, "ENGINE_CLASSIC"):
        return cv2.dnn.readNetFromONNX(str(path))
    # OpenCV 5 has two engines. This one runs the edge network in 0.73 of the other's time, the others in about the
    # same; their answers differ by 1e-4 of scores over 10 [measured].
    return cv2.dnn.readNetFromONNX(str(path), cv2.dnn.ENGINE_CLASSIC)


def _channels(view: np.ndarray, diameter_mm: float, *more: np.ndarray) -> np.ndarray:
    """A view as a network takes it: RGB from 0 to 1, the diameter, and what else differs from column to column."""
    channels = np.empty((1, 4 + len(more), *view.shape[:2]), np.float32)
    channels[0, :3] = view.transpose(2, 0, 1) / np.float32(255)
    channels[0, 3] = diameter_mm / DIAMETER_UNIT_MM
    for i, one in enumerate(more):
        channels[0, 4 + i] = one
    return channels


def _run(name: str, channels: np.ndarray) -> np.ndarray:
    net = _network(name)
    net.setInput(channels)
    return np.asarray(net.forward())


def exposed_shaft(view: np.ndarray, diameter_mm: float) -> np.ndarray:
    """Where the finder view shows the exposed shaft.

    Parameters
    ----------
    view : ndarray of uint8, shape (216, 128, 3)
    diameter_mm : float
        Declared diameter.

    Returns
    -------
    ndarray of float32, shape (216, 128)
        Probability that a point lies within the outline of the exposed shaft, hidden or not. (The network also says
        where the shaft or the marker on it is seen, which helps it learn and is not asked for here.)
    """
    scores = _run("finder", _channels(view, diameter_mm))[0, 0]
    return np.asarray(1 / (1 + np.exp(-scores)))


def classes_along(view: np.ndarray, diameter_mm: float) -> np.ndarray:
    """What each point of the reader view shows.

    Parameters
    ----------
    view : ndarray of uint8, shape (rows, 64, 3)
        `READER_ROWS` rows, or fewer: a multiple of `ROWS_MULTIPLE`.
    diameter_mm : float

    Returns
    -------
    ndarray of float32, shape (7, rows, 64)
        Probabilities in the order of `vision.parts.Part`.
    """
    u = (np.arange(READER_COLUMNS, dtype=np.float32) + 0.5) / READER_COLUMNS * 2 - 1
    return _softmax(_run("reader", _channels(view, diameter_mm, np.abs(u)))[0])


def edge_shares(views: tuple[np.ndarray, np.ndarray], diameter_mm: float) -> np.ndarray:
    """What each point of the two edge views shows.

    Parameters
    ----------
    views : tuple of two ndarrays of uint8, shape (rows, 64, 3)
        `EDGE_ROWS` rows, or fewer: a multiple of `EDGE_ROWS_MULTIPLE`.
    diameter_mm : float

    Returns
    -------
    ndarray of float32, shape (2, 3, rows, 64)
        Probabilities of bare shaft, of what lies behind it, of anything else.
    """
    return np.stack([_softmax(_run("edger", _channels(view, diameter_mm))[0]) for view in views])


def _softmax(scores: np.ndarray) -> np.ndarray:
    e = np.exp(scores - scores.max(axis=0, keepdims=True))
    return e / e.sum(axis=0, keepdims=True)
