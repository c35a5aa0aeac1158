"""The result of reading one photo: lengths with uncertainty, or reasons for refusal."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from vision.names import LengthName, RimName
from vision.reasons import Reason

if TYPE_CHECKING:
    from vision.adjustment.observations import Observations
    from vision.adjustment.solve import Solution


class Status(StrEnum):
    """Completeness of a reading."""

    READ = "read"
    PARTIAL = "partial"
    REFUSED = "refused"


class Layout(StrEnum):
    """Kind of leg that the shaft belongs to; it determines the far end."""

    FORK = "fork"
    UPSIDE_DOWN_FORK = "upside-down-fork"
    SHOCK = "shock"

    @property
    def far_end(self) -> str:
        """Name of the part at the far end, as the trade calls it."""
        return {"fork": "lower clamp", "upside-down-fork": "axle foot", "shock": "bumper"}[self.value]


@dataclass(frozen=True)
class Length:
    """A length along the shaft's axis, mm, with its expanded uncertainty (k = 2)."""

    value_mm: float
    u95_mm: float


@dataclass(frozen=True)
class Rim:
    """One straight edge round the shaft.

    Attributes
    ----------
    name : RimName
        `MARKER_FAR` is not drawn.
    s_mm : float
        Position along the axis from the seal's side of the card, mm; only differences are used.
    curve_px : ndarray of shape (n, 2)
        The rim's visible half as drawn on the upright photo, x right, y down, px.
    visible : float
        Share of the camera-facing half on which the edge was found, 0 to 1.
    """

    name: RimName
    s_mm: float
    curve_px: np.ndarray
    visible: float


@dataclass(frozen=True)
class ScaleCheck:
    """Scale from the card against scale from the diameter: two independent measurements.

    Attributes
    ----------
    card_px_per_mm, diameter_px_per_mm : float
        Scale at the middle of the exposed shaft from each alone.
    depth_gap_mm : float
        Depth of the shaft's centre line behind (+) or in front of (-) the card at which both would agree.
    depth_gap_sd_mm : float
        Standard uncertainty of that depth.
    """

    card_px_per_mm: float
    diameter_px_per_mm: float
    depth_gap_mm: float
    depth_gap_sd_mm: float


@dataclass(frozen=True)
class CameraPose:
    """Pose of the camera.

    Attributes
    ----------
    focal_px : float
        Focal length after the adjustment, px.
    focal_source : str
        "exif", "stated" (declared by the user) or "assumed".
    R_cam_card : ndarray of shape (3, 3)
        Rotation: card coordinates to camera coordinates (x right, y down, z forward).
    t_cam_card_mm : ndarray of shape (3,)
        The board's outer corner in camera coordinates, mm.
    """

    focal_px: float
    focal_source: str
    R_cam_card: np.ndarray
    t_cam_card_mm: np.ndarray


@dataclass(frozen=True)
class Note:
    """One reason, the quantity that it concerns (None: the whole reading), and details as text.

    `outlines_px`, arrays of shape (4, 2), are round what it concerns besides the card and the shaft of the reading.
    """

    reason: Reason
    quantity: LengthName | None = None
    detail: str = ""
    outlines_px: tuple[np.ndarray, ...] = field(default=(), compare=False, repr=False)


@dataclass(frozen=True)
class Joint:
    """The final solution and its observations, for uncertainty budgets and for combining readings."""

    solution: Solution
    observations: Observations


@dataclass(frozen=True)
class Reading:
    """The result for one photo.

    Attributes
    ----------
    exposed, marker, remaining : Length or None
        Seal to far end; seal to the marker's seal-side edge; that edge to the far end.
    marker_at_stop : bool or None
        The marker touches or is inside the far end, so that the reading is a lower bound. None: unknown.
    marker_hidden : bool
        The marker's seal-side edge is hidden: its position follows from the other edge and the band's width.
    covariance_mm2 : ndarray of shape (3, 3) or None
        Of (exposed, marker, remaining), mm²; rows of quantities that were not read are NaN.
    card_outline_px : ndarray of shape (4, 2) or None
    shaft_edges_px : tuple of two ndarrays of shape (n, 2), or ()
    joint : Joint or None
        The adjustment behind the lengths; None where the reading stopped before it.
    """

    status: Status
    notes: tuple[Note, ...] = ()
    exposed: Length | None = None
    marker: Length | None = None
    remaining: Length | None = None
    marker_at_stop: bool | None = None
    marker_band_mm: Length | None = None
    marker_hidden: bool = False
    card: int | None = None
    scale: ScaleCheck | None = None
    pose: CameraPose | None = None
    rims: tuple[Rim, ...] = ()
    covariance_mm2: np.ndarray | None = None
    card_outline_px: np.ndarray | None = None
    shaft_edges_px: tuple[np.ndarray, ...] = ()
    remarks: tuple[str, ...] = field(default=())
    joint: Joint | None = field(default=None, repr=False, compare=False)

    def length(self, name: LengthName) -> Length | None:
        """Return a length by its name."""
        return {
            LengthName.EXPOSED: self.exposed,
            LengthName.MARKER: self.marker,
            LengthName.REMAINING: self.remaining,
        }[name]

    @property
    def known(self) -> tuple[int, int]:
        """How many lengths were answered, and how many rims found: of two readings of a photo the larger knows more."""
        return sum(self.length(name) is not None for name in LengthName), len(self.rims)

    @property
    def reason(self) -> Reason | None:
        """The first and most important reason, or None when everything was read."""
        return self.notes[0].reason if self.notes else None
