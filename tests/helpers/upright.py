"""The upright picture of a loaded photo, which the program itself makes only where it shows one."""

from __future__ import annotations

import numpy as np

from calibration.photo import Photo
from calibration.upright import turned


def upright(photo: Photo) -> np.ndarray:
    """Rotate a photo's stored pixels upright, uint8 (h, w, 3)."""
    return turned(photo.stored, photo.quarter_turns)
