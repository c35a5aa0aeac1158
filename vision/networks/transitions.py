"""Position and width of the transition from one class to the next along the lines of a view."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Transitions:
    """One transition on each of some lines; positions count from the line's beginning, in points.

    Attributes
    ----------
    split : ndarray of shape (lines,)
        Whole position that explains a line best: one class before it, the other after.
    near : ndarray of bool, shape (lines, points)
        Points within reach of the split, which alone enter position and width.
    position : ndarray of shape (lines,)
        Position of the transition, fractional.
    width : ndarray of shape (lines,)
        Transition width in points: the sum of 4 p (1 - p), p being the share of the first class.
    """

    split: np.ndarray
    near: np.ndarray
    position: np.ndarray
    width: np.ndarray


def find_transitions(before: np.ndarray, after: np.ndarray, reach: float) -> Transitions:
    """Find the transition from one class to the other on every line.

    Parameters
    ----------
    before, after : ndarray of shape (lines, points)
        Probabilities of either class.
    reach : float
        Points farther than this from the split are ignored.
    """
    lead = np.concatenate([np.zeros((len(before), 1)), np.cumsum(before - after, axis=1)], axis=1)
    split = np.argmax(lead, axis=1)
    at = np.arange(before.shape[1])[None, :] + 0.5
    near = np.abs(at - split[:, None]) <= reach
    share = before / np.maximum(before + after, 1e-6)
    position = np.argmax(near, axis=1) + (share * near).sum(axis=1)
    return Transitions(split, near, position, (4 * share * (1 - share) * near).sum(axis=1))
