"""Exact image points of a card, a shaft and three rims, and the same with every stated error drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.camera import K1_SD, Camera
from calibration.find_card import CardSighting
from calibration.pose import card_points_mm, rotation
from vision import solve as s
from vision.cylinder import Cylinder

TRUE_RIMS_MM = {"seal": -52.0, "marker": 8.0, "far end": 61.0}


@dataclass(frozen=True)
class Made:
    """One made-up photo as points, and where to start solving."""

    evidence: s.Evidence
    theta: np.ndarray


def made(
    rng: np.random.Generator, *, noise: float = 1.0, diameter_mm: float = 41.0, distance_mm: float = 350.0
) -> Made:
    """Draw a scene.

    Parameters
    ----------
    rng : numpy Generator
    noise : float
        0: exact points and declarations; 1: every source of error as its stated distribution says.
    diameter_mm, distance_mm : float
    """
    nominal = Camera.centred(1600.0, 1536, 2048)
    focal_sd = 0.012
    camera = nominal.with_lens(
        nominal.focal_px * float(np.exp(noise * focal_sd * rng.standard_normal())),
        noise * K1_SD * float(rng.standard_normal()),
    )
    turn = rotation(np.array([0.12, -0.1, 0.05]) * rng.uniform(-1, 1, 3))
    shift = np.array([-18.0, -84.0, distance_mm]) + rng.uniform(-8, 8, 3)
    radius = diameter_mm / 2 + noise * 0.01 * float(rng.standard_normal())
    along = 1.0 + noise * 0.001 * float(rng.standard_normal())
    ids = np.arange(26)
    corners = camera.project(card_points_mm(ids, along, along) @ turn.T + shift)
    corners = corners + noise * s.CORNER_SD_PX * rng.standard_normal(corners.shape)
    depth = noise * s.CARD_DEPTH_SD_MM * float(rng.standard_normal())
    tilt = noise * s.CARD_TILT_SD * float(rng.standard_normal())
    direction = np.array([0.01, 1.0, tilt])
    direction /= np.linalg.norm(direction)
    shaft = Cylinder(turn @ np.array([65.0, 84.0, depth]) + shift, turn @ direction, radius)
    at = np.linspace(-48.0, 58.0, 40)
    sides = []
    for side in (1, -1):
        line = camera.project(shaft.surface(at, np.full(40, side * shaft.silhouette_phi())))
        out = (
            camera.project(shaft.surface(at, np.full(40, side * shaft.silhouette_phi()), radius * 1.01))
            - line
        )
        out /= np.linalg.norm(out, axis=1, keepdims=True)
        off = s.SILHOUETTE_SD_PX * rng.standard_normal() + s.SILHOUETTE_POINT_SD_PX * rng.standard_normal(40)
        sides.append(line + noise * off[:, None] * out)
    rims = []
    for name, place in TRUE_RIMS_MM.items():
        phi = np.linspace(-1.1, 1.1, 15)
        tilts = name == "marker"
        height = 0.5 if tilts else 0.0
        rho = radius + height + noise * 0.3 * float(rng.standard_normal()) * tilts
        lean = noise * s.BAND_TILT_SD * rng.standard_normal(2) * tilts
        band = place + radius * (lean[0] * np.cos(phi) + lean[1] * np.sin(phi))
        points = camera.project(shaft.surface(band, phi, rho))
        step = camera.project(shaft.surface(band + 0.1, phi, rho)) - points
        step /= np.linalg.norm(step, axis=1, keepdims=True)
        off = s.RIM_SD_PX * rng.standard_normal() + s.RIM_POINT_SD_PX * rng.standard_normal(len(phi))
        rims.append(
            s.RimPoints(
                name, points + noise * off[:, None] * step, height, 0.3 if tilts else 0.0, tilts=tilts
            )
        )
    sighting = CardSighting(3, ids, corners, 21, (), 0.5, 4.5)
    declared = s.Declared(diameter_mm, 0.02, 1.0, 1.0, 0.001)
    evidence = s.Evidence(
        sighting, nominal, focal_sd, declared, sides[0], sides[1], tuple(rims), centre_sd_px=0.5
    )
    from calibration.pose import card_pose

    pose = card_pose(sighting, nominal, 1.0, 1.0)
    theta = s.start_theta(pose, 64.0, 0.0, evidence)
    return Made(evidence, theta)
