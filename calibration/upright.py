"""EXIF orientation: rotation of images and points from the stored to the upright picture.

Phones store upright photos lying on their side. Rotating 12 megapixels takes two thirds of the time of the card
search, and no measurement depends on it; so a photo is rotated only where it is shown.
"""

from __future__ import annotations

import numpy as np

# EXIF orientation (CIPA DC-008, tag 0x0112) to: whether the stored picture is mirrored, and the quarter turns
# clockwise that make it upright after that.
_MIRRORED_AND_TURNS = {
    1: (False, 0),
    2: (True, 0),
    3: (False, 2),
    4: (True, 2),
    5: (True, 3),
    6: (False, 1),
    7: (True, 1),
    8: (False, 3),
}


def mirrored_and_turns(orientation: int) -> tuple[bool, int]:
    """Return whether a stored picture is mirrored, and the quarter turns clockwise that then make it upright."""
    return _MIRRORED_AND_TURNS.get(orientation, (False, 0))


def unmirrored(pixels: np.ndarray, mirrored: bool) -> np.ndarray:
    """Undo mirroring, if any: the card's markers cannot be read in a mirror image."""
    import cv2

    return np.asarray(cv2.flip(pixels, 1)) if mirrored else pixels


def turned(pixels: np.ndarray, quarter_turns: int) -> np.ndarray:
    """Rotate a picture clockwise, by OpenCV in a fifth of Pillow's time; no turns return the same object."""
    import cv2

    turns = (None, cv2.ROTATE_90_CLOCKWISE, cv2.ROTATE_180, cv2.ROTATE_90_COUNTERCLOCKWISE)
    turn = turns[quarter_turns % 4]
    return pixels if turn is None else np.asarray(cv2.rotate(pixels, turn))


def turned_size(size: tuple[int, int], quarter_turns: int) -> tuple[int, int]:
    """Width and height of a picture after rotation."""
    return size if quarter_turns % 2 == 0 else (size[1], size[0])


def turned_px(points_px: np.ndarray, quarter_turns: int, size: tuple[int, int]) -> np.ndarray:
    """Transform points of a picture to the picture rotated clockwise.

    Parameters
    ----------
    points_px : ndarray of shape (..., 2)
        x right, y down; pixel centres at whole numbers.
    quarter_turns : int
        Negative: anticlockwise.
    size : tuple of two int
        Width and height before the rotation.

    Returns
    -------
    ndarray of shape (..., 2)
    """
    for _ in range(quarter_turns % 4):
        points_px = np.stack([size[1] - 1 - points_px[..., 1], points_px[..., 0]], axis=-1)
        size = size[1], size[0]
    return points_px


def turned_axes(quarter_turns: int) -> np.ndarray:
    """Rotation (3, 3) from the camera frame of a picture to that of the picture rotated clockwise."""
    cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarter_turns % 4]
    return np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
