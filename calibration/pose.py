"""Pose of the card alone: the start of the joint adjustment, and a test of flatness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration import card
from calibration.camera import Camera
from calibration.errors import CalibrationError
from calibration.find_card import CardSighting


@dataclass(frozen=True)
class CardPose:
    """Position and rotation of the card.

    Attributes
    ----------
    R_cam_card : ndarray of shape (3, 3)
    t_cam_card_mm : ndarray of shape (3,)
        Card to camera: p_cam = R p_card + t.
    rms_px : float
        Root mean square distance between observed and projected corners.
    """

    R_cam_card: np.ndarray
    t_cam_card_mm: np.ndarray
    rms_px: float

    def to_cam(self, points_card: np.ndarray) -> np.ndarray:
        """Transform card coordinates (..., 3) to camera coordinates, mm."""
        return np.asarray(points_card @ self.R_cam_card.T + self.t_cam_card_mm)


def rotation(vector: np.ndarray) -> np.ndarray:
    """Convert a rotation vector, rad, to a rotation matrix."""
    import cv2

    return np.asarray(cv2.Rodrigues(np.asarray(vector, float))[0])


def card_points_mm(ids: np.ndarray, along: float, across: float) -> np.ndarray:
    """Inner corners (n, 3) in frame ``card``, mm, at a print scale along and across the card."""
    xy = card.corners_mm()[ids] * np.array([across, along])
    return np.asarray(np.c_[xy, np.zeros(len(xy))])


def card_pose(sighting: CardSighting, camera: Camera, along: float, across: float) -> CardPose:
    """Estimate the pose of the card alone, for a given camera and print scale.

    Parameters
    ----------
    sighting : CardSighting
    camera : Camera
    along, across : float
        Print scale, measured over nominal.

    Returns
    -------
    CardPose
        Of the two mirror poses of a plane, the one that fits better.
    """
    import cv2

    points = card_points_mm(sighting.corner_ids, along, across)
    along_x, along_y = camera.focal_xy_px
    matrix = np.array([[along_x, 0, camera.cx_px], [0, along_y, camera.cy_px], [0, 0, 1]])
    lens = np.array([camera.k1, 0, 0, 0, 0])
    ok, turns, shifts, _ = cv2.solvePnPGeneric(
        points, sighting.corners_px, matrix, lens, flags=cv2.SOLVEPNP_IPPE
    )
    if not ok:
        raise CalibrationError("the card's pose could not be found", "take the photo more square-on")
    best: CardPose | None = None
    for turn, shift in zip(turns, shifts, strict=True):
        turn, shift = cv2.solvePnPRefineLM(points, sighting.corners_px, matrix, lens, turn, shift)
        R, t = rotation(turn.ravel()), shift.ravel()
        error = camera.project(points @ R.T + t) - sighting.corners_px
        rms = float(np.sqrt(np.mean(np.sum(error**2, axis=1))))
        if t[2] > 0 and (best is None or rms < best.rms_px):
            best = CardPose(R, t, rms)
    if best is None:
        raise CalibrationError("the card's pose could not be found", "take the photo more square-on")
    return best
