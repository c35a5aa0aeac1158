"""A reading of a picture as it is stored, told of the upright one; and points set on that, of the stored one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.upright import turned_axes, turned_px
from vision.reading import Reading
from vision.request import HandRims


def reading_turned(reading: Reading, quarter_turns: int, size: tuple[int, int]) -> Reading:
    """The reading of the same picture turned clockwise: lengths stay, places and the camera turn with it.

    Parameters
    ----------
    reading : Reading
    quarter_turns : int
    size : tuple of two int
        Width and height of the picture that was read, px.

    Returns
    -------
    Reading
        Its `joint` stays of the picture that was read: only lengths come out of that.
    """
    if quarter_turns % 4 == 0:
        return reading
    axes = turned_axes(quarter_turns)
    pose, outline = reading.pose, reading.card_outline_px

    def px(points: np.ndarray) -> np.ndarray:
        return turned_px(points, quarter_turns, size)

    return replace(
        reading,
        pose=pose
        and replace(pose, R_cam_card=axes @ pose.R_cam_card, t_cam_card_mm=axes @ pose.t_cam_card_mm),
        rims=tuple(replace(rim, curve_px=px(rim.curve_px)) for rim in reading.rims),
        card_outline_px=None if outline is None else px(outline),
        shaft_edges_px=tuple(px(edge) for edge in reading.shaft_edges_px),
    )


def rims_turned(rims: HandRims, quarter_turns: int, size: tuple[int, int]) -> HandRims:
    """The same points on the picture turned clockwise; `size` as in `reading_turned`."""
    seal, marker, far = (
        None if points is None else turned_px(points, quarter_turns, size)
        for points in (rims.seal_px, rims.marker_px, rims.far_px)
    )
    return HandRims(seal, marker, far)
