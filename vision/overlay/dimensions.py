"""Dimension lines beside the shaft: each length from what to what, as on a technical drawing.

Frame: canvas px of the photo's part, x right, y down.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from vision.names import LengthName, RimName
from vision.reading import Reading


@dataclass(frozen=True)
class Dimension:
    """One length as it is drawn.

    Attributes
    ----------
    name : LengthName
    ends_px : ndarray of shape (2, 2)
        Both ends of the dimension line.
    rims_px : ndarray of shape (2, 2)
        The rims' ends from which extension lines go to it.
    outward : ndarray of shape (2,)
        Unit vector from the shaft to the line.
    """

    name: LengthName
    ends_px: np.ndarray
    rims_px: np.ndarray
    outward: np.ndarray

    @property
    def middle_px(self) -> np.ndarray:
        """Where its label belongs."""
        middle: np.ndarray = self.ends_px.mean(axis=0)
        return middle


def lengths_to_draw(reading: Reading) -> tuple[LengthName, ...]:
    """List the lengths that are drawn: those to and from the marker; where there is neither, the exposed one."""
    found = [one for one in (LengthName.MARKER, LengthName.REMAINING) if reading.length(one) is not None]
    if not found and reading.exposed is not None:
        found = [LengthName.EXPOSED]
    return tuple(found)


def dimensions(
    names: Sequence[LengthName],
    curves_px: Mapping[RimName, np.ndarray],
    card_px: np.ndarray | None,
    size_px: tuple[int, int],
    offset_px: float,
) -> list[Dimension]:
    """Place a line for each length on the side of the shaft away from the card, or where there is room.

    Parameters
    ----------
    names : sequence of LengthName
    curves_px : mapping from RimName to ndarray of shape (n, 2)
        Without gaps.
    card_px : ndarray of shape (4, 2) or None
    size_px : tuple of two int
        Width and height of the photo's part.
    offset_px : float
        Of the lines from the shaft.
    """
    known = [name for name in names if all(rim in curves_px for rim in name.rims)]
    if not known:
        return []
    used = [curves_px[rim] for name in known for rim in name.rims]
    outward = _outward(used, None if card_px is None else card_px.mean(axis=0))
    for side in (outward, -outward):
        found = [_one(name, curves_px, side, offset_px) for name in known]
        if all(_inside(one.ends_px, size_px, offset_px / 2) for one in found):
            return found
    return []


def _outward(curves: Sequence[np.ndarray], card_px: np.ndarray | None) -> np.ndarray:
    """Return the unit vector across the shaft, away from the card; to the right where there is none."""
    chords = [curve[-1] - curve[0] for curve in curves]
    chord = np.sum([one if one @ chords[0] >= 0 else -one for one in chords], axis=0)
    length = float(np.linalg.norm(chord))
    across: np.ndarray = chord / length if length > 0 else np.array([1.0, 0.0])
    if card_px is None:
        return across if across[0] >= 0 else -across
    middle = np.mean([curve.mean(axis=0) for curve in curves], axis=0)
    return -across if (card_px - middle) @ across > 0 else across


def _one(
    name: LengthName, curves_px: Mapping[RimName, np.ndarray], outward: np.ndarray, offset_px: float
) -> Dimension:
    rims = np.array(
        [max(curves_px[rim][[0, -1]], key=lambda point: float(point @ outward)) for rim in name.rims]
    )
    # Both ends equally far out, so that the line runs along the shaft however its outline tapers.
    reach = rims @ outward
    ends = rims + np.outer(reach.max() - reach + offset_px, outward)
    return Dimension(name, ends, rims, outward)


def _inside(points: np.ndarray, size_px: tuple[int, int], margin_px: float) -> bool:
    return bool(np.all(points >= margin_px) and np.all(points <= np.array(size_px) - margin_px))
