"""Classes of the part segmentation, and its result for one reader view."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property

import numpy as np

from vision.geometry.views import ReaderFrame


class Part(IntEnum):
    """Classes in the order of the network's channels."""

    ELSE = 0
    SHAFT = 1
    SEAL = 2
    MARKER = 3
    FAR_END = 4
    IN_FRONT = 5
    LOCK = 6


@dataclass(frozen=True)
class PartMap:
    """Class probabilities of one reader view.

    Attributes
    ----------
    probabilities : ndarray of float32, shape (7, rows, columns)
        In the order of `Part`.
    frame : ReaderFrame
        Position of the view in space.
    width_factor : float
        Share of the classes' transition widths that says how far borders are off: less than 1 for the mean of answers.
    """

    probabilities: np.ndarray
    frame: ReaderFrame
    width_factor: float = 1.0

    @cached_property
    def likeliest(self) -> np.ndarray:
        """Likeliest class of each point, uint8 of shape (rows, columns)."""
        return likeliest_class(self.probabilities)

    def ends_u(self, part: Part, rows: slice | np.ndarray) -> tuple[float, float] | None:
        """Find the outermost columns in which a part is seen in some rows.

        Returns
        -------
        tuple of two float or None
            Centres of the columns, radii from the axis; None where fewer than four columns show the part.
        """
        seen = self.probabilities[part, rows].mean(axis=0)
        columns = np.flatnonzero(seen > 0.5)
        if len(columns) < 4:
            return None
        u = self.frame.u()
        return float(u[columns[0]]), float(u[columns[-1]])

    def half_width_u(self, part: Part, rows: slice) -> float | None:
        """Half the width, radii, over which a part is seen in some rows; None where it is not."""
        ends = self.ends_u(part, rows)
        # Either side may be hidden: the wider one counts.
        return None if ends is None else max(-ends[0], ends[1])


def over_view(classified: np.ndarray, rows: tuple[int, int], count: int) -> np.ndarray:
    """Lay the classes of some rows into a view of `count` rows, all others of which show nothing of the shaft.

    Parameters
    ----------
    classified : ndarray of shape (7, rows, columns)
    rows : tuple of two int
        The first row, and the one after the last.
    count : int
    """
    out = np.zeros((len(Part), count, classified.shape[2]), np.float32)
    out[Part.ELSE] = 1.0
    out[:, slice(*rows)] = classified
    return out


def likeliest_class(probabilities: np.ndarray) -> np.ndarray:
    """Likeliest class of each point, shape (rows, columns): numpy's argmax in a seventh of its time [measured]."""
    best = np.zeros(probabilities.shape[1:], np.uint8)
    highest = probabilities[0].copy()
    for k in range(1, len(probabilities)):
        higher = probabilities[k] > highest
        best[higher] = k
        np.copyto(highest, probabilities[k], where=higher)
    return best
