"""From a stored picture to the upright one: what EXIF's orientation asks for, of pixels and of points.

Phones store what they take upright lying on its side. Turning 12 megapixels takes two thirds of the time in which the
card is found in them, and nothing that is measured asks which way is up; so a picture is turned only where it is shown.
"""

from __future__ import annotations

import numpy as np

# What turns a stored picture upright, by EXIF orientation (CIPA DC-008, tag 0x0112): whether left and right are
# exchanged, and by how many quarter turns clockwise it is turned then.
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
    """What makes a stored picture upright: whether it is mirrored first, and the quarter turns clockwise after that."""
    return _MIRRORED_AND_TURNS.get(orientation, (False, 0))


def unmirrored(pixels: np.ndarray, mirrored: bool) -> np.ndarray:
    """A picture whose left and right are exchanged back, if they are: the card's markers mean nothing in a mirror."""
    import cv2

    return np.asarray(cv2.flip(pixels, 1)) if mirrored else pixels


def turned(pixels: np.ndarray, quarter_turns: int) -> np.ndarray:
    """A picture turned clockwise, by OpenCV in a fifth of Pillow's time; the very same for no turns."""
    import cv2

    turns = (None, cv2.ROTATE_90_CLOCKWISE, cv2.ROTATE_180, cv2.ROTATE_90_COUNTERCLOCKWISE)
    turn = turns[quarter_turns % 4]
    return pixels if turn is None else np.asarray(cv2.rotate(pixels, turn))


def turned_size(size: tuple[int, int], quarter_turns: int) -> tuple[int, int]:
    """Width and height of a picture once turned."""
    return size if quarter_turns % 2 == 0 else (size[1], size[0])


def turned_px(points_px: np.ndarray, quarter_turns: int, size: tuple[int, int]) -> np.ndarray:
    """Where points of a picture lie once it is turned clockwise.

    Parameters
    ----------
    points_px : ndarray of shape (..., 2)
        x right, y down; pixel centres at whole numbers.
    quarter_turns : int
        Negative ones turn back.
    size : tuple of two int
        Width and height of the picture before.

    Returns
    -------
    ndarray of shape (..., 2)
    """
    for _ in range(quarter_turns % 4):
        points_px = np.stack([size[1] - 1 - points_px[..., 1], points_px[..., 0]], axis=-1)
        size = size[1], size[0]
    return points_px


def turned_axes(quarter_turns: int) -> np.ndarray:
    """Rotation (3, 3) from the camera frame of a picture to that of the same picture turned clockwise."""
    cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarter_turns % 4]
    return np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
