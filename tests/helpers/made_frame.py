"""A shaft seen square-on, 20 mm radius at 400 mm, a lens of 3000 px, so 150 px a radius; and made-up views along it."""

from __future__ import annotations

import numpy as np

from calibration.camera import Camera
from vision.geometry.cylinder import Cylinder
from vision.geometry.views import READER_COLUMNS, READER_ROWS, ReaderFrame
from vision.networks.classes import Part, PartMap

CYLINDER = Cylinder(np.array([0.0, 0.0, 400.0]), np.array([0.0, 1.0, 0.0]), 20.0)
FRAME = ReaderFrame(CYLINDER, Camera.centred(3000.0, 3000, 4000), -128.0)
PX_PER_RADIUS = 150.0


def bands(*parts: tuple[Part, int]) -> np.ndarray:
    """Classes (7, rows, columns): each part from where the last one ended down to its row, sure everywhere."""
    p = np.full((7, READER_ROWS, READER_COLUMNS), 0.001, np.float32)
    start = 0
    for part, end in parts:
        p[part, start:end] = 0.994
        start = end
    return p


def part_map(probabilities: np.ndarray) -> PartMap:
    """Lay classes (7, rows, columns) over the frame's view."""
    return PartMap(probabilities, FRAME)
