"""Transformation of readings and points between the stored and the upright picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.upright import turned_axes, turned_px
from vision.reading import Reading
from vision.request import HandMarks


def reading_turned(reading: Reading, quarter_turns: int, size: tuple[int, int]) -> Reading:
    """Rotate a reading clockwise with its picture: lengths stay, positions and the camera pose change.

    Parameters
    ----------
    reading : Reading
    quarter_turns : int
    size : tuple of two int
        Width and height of the picture before the rotation, px.

    Returns
    -------
    Reading
        Its `joint` is not rotated: only lengths are taken from it.
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
        notes=tuple(replace(note, outlines_px=tuple(map(px, note.outlines_px))) for note in reading.notes),
        card_outline_px=None if outline is None else px(outline),
        shaft_edges_px=tuple(px(edge) for edge in reading.shaft_edges_px),
    )


def marks_turned(marks: HandMarks, quarter_turns: int, size: tuple[int, int]) -> HandMarks:
    """Rotate points clockwise with their picture; `size` as in `reading_turned`."""

    def px(points: np.ndarray | None) -> np.ndarray | None:
        return None if points is None else turned_px(points, quarter_turns, size)

    return replace(
        marks,
        seal_px=px(marks.seal_px),
        marker_px=px(marks.marker_px),
        marker_end_px=px(marks.marker_end_px),
        far_px=px(marks.far_px),
        edges_px=tuple(turned_px(line, quarter_turns, size) for line in marks.edges_px),
    )
