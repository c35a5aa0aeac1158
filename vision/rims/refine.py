"""Refinement of rim positions on high-resolution patches of the shaft's surface.

The part segmentation finds each rim in rows of 0.25 mm. A network then classifies the points of a patch round it, in
rows of 0.08 or 0.16 mm, by their side of the rim. It was trained on the rim's true plane, not on the visible edge, and
so allows for what a lip that stands off the shaft hides or shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from calibration.camera import Camera
from vision.geometry.cylinder import Cylinder
from vision.geometry.sampling import interpolate, interpolation_grid, mean_image, sample
from vision.geometry.views import reader_columns
from vision.networks.run import rim_side_probabilities
from vision.networks.transitions import find_transitions
from vision.rims.candidates import USED_U, RimCandidate

RIM_ROWS, RIM_COLUMNS = 96, 48
# Half-width of a patch, shaft radii: the columns of the rims in the reader view.
RIM_U = USED_U
# Samples averaged across a column: on a wide tube one sample is 0.1 px of 6.
COLUMNS_AVERAGED = 3
# Rows from one projected position to the next; those between are interpolated.
EVERY_ROWS = 8
# Rows about the split of a column that enter its transition: 2 or 4 mm.
NEAR_ROWS = 25
# Least distance of a transition from the patch's ends, rows: nearer to them, the patch missed the rim.
ROOM_ROWS = 6
# Least number of columns that show the rim.
MIN_COLUMNS = 6


class RimKind(IntEnum):
    """Kinds of rim, in the order of the network's channels."""

    SEAL = 0
    MARKER = 1
    FAR_END = 2


# Row spacing of a patch along the shaft, mm. Between a clamp and a polished tube the line of contact may be invisible:
# only the clamp's front edge and its reflection in the tube show, up to 5 mm to either side.
RIM_STEP_MM = {RimKind.SEAL: 0.08, RimKind.MARKER: 0.08, RimKind.FAR_END: 0.16}


@dataclass(frozen=True)
class RefinedRim:
    """A rim as the refinement locates it.

    Attributes
    ----------
    s_mm : float
        Position along the axis, for the shaft as fitted so far.
    transition_width_mm : float
        Width of the class transition, as in `vision.rims.candidates.RimCandidate`.
    """

    s_mm: float
    transition_width_mm: float


@dataclass(frozen=True)
class RimTarget:
    """A rim to be refined.

    Attributes
    ----------
    rim : RimCandidate
        From the part segmentation.
    kind : RimKind
    shaft_follows : bool
        Whether the bare shaft lies on the far end's side of it.
    """

    rim: RimCandidate
    kind: RimKind
    shaft_follows: bool

    @property
    def sign(self) -> float:
        """+1 where the bare shaft lies on the far end's side, else -1."""
        return 1.0 if self.shaft_follows else -1.0

    @property
    def step_mm(self) -> float:
        """Row spacing of its patch."""
        return RIM_STEP_MM[self.kind]


@dataclass(frozen=True)
class RimRefiner:
    """Refines rim positions on high-resolution patches of one photo.

    Attributes
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    cylinder : Cylinder
    camera : Camera
    diameter_mm : float
        Declared.
    """

    pixels: np.ndarray
    cylinder: Cylinder
    camera: Camera
    diameter_mm: float

    def refine(self, rims: list[RimTarget]) -> list[RefinedRim | None]:
        """Refine some rims, all at once: two thirds of the time of one after the other [measured].

        Parameters
        ----------
        rims : list of RimTarget

        Returns
        -------
        list of RefinedRim or None
            None where too little of a rim shows in its patch.
        """
        if not rims:
            return []
        patches = [self._patch(one.rim.s_mm, one.sign * one.step_mm) for one in rims]
        slants = [one.sign * self.cylinder.slant(one.rim.s_mm) for one in rims]
        sides = rim_side_probabilities(patches, self.diameter_mm, slants, [int(one.kind) for one in rims])
        return [_refined_rim(one, side) for one, side in zip(rims, sides, strict=True)]

    def _patch(self, s_mm: float, step_mm: float) -> np.ndarray:
        """Sample the patch round a position along the shaft, uint8 (96, 48, 3); `step_mm` may be negative."""
        rows, between = interpolation_grid(RIM_ROWS, EVERY_ROWS)
        along = s_mm + step_mm * (rows - 0.5 * (RIM_ROWS - 1))
        # Along the shaft the surface is straight: each point is one on the axis plus an offset round it.
        on_axis = self.cylinder.point_cam + along[:, None] * self.cylinder.axis_cam
        phi = -np.arcsin(_lateral_u(RIM_COLUMNS * COLUMNS_AVERAGED))
        round_it = self.cylinder.surface(np.zeros(1), phi) - self.cylinder.point_cam
        px = self.camera.project(on_axis[:, None] + round_it[None])
        fine = sample(self.pixels, interpolate(px, between), shrink_first=False)
        return mean_image([fine[:, k::COLUMNS_AVERAGED] for k in range(COLUMNS_AVERAGED)])


def _refined_rim(one: RimTarget, side: np.ndarray) -> RefinedRim | None:
    """Locate the rim in the columns of its patch that show it."""
    u = _lateral_u(RIM_COLUMNS)
    rows, width, good = _transition_rows(side)
    good &= np.isin(reader_columns(u), reader_columns(one.rim.u))
    if good.sum() < MIN_COLUMNS:
        return None
    off_mm = one.step_mm * (float(np.median(rows[good])) - 0.5 * RIM_ROWS)
    return RefinedRim(one.rim.s_mm + one.sign * off_mm, one.step_mm * float(np.median(width[good])))


def _lateral_u(columns: int) -> np.ndarray:
    """Lateral positions of so many columns, radii."""
    return RIM_U * (2 * (np.arange(columns) + 0.5) / columns - 1)


def _transition_rows(side: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Position and width of each column's transition, in rows, and whether it is there.

    Parameters
    ----------
    side : ndarray of shape (rows, columns)
        Probability of the bare shaft's side, which follows.
    """
    found = find_transitions(1 - side.T, side.T, NEAR_ROWS)
    return (
        found.position,
        found.width,
        (found.position > ROOM_ROWS) & (found.position < len(side) - ROOM_ROWS),
    )
