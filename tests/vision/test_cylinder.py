"""The cylinder's geometry against closed forms."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from calibration.camera import Camera
from vision.geometry.cylinder import Cylinder


def upright(radius: float, distance: float, tilt: float = 0.0) -> Cylinder:
    axis = np.array([0.0, np.cos(tilt), np.sin(tilt)])
    return Cylinder(np.array([12.0, -7.0, distance]), axis, radius)


@given(st.floats(3, 25), st.floats(150, 700), st.floats(-0.4, 0.4), st.floats(-80, 80), st.floats(-1.2, 1.2))
def test_unrolling_undoes_projection(
    radius: float, distance: float, tilt: float, s: float, phi: float
) -> None:
    shaft = upright(radius, distance, tilt)
    camera = Camera.centred(1600.0, 1536, 2048).with_lens(1600.0, 0.02)
    limit = shaft.silhouette_phi() - 0.05
    phi = float(np.clip(phi, -limit, limit))
    px = camera.project(shaft.surface(np.array([s]), np.array([phi])))
    back_s, back_phi = shaft.unroll(camera.rays(px))
    assert abs(back_s[0] - s) < 1e-3
    assert abs(back_phi[0] - phi) < 1e-3


@given(st.floats(3, 25), st.floats(150, 700), st.floats(-0.4, 0.4), st.sampled_from([1, -1]))
def test_silhouette_rays_touch_the_cylinder(radius: float, distance: float, tilt: float, side: int) -> None:
    shaft = upright(radius, distance, tilt)
    points = shaft.surface(np.linspace(-60, 60, 9), np.full(9, side * shaft.silhouette_phi()))
    assert np.allclose(side * shaft.axis_distance_mm(points), radius, atol=1e-9)


def test_half_angle_is_the_tangents() -> None:
    # Closed form: a cylinder of radius R whose axis passes at distance D subtends 2 asin(R / D).
    shaft = Cylinder(np.array([0.0, 0.0, 300.0]), np.array([0.0, 1.0, 0.0]), 20.0)
    edge = shaft.surface(np.array([0.0]), np.array([shaft.silhouette_phi()]))[0]
    assert np.isclose(np.arctan2(abs(edge[0]), edge[2]), np.arcsin(20.0 / 300.0))


def test_near_side_is_larger_by_the_radius() -> None:
    # Closed form: scale on the near side is f / (D - R), not f / D: 6.7 % at 300 mm and 20 mm.
    shaft = Cylinder(np.array([0.0, 0.0, 300.0]), np.array([0.0, 1.0, 0.0]), 20.0)
    camera = Camera.centred(1500.0, 1000, 1000)
    assert np.isclose(shaft.px_per_mm(camera, 0.0), 1500.0 / 280.0, rtol=1e-4)
