"""Where a network's answers step from one part to the next along a view's lines, and over how much it is undecided."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Transitions:
    """One step on each of some lines; places count from the line's beginning, in points.

    Attributes
    ----------
    split : ndarray of shape (lines,)
        The whole place that explains a line best: one part before it, the other after.
    near : ndarray of bool, shape (lines, points)
        Points so near to it that they tell of the step.
    position : ndarray of shape (lines,)
        Where the step is, fractional.
    width : ndarray of shape (lines,)
        Over how many points the network is undecided: the integral of 4 p (1 - p).
    """

    split: np.ndarray
    near: np.ndarray
    position: np.ndarray
    width: np.ndarray


def find_transitions(before: np.ndarray, after: np.ndarray, within: float) -> Transitions:
    """Find the step from one part to the other on every line.

    Parameters
    ----------
    before, after : ndarray of shape (lines, points)
        Probabilities of either part.
    within : float
        Points farther than this from the step tell nothing of it.
    """
    lead = np.concatenate([np.zeros((len(before), 1)), np.cumsum(before - after, axis=1)], axis=1)
    nearest = np.argmax(lead, axis=1)
    at = np.arange(before.shape[1])[None, :] + 0.5
    near = np.abs(at - nearest[:, None]) <= within
    share = before / np.maximum(before + after, 1e-6)
    place = np.argmax(near, axis=1) + (share * near).sum(axis=1)
    return Transitions(nearest, near, place, (4 * share * (1 - share) * near).sum(axis=1))
