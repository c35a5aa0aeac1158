"""A hand that sets marks on the rims and edges of a shaft whose truth is known, each point with an error of its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.camera import Camera
from vision.geometry.cylinder import Cylinder
from vision.names import RimName
from vision.request import HandMarks

# Share of the stretch between two outermost rims at which lines along the edges begin and end.
LINE_FROM, LINE_TO = 0.1, 0.9


@dataclass(frozen=True)
class TrueShaft:
    """Where a shaft and its rims truly are in a photo.

    Attributes
    ----------
    camera : Camera
    cylinder : Cylinder
    rims_mm : dict of RimName to float
        Along its axis.
    """

    camera: Camera
    cylinder: Cylinder
    rims_mm: dict[RimName, float]

    def marks(self, rng: np.random.Generator, sd_px: float, *, edges: int = 2) -> HandMarks:
        """Set marks: one point on each rim, opposite the camera, and two points on each of so many edges."""

        def set_on(s_mm: np.ndarray, phi: float) -> np.ndarray:
            px = self.camera.project(self.cylinder.surface(s_mm, np.full(len(s_mm), phi)))
            return np.asarray(px + sd_px * rng.standard_normal(px.shape))

        points = {name: set_on(np.array([s]), 0.0) for name, s in self.rims_mm.items()}
        ends = np.array([min(self.rims_mm.values()), max(self.rims_mm.values())])
        along = ends[0] + (ends[1] - ends[0]) * np.array([LINE_FROM, LINE_TO])
        limb = self.cylinder.silhouette_phi()
        return HandMarks(
            points.get(RimName.SEAL),
            points.get(RimName.MARKER_NEAR),
            points.get(RimName.MARKER_FAR),
            points.get(RimName.FAR_END),
            tuple(set_on(along, side * limb) for side in (-1, 1)[:edges]),
            max(sd_px, 0.5),
        )
