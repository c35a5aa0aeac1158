"""A close look at a rim: on which side of it each point of the shaft's surface round it lies.

The reader tells what a rim is and where, in rows of 0.25 mm. Its place is then told from a patch of the shaft's surface
round it, in rows of 0.08 mm or 0.16 mm, by a network that was taught where the rim truly is, not where it is seen: what
a lip that stands off the shaft hides or shows, it has to allow for.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from calibration.camera import Camera
from vision.geometry.cylinder import Cylinder
from vision.geometry.views import interpolate, interpolation_grid, mean_image, reader_columns, sample
from vision.networks.run import rim_side_probabilities
from vision.networks.transitions import find_transitions
from vision.rims.candidates import USED_U, RimCandidate

RIM_ROWS, RIM_COLUMNS = 96, 48
# Half-width of a patch in shaft radii: the columns in which the reader's rims are.
RIM_U = USED_U
# A column is the mean of so many places across it: on a wide tube one place is 0.1 px of 6.
COLUMNS_AVERAGED = 3
# Places in the photo are projected for about every so many rows, and interpolated between.
EVERY_ROWS = 8
# A border within so many rows, 2 or 4 mm, of the step that explains a column best is that column's.
NEAR_ROWS = 25
# Rows to the patch's end that a rim must keep: nearer to it, the patch missed the rim.
ROOM_ROWS = 6
# Columns that a rim must show in.
LEAST_COLUMNS = 6


class RimKind(IntEnum):
    """Kinds of rim, in the network's order."""

    SEAL = 0
    MARKER = 1
    FAR_END = 2


# Rows of a patch along the shaft, mm. Of a clamp beside a polished tube the line at which they meet may not show, only
# the clamp's front edge and its picture in the tube, up to 5 mm to either side.
RIM_STEP_MM = {RimKind.SEAL: 0.08, RimKind.MARKER: 0.08, RimKind.FAR_END: 0.16}


@dataclass(frozen=True)
class RefinedRim:
    """A rim as a close look shows it.

    Attributes
    ----------
    s_mm : float
        Where along the axis it lies, as far as the shaft is known by then.
    transition_width_mm : float
        Length along the shaft over which the network is undecided, as in `vision.rims.candidates.RimCandidate`.
    """

    s_mm: float
    transition_width_mm: float


@dataclass(frozen=True)
class RimTarget:
    """A rim as the reader sees it, and what it is.

    Attributes
    ----------
    rim : RimCandidate
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
        """From one row of its patch to the next."""
        return RIM_STEP_MM[self.kind]


@dataclass(frozen=True)
class RimRefiner:
    """The photo and the shaft in it, to look closely at.

    Attributes
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    cylinder : Cylinder
    camera : Camera
    diameter_mm : float
        As stated.
    """

    pixels: np.ndarray
    cylinder: Cylinder
    camera: Camera
    diameter_mm: float

    def refine(self, rims: list[RimTarget]) -> list[RefinedRim | None]:
        """Look at some rims, all at once: two thirds of the time of one after the other [measured].

        Parameters
        ----------
        rims : list of RimTarget

        Returns
        -------
        list of RefinedRim or None
            None where too little of a rim is seen so closely.
        """
        if not rims:
            return []
        patches = [self._patch(one.rim.s_mm, one.sign * one.step_mm) for one in rims]
        slants = [one.sign * self.cylinder.slant(one.rim.s_mm) for one in rims]
        sides = rim_side_probabilities(patches, self.diameter_mm, slants, [int(one.kind) for one in rims])
        return [_refined_rim(one, side) for one, side in zip(rims, sides, strict=True)]

    def _patch(self, s_mm: float, step_mm: float) -> np.ndarray:
        """The patch round a place along the shaft, uint8 (96, 48, 3); its rows follow each other by so much."""
        rows, between = interpolation_grid(RIM_ROWS, EVERY_ROWS)
        along = s_mm + step_mm * (rows - 0.5 * (RIM_ROWS - 1))
        # Along the shaft the surface is straight: each point is a place on the axis and one round it.
        on_axis = self.cylinder.point_cam + along[:, None] * self.cylinder.axis_cam
        phi = -np.arcsin(_across(RIM_COLUMNS * COLUMNS_AVERAGED))
        round_it = self.cylinder.surface(np.zeros(1), phi) - self.cylinder.point_cam
        px = self.camera.project(on_axis[:, None] + round_it[None])
        fine = sample(self.pixels, interpolate(px, between), shrink_first=False)
        return mean_image([fine[:, k::COLUMNS_AVERAGED] for k in range(COLUMNS_AVERAGED)])


def _refined_rim(one: RimTarget, side: np.ndarray) -> RefinedRim | None:
    """The rim that a patch's sides tell of, in the columns that show it."""
    u = _across(RIM_COLUMNS)
    rows, undecided, good = _rows(side)
    good &= np.isin(reader_columns(u), reader_columns(one.rim.u))
    if good.sum() < LEAST_COLUMNS:
        return None
    off_mm = one.step_mm * (float(np.median(rows[good])) - 0.5 * RIM_ROWS)
    return RefinedRim(one.rim.s_mm + one.sign * off_mm, one.step_mm * float(np.median(undecided[good])))


def _across(columns: int) -> np.ndarray:
    """Lateral places of so many columns, radii."""
    return RIM_U * (2 * (np.arange(columns) + 0.5) / columns - 1)


def _rows(side: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Border of each column, in rows from the patch's first edge; over how many it is undecided; whether it is there.

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
