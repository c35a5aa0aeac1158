"""Observations and prior inputs of the joint adjustment, each with its standard uncertainty.

The model, its equations and the origin of each value: docs/measurement-model.md.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from calibration.camera import K1_SD, SQUARE_ASPECT_SD, Camera
from calibration.find_card import CardSighting
from vision.names import RimName

# Position of the shaft's s = 0 on the card, mm from its seal end: the card's middle.
S_ORIGIN_ON_CARD_MM = 84.0
# One corner of the card, px, at the least: 0.05 in clean renderings at 5 px/mm, 0.055 to 0.13 in the sample photos.
CORNER_SD_PX = 0.08
# One point of a silhouette, independent part, px: an edge over 64 rows is known to 0.003 to 0.012, short windows and
# textured backgrounds to less.
SILHOUETTE_POINT_SD_PX = 0.25
# A silhouette as a whole, px, at the least: halo, tone curve, a mirroring limb (two renderers disagree by 0.2:
# docs/measurement-model.md, "Silhouettes").
SILHOUETTE_SD_PX = 0.16
# A rim as a whole, px, and one of its points: neighbouring columns are correlated, so 24 points of 1.2 px determine a
# rim's shape as well as four or five independent ones of 0.5 px (docs/measurement-model.md, "Rims").
RIM_SD_PX = 0.25
RIM_POINT_SD_PX = 1.2
# Depth of the card relative to the shaft's middle, mm: laid level by eye (card.md).
CARD_DEPTH_SD_MM = 3.0
# The same where the depth is left free, mm.
CARD_DEPTH_FREE_SD_MM = 1e3
# Turn of the card about its long edge, rad: not controlled by the user; 4° assumed [common practice, no source]. It
# moves the axis out of the card's plane in proportion to its distance from the card's middle.
CARD_YAW_SD = 0.07
# Tilt of the card against the axis, rad: each end of its 178 mm laid level by eye, 3 mm (sd, as above) either way. In
# two sets of photographs whose cards others laid it is 0.015 and 0.018 (37 and 74 cards, at most 0.034).
CARD_TILT_SD = 0.024
# Bend of a card that is stuck on something flat: how far its ends stand before its middle, mm. A parabola of 0.3 mm has
# a slope of 0.4 degrees at its ends [common practice, no source].
FLAT_BEND_SD_MM = 0.3
# Principal point, px from the photo's middle along either axis, of some 2000 (no source).
CENTRE_SD_PX = 5.0
# Tilt of a marker's band, rad about either axis: the lip that pushes it keeps it square to a degree (no source; 29
# bands of rendered photographs have 0.004). With 0.02, bows of a network's border pass for tilts (0.4 mm of a band).
BAND_TILT_SD = 0.006
# Tilt of any other rim, rad: seals, clamps and bumpers are turned parts (no source).
RIM_TILT_SD = 0.003
# Least standard uncertainty of an edge's height, mm: keeps the normal matrix regular.
MIN_HEIGHT_SD_MM = 1e-3
# Print scale across against along: this, or a quarter of the print scale's own uncertainty where that is larger (both
# from one printer and one measurement; no source).
PRINT_ANISOTROPY_SD, PRINT_ANISOTROPY_SHARE = 0.001, 0.25
# Points set by hand on the shaft's middle, radii: within a sixth of its width or so (no source).
AXIS_POINT_SD_U = 0.3


@dataclass(frozen=True)
class PriorInputs:
    """Values that the user declares, each with its standard uncertainty.

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
    """Points observed on one rim.

    Attributes
    ----------
    name : RimName
    points_px : ndarray of shape (n, 2)
    height_mm : float
        Height of the observed edge above the shaft's surface.
    height_sd_mm : float
    sd_px : float
        Standard uncertainty of the rim as a whole, px.
    tilts : bool
        Whether it is an edge of a band, which may lie tilted on the shaft.
    shape_sd_px : float
        Standard uncertainty of one of 24 points, px, so that together they weigh the rim's shape correctly.
    mean_weight : float
        Weight of the mean residual relative to n independent points, 1 or more.
    """

    name: RimName
    points_px: np.ndarray
    height_mm: float = 0.0
    height_sd_mm: float = 0.0
    sd_px: float = RIM_SD_PX
    tilts: bool = False
    shape_sd_px: float = RIM_POINT_SD_PX
    mean_weight: float = 1.0

    @property
    def point_sd_px(self) -> float:
        """Standard uncertainty of one point, px: a rim whose place is uncertain has an uncertain shape, too."""
        return max(self.shape_sd_px, self.sd_px)


@dataclass(frozen=True)
class Observations:
    """Observations and prior inputs of one photo.

    Attributes
    ----------
    sighting : CardSighting
    camera : Camera
        Prior; `focal_rel_sd`, `k1_sd` and `centre_sd_px` are its standard uncertainties.
    declared : PriorInputs
    left_px, right_px : ndarray of shape (n, 2)
        Points on the silhouettes at smaller and at larger card x.
    rims : tuple of RimPoints
    focal_extra_sd : float
        Further relative standard uncertainty of the focal length: it may not be this photo's, see
        `vision.adjustment.focal_mixture`.
    card_depth_mm, card_depth_sd_mm : float
        Distance of the axis behind the card's plane that is assumed (0, or the radius where the card lies on the tube's
        front), and its standard uncertainty, see `card_depth_sd_mm`.
    unequal_share : float
        Probability that the pixels' aspect is not that of `camera`: the photo's sides were scaled unequally.
    aspect_extra_sd : float
        Standard uncertainty of the logarithm of the pixels' aspect beyond a camera's, see
        `vision.adjustment.aspect_mixture`.
    corner_sd_px : float
        Standard uncertainty of a corner of the card along either axis, px, see `vision.adjustment.bend_mixture`.
    bend_sd_mm : float
        Standard uncertainty of the card's bend, see `vision.adjustment.card_bend`.
    use_card_depth : bool
        Whether the card is assumed level with the shaft's middle.
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
    focal_extra_sd: float = 0.0
    use_card_depth: bool = True
    card_depth_mm: float = 0.0
    card_depth_sd_mm: float = CARD_DEPTH_SD_MM
    centre_sd_px: float = CENTRE_SD_PX
    unequal_share: float = 0.0
    aspect_extra_sd: float = 0.0
    corner_sd_px: float = CORNER_SD_PX
    bend_sd_mm: float = FLAT_BEND_SD_MM
    side_sd_px: tuple[float, float] = (SILHOUETTE_SD_PX, SILHOUETTE_SD_PX)
    side_point_sd_px: tuple[float, float] = (SILHOUETTE_POINT_SD_PX, SILHOUETTE_POINT_SD_PX)
    axis_px: np.ndarray = field(default_factory=lambda: np.zeros((0, 2)))

    @property
    def focal_prior_sd(self) -> float:
        """Relative standard uncertainty of the focal length, widened where it may be another photo's."""
        return float(np.hypot(self.focal_rel_sd, self.focal_extra_sd))

    @property
    def aspect_prior_sd(self) -> float:
        """Standard uncertainty of the logarithm of the pixels' aspect, widened where sides may be scaled unequally."""
        return float(np.hypot(SQUARE_ASPECT_SD, self.aspect_extra_sd))


def card_depth_sd_mm(axis_x_mm: float) -> float:
    """Combine depth and yaw of the card: the axis' distance from its plane, mm (sd), for an axis at card x."""
    from calibration.card import BOARD_WIDTH_MM

    return float(np.hypot(CARD_DEPTH_SD_MM, CARD_YAW_SD * (axis_x_mm - BOARD_WIDTH_MM / 2)))
