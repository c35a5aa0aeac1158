"""A shaft seen square-on and the view along it: 20 mm radius at 400 mm, a lens of 3000 px, so 150 px a radius."""

from __future__ import annotations

import numpy as np

from calibration.camera import Camera
from vision.cylinder import Cylinder
from vision.views import ReaderFrame

CYLINDER = Cylinder(np.array([0.0, 0.0, 400.0]), np.array([0.0, 1.0, 0.0]), 20.0)
FRAME = ReaderFrame(CYLINDER, Camera.centred(3000.0, 3000, 4000), -128.0)
PX_PER_RADIUS = 150.0
