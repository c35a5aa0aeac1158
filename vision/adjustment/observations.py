"""What one photo offers the solve: all that was seen and stated, each with its standard uncertainty."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from calibration.camera import K1_SD, Camera
from calibration.find_card import CardSighting

# Where on the card, mm from its seal-end corner, the shaft's s = 0 lies: the card's middle.
S_ORIGIN_ON_CARD_MM = 84.0
# Standard uncertainty of one corner, px: 0.05 in clean renderings at 5 px/mm, 0.055 to 0.13 in the samples.
CORNER_SD_PX = 0.08
# A point on a silhouette, independent part, px (edge over 64 rows: 0.003 to 0.012; short windows, texture: more).
SILHOUETTE_POINT_SD_PX = 0.25
# A silhouette as a whole, px, at the least: what halo, tone curve and a mirroring limb do to it. 0.15 by the project's
# vision notes; sharp and straight ones of our own scenes ask for 0.11, and two renderers disagree by 0.2 on where one
# is seen (docs/measured.md).
SILHOUETTE_SD_PX = 0.16
# A rim as a whole, px (project's vision notes), and one of its points: the network's borders in neighbouring
# columns err alike, so 24 points of 1.2 px say as much of a rim's shape as four or five of 0.5 px that do not.
# With 0.5 px each, a rim's bow moved the focal length by 4 to 7 % on photos whose focal length was right.
RIM_SD_PX = 0.25
RIM_POINT_SD_PX = 1.2
# The card's depth against the shaft's middle: the person lays it level by eye (card.md).
CARD_DEPTH_SD_MM = 3.0
# The card's turn about its long edge, rad: nobody looks after it; 4 degrees is common practice, no source. It
# puts the axis out of the card's plane by so much of the distance between them.
CARD_YAW_SD = 0.07
# The card's tilt against the axis, rad: laid along the shaft by eye; 1.5 to 2 degrees is common practice.
CARD_TILT_SD = 0.03
# Where the lens axis meets the photo, px from its middle along either axis, of some 2000 (no source).
CENTRE_SD_PX = 5.0
# Small-angle tilt of a band round the shaft, about either axis, rad: the lip that pushes it keeps it square to a
# degree (no source; 29 bands of rendered photographs have 0.004). With 0.02, bows that networks give to a border
# were taken for tilts, and moved a band by up to 0.4 mm.
BAND_TILT_SD = 0.006


@dataclass(frozen=True)
class PriorInputs:
    """What the person states, each with its standard uncertainty.

    Attributes
    ----------
    diameter_mm, diameter_sd_mm : float
        Shaft diameter by caliper.
    print_along, print_across, print_sd : float
        Print scale, measured over nominal.
    """

    diameter_mm: float
    diameter_sd_mm: float
    print_along: float = 1.0
    print_across: float = 1.0
    print_sd: float = 0.001


@dataclass(frozen=True)
class RimPoints:
    """Points seen on one rim.

    Attributes
    ----------
    name : str
    points_px : ndarray of shape (n, 2)
    height_mm : float
        How far the seen edge stands proud of the shaft's surface, mm.
    height_sd_mm : float
    sd_px : float
        Standard uncertainty of the rim as a whole, px.
    tilts : bool
        Whether the band may lie tilted on the shaft.
    shape_sd_px : float
        Standard uncertainty of one of 24 points, px, as what they say together of the rim's bow asks for.
    mean_weight : float
        How many times as surely the mean of the points is known as by points that err each for itself.
    """

    name: str
    points_px: np.ndarray
    height_mm: float = 0.0
    height_sd_mm: float = 0.0
    sd_px: float = RIM_SD_PX
    tilts: bool = False
    shape_sd_px: float = RIM_POINT_SD_PX
    mean_weight: float = 1.0

    @property
    def point_sd_px(self) -> float:
        """Standard uncertainty of one point, px: where the rim as a whole is doubtful, so is its shape."""
        return max(self.shape_sd_px, self.sd_px)


@dataclass(frozen=True)
class Observations:
    """All that was seen and stated for one photo.

    Attributes
    ----------
    sighting : CardSighting
    camera : Camera
        Before the solve; `focal_rel_sd`, `k1_sd` and `centre_sd_px` say how well it is known.
    declared : PriorInputs
    left_px, right_px : ndarray of shape (n, 2)
        Points on the silhouettes at smaller and at larger card x.
    rims : tuple of RimPoints
    card_depth_sd_mm : float
        Standard uncertainty of the axis' distance from the card's plane, see `card_depth_sd_mm`.
    use_card_depth : bool
        Whether the card is taken to lie level with the shaft's middle.
    side_sd_px, side_point_sd_px : tuple of two float
        Standard uncertainty of either silhouette as a whole and of one of its points, px.
    axis_px : ndarray of shape (n, 2)
        Points set by hand on the middle of the shaft, where its silhouettes were not found.
    """

    sighting: CardSighting
    camera: Camera
    focal_rel_sd: float
    declared: PriorInputs
    left_px: np.ndarray
    right_px: np.ndarray
    rims: tuple[RimPoints, ...] = ()
    k1_sd: float = K1_SD
    use_card_depth: bool = True
    card_depth_sd_mm: float = CARD_DEPTH_SD_MM
    centre_sd_px: float = CENTRE_SD_PX
    side_sd_px: tuple[float, float] = (SILHOUETTE_SD_PX, SILHOUETTE_SD_PX)
    side_point_sd_px: tuple[float, float] = (SILHOUETTE_POINT_SD_PX, SILHOUETTE_POINT_SD_PX)
    axis_px: np.ndarray = field(default_factory=lambda: np.zeros((0, 2)))


def card_depth_sd_mm(axis_x_mm: float) -> float:
    """How far the axis may lie out of the card's plane, mm (sd), where it passes the card at x (card's frame)."""
    from calibration.card import BOARD_WIDTH_MM

    return float(np.hypot(CARD_DEPTH_SD_MM, CARD_YAW_SD * (axis_x_mm - BOARD_WIDTH_MM / 2)))
