"""Inputs for one photo, and the partial reading before its lengths are solved."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calibration import card
from calibration.camera import Camera
from calibration.find_card import CardError, CardSighting, find_card
from calibration.focal import Squeezed
from calibration.pose import CardPose, card_pose
from vision.adjustment.observations import CENTRE_SD_PX, PriorInputs
from vision.adjustment.solve import Solution
from vision.names import RimName
from vision.reading import CameraPose, Layout, Note, Reading, Status
from vision.reasons import CARD_REASONS
from vision.stated import StatedLengths

# Silhouette points needed in all, one per mm: with fewer only the card determines the axis.
EDGE_POINTS_NEEDED = 5
# Standard uncertainty of a point set by hand on an enlarged photo, px; assumed, no source.
HAND_SD_PX = 1.5


@dataclass(frozen=True)
class Request:
    """Inputs for one photo.

    Attributes
    ----------
    declared : PriorInputs
    layout : Layout
    focal_px, focal_rel_sd : float
        Prior of the focal length.
    focal_source : str
        "exif", "stated" (declared by the user) or "assumed".
    marker_width_mm : float or None
    marker_color : str or None
        Bands that cannot have it are not read as the marker.
    centre_sd_px : float
        Standard uncertainty of the principal point: an off-centre crop moves it.
    stated : StatedLengths or None
        Of this leg: readings that cannot be its are withheld.
    squeezed : tuple of Squeezed
        What else the lens may be where the photo was reshaped, see `vision.square_pixels`.
    log_aspect : float
        Of the pixels, see `calibration.camera.Camera`.
    unequal_share : float
        Probability that the pixels have another aspect than that.
    quarter_turns : int
        Clockwise, that make the stored picture upright.
    cut_unsaid : bool
        The photo was cut, as its card shows, and its file does not say so.
    laid_right : float or None
        Probability that the card's arrow points to the seal, where that has been weighed before.
    """

    declared: PriorInputs
    layout: Layout
    focal_px: float
    focal_rel_sd: float
    focal_source: str = "exif"
    marker_width_mm: float | None = None
    marker_color: str | None = None
    centre_sd_px: float = CENTRE_SD_PX
    stated: StatedLengths | None = None

    squeezed: tuple[Squeezed, ...] = ()
    log_aspect: float = 0.0
    unequal_share: float = 0.0
    quarter_turns: int = 0
    cut_unsaid: bool = False
    laid_right: float | None = None

    @property
    def reshaped(self) -> bool:
        """Whether the file shows that the photo was cut or scaled to another shape."""
        return self.centre_sd_px > CENTRE_SD_PX

    def camera(self, width_px: int, height_px: int) -> Camera:
        """Return the camera that the focal length's prior describes, for a picture of this size."""
        return Camera.centred(self.focal_px, width_px, height_px).with_aspect(self.log_aspect)


@dataclass(frozen=True)
class HandMarks:
    """Marks set by hand on the stored picture, px.

    Attributes
    ----------
    seal_px, marker_px, marker_end_px, far_px : ndarray of shape (n, 2) or None
        Points on the rims: seal, the marker's seal-side edge, its other edge, far end.
    edges_px : tuple of ndarray of shape (n, 2), n 2 or more
        Points on the shaft's silhouettes, one array a side in any order; none, one or two.
    sd_px : float
        Standard uncertainty of one point along either axis of the picture.
    """

    seal_px: np.ndarray | None = None
    marker_px: np.ndarray | None = None
    marker_end_px: np.ndarray | None = None
    far_px: np.ndarray | None = None
    edges_px: tuple[np.ndarray, ...] = ()
    sd_px: float = HAND_SD_PX

    def rims(self) -> dict[RimName, np.ndarray]:
        """Return the points of the rims that were set."""
        named = {
            RimName.SEAL: self.seal_px,
            RimName.MARKER_NEAR: self.marker_px,
            RimName.MARKER_FAR: self.marker_end_px,
            RimName.FAR_END: self.far_px,
        }
        return {name: np.asarray(p, float) for name, p in named.items() if p is not None and len(p)}


def detect_card(pixels: np.ndarray) -> CardSighting | Reading:
    """Detect the card; return a refused reading where it cannot be used."""
    try:
        return find_card(pixels)
    except CardError as error:
        outline, *others = error.outlines_px or (None,)
        note = Note(CARD_REASONS[error.kind], None, error.message, tuple(o for o in others if o is not None))
        return Reading(Status.REFUSED, (note,), card_outline_px=outline)


def with_geometry(reading: Reading, solution: Solution, request: Request) -> Reading:
    """Add camera pose and card outline of a solution, for overlay and record."""
    pose = CameraPose(
        solution.camera.focal_px, request.focal_source, solution.pose.R_cam_card, solution.pose.t_cam_card_mm
    )
    outline = card_outline_px(solution.camera, solution.pose, request.declared)
    return replace(reading, pose=pose, card_outline_px=outline)


def placed_outline_px(pixels: np.ndarray, request: Request, sighting: CardSighting) -> np.ndarray:
    """Place the card by its own corners, where nothing else is solved for, and project its outline, px.

    Raises
    ------
    CalibrationError
        Its pose cannot be found.
    """
    d = request.declared
    camera = request.camera(pixels.shape[1], pixels.shape[0])
    return card_outline_px(camera, card_pose(sighting, camera, d.print_along, d.print_across), d)


def card_outline_px(camera: Camera, pose: CardPose, declared: PriorInputs) -> np.ndarray:
    """Project the printed card's outline, px."""
    outline = card.outline_mm() * np.array([declared.print_across, declared.print_along])
    return camera.project(pose.to_cam(np.c_[outline, np.zeros(4)]))
