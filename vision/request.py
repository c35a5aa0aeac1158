"""What the person states about a photo, and what is told of a reading before its lengths are known."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calibration import card
from calibration.find_card import CardError, CardSighting, find_card
from vision.adjustment.observations import CENTRE_SD_PX, PriorInputs
from vision.adjustment.solve import Solution
from vision.reading import CameraPose, Layout, Note, Reading, Status
from vision.reasons import CARD_REASONS

# Silhouette points needed in all, one a millimetre: fewer leave the axis to the card alone.
EDGE_POINTS_NEEDED = 5


@dataclass(frozen=True)
class Request:
    """What the person states about the photo.

    Attributes
    ----------
    declared : PriorInputs
    layout : Layout
    focal_px, focal_rel_sd : float
        Prior of the focal length.
    focal_source : str
        "exif", "stated" or "assumed".
    marker_width_mm : float or None
    marker_color : str or None
        Only told apart in words; the reading does not go by colour.
    centre_sd_px : float
        How well the principal point is known: an off-centre crop moves it.
    """

    declared: PriorInputs
    layout: Layout
    focal_px: float
    focal_rel_sd: float
    focal_source: str = "exif"
    marker_width_mm: float | None = None
    marker_color: str | None = None
    centre_sd_px: float = CENTRE_SD_PX


@dataclass(frozen=True)
class HandRims:
    """Rims set by hand, points of the picture that is read, px; each an array of shape (n, 2) or None."""

    seal_px: np.ndarray | None = None
    marker_px: np.ndarray | None = None
    far_px: np.ndarray | None = None


def seen_card(pixels: np.ndarray) -> CardSighting | Reading:
    """The card in a photo, or the reading of a photo whose card cannot be used."""
    import cv2

    try:
        return find_card(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY))
    except CardError as error:
        return Reading(Status.REFUSED, (Note(CARD_REASONS[error.kind], None, error.message),))


def with_geometry(reading: Reading, solution: Solution, request: Request) -> Reading:
    """Add what the overlay and the record need of a solve."""
    outline = card.outline_mm() * np.array([request.declared.print_across, request.declared.print_along])
    corners_cam = solution.pose.to_cam(np.c_[outline, np.zeros(4)])
    pose = CameraPose(
        solution.camera.focal_px, request.focal_source, solution.pose.R_cam_card, solution.pose.t_cam_card_mm
    )
    return replace(reading, pose=pose, card_outline_px=solution.camera.project(corners_cam))
