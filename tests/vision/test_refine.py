"""Refined rims in made-up photos of a shaft in two shades; the expected positions are closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.camera import Camera
from vision.geometry.cylinder import Cylinder
from vision.geometry.views import READER_COLUMNS, reader_u
from vision.networks import run as networks
from vision.rims import refine as refinement
from vision.rims.candidates import RimCandidate
from vision.rims.refine import (
    NEAR_ROWS,
    RIM_COLUMNS,
    RIM_ROWS,
    RIM_U,
    ROOM_ROWS,
    RimKind,
    RimRefiner,
    RimTarget,
    _transition_rows,
)

SIZE_PX = (600, 800)
CAMERA = Camera.centred(1500.0, *SIZE_PX)
CYLINDER = Cylinder(
    np.array([3.0, 0.0, 400.0]), np.array([0.06, 1.0, 0.1]) / np.linalg.norm([0.06, 1.0, 0.1]), 20.0
)
DARK, BRIGHT = 60, 200


def photo_of(border_mm: float, shaft_follows: bool) -> np.ndarray:
    """Make a photo in which the shaft is bright on one side of a plane normal to its axis, dark on the other."""
    x, y = np.meshgrid(np.arange(SIZE_PX[0]), np.arange(SIZE_PX[1]))
    s, _ = CYLINDER.unroll(CAMERA.rays(np.stack([x, y], axis=-1).reshape(-1, 2).astype(float)))
    bright = (s > border_mm) == shaft_follows
    grey = np.where(np.isfinite(s) & bright, BRIGHT, DARK).astype(np.uint8).reshape(y.shape)
    return np.repeat(grey[..., None], 3, axis=2)


def segmented(s_mm: float, u: np.ndarray | None = None) -> RimCandidate:
    """Make a rim as part segmentation gives it."""
    u = reader_u(np.arange(READER_COLUMNS)) if u is None else u
    return RimCandidate(np.zeros(len(u)), u, s_mm, 1.0, 1.0, 0.3)


@pytest.fixture(autouse=True)
def classified_by_brightness(monkeypatch: pytest.MonkeyPatch) -> None:
    """In place of the network: bright is bare shaft."""

    def sides(
        patches: list[np.ndarray], diameter_mm: float, slants: list[float], kinds: list[int]
    ) -> np.ndarray:
        assert diameter_mm == 40.0 and len(slants) == len(kinds) == len(patches)
        return np.clip((np.stack(patches)[..., 0].astype(float) - DARK) / (BRIGHT - DARK), 0, 1)

    monkeypatch.setattr(refinement, "rim_side_probabilities", sides)


@pytest.mark.parametrize("shaft_follows", [True, False])
@pytest.mark.parametrize(
    ("kind", "off_mm"),
    [(RimKind.SEAL, -2.0), (RimKind.MARKER, 0.3), (RimKind.SEAL, 1.5), (RimKind.FAR_END, 4.5)],
)
@pytest.mark.parametrize("border_mm", [-40.0, 12.0])
def test_a_rim_lies_where_its_plane_does(
    border_mm: float, kind: RimKind, off_mm: float, shaft_follows: bool
) -> None:
    refiner = RimRefiner(photo_of(border_mm, shaft_follows), CYLINDER, CAMERA, 40.0)
    found = refiner.refine([RimTarget(segmented(border_mm + off_mm), kind, shaft_follows)])[0]
    assert found is not None
    # Pixels are 0.27 mm there, hard ones, and the rim crosses some twenty of their rows.
    assert found.s_mm == pytest.approx(border_mm, abs=0.05)


def test_slant_is_positive_from_the_bare_shafts_side(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tangent of the angle between line of sight and the plane square to the axis, by hand."""
    given: list[tuple[float, int]] = []

    def sides(
        patches: list[np.ndarray], diameter_mm: float, slants: list[float], kinds: list[int]
    ) -> np.ndarray:
        given.extend(zip(slants, kinds, strict=True))
        return np.zeros((len(patches), RIM_ROWS, RIM_COLUMNS))

    monkeypatch.setattr(refinement, "rim_side_probabilities", sides)
    square_on = Cylinder(np.array([0.0, 0.0, 400.0]), np.array([0.0, 1.0, 0.0]), 20.0)
    refiner = RimRefiner(np.zeros((*SIZE_PX[::-1], 3), np.uint8), square_on, CAMERA, 40.0)
    rims = [
        RimTarget(segmented(-100.0), RimKind.SEAL, True),
        RimTarget(segmented(100.0), RimKind.FAR_END, False),
        RimTarget(segmented(100.0), RimKind.MARKER, True),
    ]
    assert refiner.refine(rims) == [None, None, None]
    np.testing.assert_allclose([s for s, _ in given], [0.25, 0.25, -0.25])
    assert [k for _, k in given] == [0, 2, 1]


def test_only_columns_that_show_the_rim_count() -> None:
    """Columns behind something else are left out."""
    photo = photo_of(12.0, True)
    photo[:, : SIZE_PX[0] // 2] = BRIGHT
    refiner = RimRefiner(photo, CYLINDER, CAMERA, 40.0)
    u = reader_u(np.arange(READER_COLUMNS))
    right = u < -0.2 if CAMERA.project(CYLINDER.surface(np.array(0.0), np.array(0.5)))[0] > 300 else u > 0.2
    found = refiner.refine([RimTarget(segmented(12.0, u[right]), RimKind.SEAL, True)])[0]
    assert found is not None and found.s_mm == pytest.approx(12.0, abs=0.05)
    assert refiner.refine([RimTarget(segmented(12.0, u[:1]), RimKind.SEAL, True)])[0] is None


def test_a_column_is_the_mean_of_the_samples_across_it() -> None:
    """Of a picture whose brightness grows by one code value a pixel to the right: where its middle is seen."""
    left = 220
    ramp = np.clip(np.arange(SIZE_PX[0]) - left, 0, 255).astype(np.uint8)
    photo = np.repeat(np.broadcast_to(ramp, SIZE_PX[::-1])[..., None], 3, axis=2)
    patch = RimRefiner(photo, CYLINDER, CAMERA, 40.0)._patch(5.0, 0.08)
    u = RIM_U * (2 * (np.arange(RIM_COLUMNS) + 0.5) / RIM_COLUMNS - 1)
    s = 5.0 + 0.08 * (np.arange(RIM_ROWS) - 0.5 * (RIM_ROWS - 1))
    x = CAMERA.project(CYLINDER.surface(s[:, None], -np.arcsin(u)[None, :]))[..., 0] - left
    assert x.min() > 0 and x.max() < 255
    assert np.abs(patch[..., 0] - x).max() < 0.8 and abs(np.mean(patch[..., 0] - x)) < 0.1


def test_input_channels_of_the_networks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Colour, diameter in units of 50 mm, slant, place across, and one of three kinds, as `training/rims.py` has it."""
    given: dict[str, np.ndarray] = {}

    def run(name: str, channels: np.ndarray) -> np.ndarray:
        given[name] = channels
        return np.zeros((len(channels), 1, RIM_ROWS, RIM_COLUMNS))

    monkeypatch.setattr(networks, "_run", run)
    patch = np.full((RIM_ROWS, RIM_COLUMNS, 3), (255, 51, 0), np.uint8)
    sides = networks.rim_side_probabilities([patch, patch], 40.0, [0.2, -0.1], [0, 2])
    assert sides.shape == (2, RIM_ROWS, RIM_COLUMNS) and np.all(sides == 0.5)
    assert set(given) == {"rim_refinement_a", "rim_refinement_b"}
    for channels in given.values():
        np.testing.assert_allclose(
            channels[0, :, 0, 0], [1, 0.2, 0, 0.8, 0.2, 1 - 1 / RIM_COLUMNS, 1, 0, 0], rtol=1e-6
        )
        np.testing.assert_allclose(channels[1, 4:, 7, -1], [-0.1, 1 - 1 / RIM_COLUMNS, 0, 0, 1], rtol=1e-6)


def test_two_networks_and_the_mirror_image_are_averaged(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of networks that answer p(x) at column x: the mean of both and of both ways round."""
    left = np.linspace(0.1, 0.6, RIM_COLUMNS)
    answers = {"rim_refinement_a": left, "rim_refinement_b": left**2}

    def run(name: str, channels: np.ndarray) -> np.ndarray:
        p = np.broadcast_to(answers[name], (len(channels), 1, RIM_ROWS, RIM_COLUMNS))
        return np.asarray(np.log(p / (1 - p)) + channels[:, :1])  # what is red is moved along with its place

    monkeypatch.setattr(networks, "_run", run)
    patch = np.zeros((RIM_ROWS, RIM_COLUMNS, 3), np.uint8)
    patch[:, 5] = 255
    (side,) = networks.rim_side_probabilities([patch], 40.0, [0.0], [1])
    expected = (left + left**2 + left[::-1] + left[::-1] ** 2) / 4
    np.testing.assert_allclose(np.delete(side, 5, axis=1)[3], np.delete(expected, 5), rtol=1e-5)
    assert (side[:, 5] > expected[5] + 0.1).all()


def test_position_and_width_of_a_ramp() -> None:
    """A step that is blurred over w rows lies in its middle; 4 p (1 - p) over an even ramp sums to 2 w / 3."""
    at = np.arange(RIM_ROWS)[:, None] + 0.5
    middle, width = np.array([30.0, 48.25, 60.5]), 12.0
    rows, width_rows, good = _transition_rows(np.clip((at - middle) / width + 0.5, 0, 1))
    np.testing.assert_allclose(rows, middle, atol=0.01)
    np.testing.assert_allclose(width_rows, 2 * width / 3, atol=0.1)
    assert good.all()


def test_another_border_far_off_changes_nothing() -> None:
    side = np.zeros((RIM_ROWS, 1))
    side[48:] = 1.0
    side[: 48 - NEAR_ROWS - 4] = 0.9
    rows, _, _ = _transition_rows(side)
    assert rows[0] == pytest.approx(48.0)


@pytest.mark.parametrize("row", [2, RIM_ROWS - 2])
def test_a_border_at_the_patchs_end_is_none(row: int) -> None:
    assert row < ROOM_ROWS or row > RIM_ROWS - ROOM_ROWS
    side = np.zeros((RIM_ROWS, 1))
    side[row:] = 1.0
    assert not _transition_rows(side)[2].any()
