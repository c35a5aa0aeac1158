"""Exact image points of a card, a shaft and three rims, and the same with every modelled error drawn."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from calibration.camera import K1_SD, Camera
from calibration.find_card import CardSighting
from calibration.pose import card_points_mm, card_pose, rotation
from vision.adjustment.observations import (
    BAND_TILT_SD,
    CARD_DEPTH_SD_MM,
    CARD_TILT_SD,
    CORNER_SD_PX,
    RIM_POINT_SD_PX,
    RIM_SD_PX,
    SILHOUETTE_POINT_SD_PX,
    SILHOUETTE_SD_PX,
    Observations,
    PriorInputs,
    RimPoints,
)
from vision.adjustment.parameters import ACROSS, ALONG, AZ, CENTRE, DZ, FIXED, K1, LOGF, OFF, PER_RIM, R_MM
from vision.adjustment.solve import Solution, initial_theta, solve
from vision.geometry.cylinder import Cylinder
from vision.names import LengthName, RimName
from vision.reading import Joint, Length, Reading, Status

TRUE_RIMS_MM = {RimName.SEAL: -52.0, RimName.MARKER_NEAR: 8.0, RimName.FAR_END: 61.0}
LENGTHS = tuple(LengthName)
FOCAL_PX, FOCAL_SD, CENTRE_SD_PX = 1600.0, 0.012, 3.0
DIAMETER_SD_MM, PRINT_SD, ACROSS_SD = 0.02, 0.001, 0.001
HEIGHT_MM, HEIGHT_SD_MM = 0.5, 0.3


@dataclass(frozen=True)
class Errors:
    """Errors of all priors, each in its own standard uncertainty.

    Photos of one shaft, with one phone and the card left where it is, share all of them.
    """

    focal: float = 0.0
    distortion: float = 0.0
    centre_x: float = 0.0
    centre_y: float = 0.0
    diameter: float = 0.0
    print_along: float = 0.0
    print_across: float = 0.0
    card_depth: float = 0.0
    card_tilt: float = 0.0
    marker_height: float = 0.0
    marker_tilt_near: float = 0.0
    marker_tilt_side: float = 0.0

    @classmethod
    def drawn(cls, rng: np.random.Generator, noise: float = 1.0) -> Errors:
        """All of them standard normal."""
        return cls(*(noise * rng.standard_normal(len(fields(cls)))))


@dataclass(frozen=True)
class Made:
    """One made-up photo as points, where to start solving, and the truth behind it.

    `truth` holds the true values of those parameters that are known beforehand, by their place in theta: what is
    declared, and how far each silhouette and rim as a whole was moved in the picture, px. `camera` and `shaft` are the
    true ones.
    """

    observations: Observations
    theta: np.ndarray
    truth: dict[int, float]
    camera: Camera
    shaft: Cylinder

    def reading(self) -> Reading:
        """Solve it and return the reading of three lengths."""
        found = solve(self.theta, self.observations)
        gradients = np.array([gradient(found, name) for name in LENGTHS])
        covariance = gradients @ found.rim_covariance_mm2 @ gradients.T
        values = gradients @ np.array(list(found.rim_s_mm.values()))
        u95 = 2 * np.sqrt(np.diag(covariance))
        exposed, marker, remaining = (Length(float(v), float(u)) for v, u in zip(values, u95, strict=True))
        return Reading(
            Status.READ,
            exposed=exposed,
            marker=marker,
            remaining=remaining,
            card=3,
            marker_at_stop=False,
            covariance_mm2=covariance,
            joint=Joint(found, self.observations),
        )


def gradient(found: Solution, length: LengthName) -> np.ndarray:
    """How a length moves with the rims' places."""
    start, end = length.rims
    return np.array([(name == end) - (name == start) for name in found.rim_s_mm], float)


def true_mm(length: LengthName) -> float:
    """Return the true length."""
    start, end = length.rims
    return TRUE_RIMS_MM[end] - TRUE_RIMS_MM[start]


def made(
    rng: np.random.Generator,
    *,
    noise: float = 1.0,
    diameter_mm: float = 41.0,
    distance_mm: float = 350.0,
    errors: Errors | None = None,
    rims_mm: dict[RimName, float] | None = None,
) -> Made:
    """Draw a scene.

    Parameters
    ----------
    rng : numpy Generator
    noise : float
        0: exact points and inputs; 1: every source of error drawn from its distribution.
    diameter_mm, distance_mm : float
    errors : Errors, optional
        Of the priors; drawn where not given.
    rims_mm : dict of RimName to float, optional
        Where the rims are; `TRUE_RIMS_MM` where not given.
    """
    e = Errors.drawn(rng, noise) if errors is None else errors
    width, height = 1536, 2048
    nominal = Camera.centred(FOCAL_PX, width, height)
    log_f, k1 = FOCAL_SD * e.focal, K1_SD * e.distortion
    centre = CENTRE_SD_PX * np.array([e.centre_x, e.centre_y])
    camera = nominal.with_lens(FOCAL_PX * float(np.exp(log_f)), k1).moved_centre(*centre)
    turn = rotation(np.array([0.12, -0.1, 0.05]) * rng.uniform(-1, 1, 3))
    shift = np.array([-18.0, -84.0, distance_mm]) + rng.uniform(-8, 8, 3)
    radius = diameter_mm / 2 + DIAMETER_SD_MM / 2 * e.diameter
    along = 1.0 + PRINT_SD * e.print_along
    across = along + ACROSS_SD * e.print_across
    ids = np.arange(26)
    corners = camera.project(card_points_mm(ids, along, across) @ turn.T + shift)
    corners = corners + noise * CORNER_SD_PX * rng.standard_normal(corners.shape)
    depth, tilt = CARD_DEPTH_SD_MM * e.card_depth, CARD_TILT_SD * e.card_tilt
    direction = np.array([0.01, 1.0, tilt])
    direction /= np.linalg.norm(direction)
    shaft = Cylinder(turn @ np.array([65.0, 84.0, depth]) + shift, turn @ direction, radius)
    at = np.linspace(-48.0, 58.0, 40)
    sides, truth = [], {}
    for i, side in enumerate((1, -1)):
        line = camera.project(shaft.surface(at, np.full(40, side * shaft.silhouette_phi())))
        out = (
            camera.project(shaft.surface(at, np.full(40, side * shaft.silhouette_phi()), radius * 1.01))
            - line
        )
        out /= np.linalg.norm(out, axis=1, keepdims=True)
        truth[OFF.start + i] = noise * SILHOUETTE_SD_PX * float(rng.standard_normal())
        off = truth[OFF.start + i] + noise * SILHOUETTE_POINT_SD_PX * rng.standard_normal(40)
        sides.append(line + off[:, None] * out)
    band = (
        HEIGHT_SD_MM * e.marker_height,
        BAND_TILT_SD * e.marker_tilt_near,
        BAND_TILT_SD * e.marker_tilt_side,
    )
    rims = []
    for i, (name, place) in enumerate((rims_mm or TRUE_RIMS_MM).items()):
        phi = np.linspace(-1.1, 1.1, 15)
        tilts = name.on_marker
        raised_mm = HEIGHT_MM if tilts else 0.0
        rho = radius + raised_mm + band[0] * tilts
        leaning = place + tilts * radius * (band[1] * np.cos(phi) + band[2] * np.sin(phi))
        points = camera.project(shaft.surface(leaning, phi, rho))
        step = camera.project(shaft.surface(leaning + 0.1, phi, rho)) - points
        step /= np.linalg.norm(step, axis=1, keepdims=True)
        whole = FIXED + PER_RIM * i + 1
        truth[whole] = noise * RIM_SD_PX * float(rng.standard_normal())
        off = truth[whole] + noise * RIM_POINT_SD_PX * rng.standard_normal(len(phi))
        rims.append(
            RimPoints(
                name,
                points + off[:, None] * step,
                raised_mm,
                HEIGHT_SD_MM if tilts else 0.0,
                tilts=tilts,
            )
        )
    sighting = CardSighting(3, ids, corners, 21, (), 0.5, 4.5)
    declared = PriorInputs(diameter_mm, DIAMETER_SD_MM, 1.0, 1.0, PRINT_SD)
    observations = Observations(
        sighting, nominal, FOCAL_SD, declared, sides[0], sides[1], tuple(rims), centre_sd_px=CENTRE_SD_PX
    )
    pose = card_pose(sighting, nominal, 1.0, 1.0)
    theta = initial_theta(pose, 64.0, 0.0, observations)
    base = FIXED + PER_RIM * list(rims_mm or TRUE_RIMS_MM).index(RimName.MARKER_NEAR)
    truth |= {
        **{LOGF: log_f, K1: k1, ALONG: along, ACROSS: across, R_MM: radius, AZ: depth, DZ: tilt},
        **{CENTRE.start + i: float(c) for i, c in enumerate(centre)},
        **{base + 2 + i: b for i, b in enumerate(band)},
    }
    return Made(observations, theta, truth, camera, shaft)


def without(errors: Errors, name: str) -> Errors:
    """Return the same with one source left out."""
    return replace(errors, **{name: 0.0})
