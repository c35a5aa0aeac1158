"""A photo that is stored lying on its side is read as stored and reported upright."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from bench.photo12 import sample_named
from calibration import card
from calibration.camera import Camera
from calibration.photo import load_photo
from calibration.upright import turned, turned_px
from strandline.read.one_photo import read_one
from strandline.read.parse import parse_options
from tests.helpers.upright import upright as turned_upright
from vision.names import RimName
from vision.reading import Reading, Status
from vision.request import HandMarks
from vision.turned import marks_turned, reading_turned

SAMPLE = sample_named("fork-chrome-blue-tie.jpg")
# EXIF orientation by how many quarter turns clockwise the stored picture has to be turned (CIPA DC-008).
ORIENTATION_OF_TURNS = {0: 1, 1: 6, 2: 3, 3: 8}
UPRIGHT_SIZE = (1536, 2048)


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Path]:
    """One sample photo stored in each of four ways, by the turns that make it upright."""
    folder = tmp_path_factory.mktemp("turned")
    upright = turned_upright(load_photo(SAMPLE.path))
    with Image.open(SAMPLE.path) as image:
        exif = image.getexif()
    out = {}
    for turns, orientation in ORIENTATION_OF_TURNS.items():
        exif[0x0112] = orientation
        out[turns] = folder / f"{turns}.png"
        Image.fromarray(turned(upright, -turns)).save(out[turns], exif=exif)
    return out


@pytest.fixture(scope="module")
def readings(stored: dict[int, Path]) -> dict[int, Reading]:
    """Read these."""
    upright = turned_upright(load_photo(SAMPLE.path))
    out = {}
    for turns, path in stored.items():
        outcome, photo = read_one(str(path), parse_options(SAMPLE.options))
        assert photo is not None and photo.quarter_turns == turns
        np.testing.assert_array_equal(turned_upright(photo), upright)
        assert photo.size == UPRIGHT_SIZE
        out[turns] = outcome.reading
    return out


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_places_are_those_of_the_upright_photo(readings: dict[int, Reading], turns: int) -> None:
    """However it is stored: same lengths, and the same places, to what resampling in another direction gives."""
    want, got = readings[0], readings[turns]
    assert want.status is got.status is Status.READ
    assert want.exposed is not None and got.exposed is not None
    assert abs(got.exposed.value_mm - want.exposed.value_mm) < 0.5 * want.exposed.u95_mm
    for ours, theirs in zip(got.rims, want.rims, strict=True):
        # 1.5 px are 0.2 mm.
        np.testing.assert_allclose(ours.curve_px.mean(axis=0), theirs.curve_px.mean(axis=0), atol=1.5)
    assert got.card_outline_px is not None and want.card_outline_px is not None
    np.testing.assert_allclose(got.card_outline_px, want.card_outline_px, atol=1.5)
    for edge, same_edge in zip(got.shaft_edges_px, want.shaft_edges_px, strict=True):
        np.testing.assert_allclose(edge.mean(axis=0), same_edge.mean(axis=0), atol=3)
    assert got.pose is not None and want.pose is not None
    np.testing.assert_allclose(got.pose.R_cam_card, want.pose.R_cam_card, atol=0.01)
    np.testing.assert_allclose(got.pose.t_cam_card_mm, want.pose.t_cam_card_mm, atol=2)


def test_the_reported_camera_projects_the_card_onto_its_outline(readings: dict[int, Reading]) -> None:
    """The reported pose projects the card's corners to the reported outline: 8 px are the effect of distortion."""
    for reading in readings.values():
        assert reading.pose is not None and reading.card_outline_px is not None
        camera = Camera.centred(reading.pose.focal_px, *UPRIGHT_SIZE)
        corners = np.c_[card.outline_mm(), np.zeros(4)]
        seen = camera.project(corners @ reading.pose.R_cam_card.T + reading.pose.t_cam_card_mm)
        np.testing.assert_allclose(seen, reading.card_outline_px, atol=8)


def test_rims_set_by_hand_are_places_on_the_upright_photo(
    readings: dict[int, Reading], stored: dict[int, Path]
) -> None:
    """Reported positions, set by hand on the photo stored in another orientation, give the same lengths."""
    rims = {rim.name: rim.curve_px[8:-8:6] for rim in readings[0].rims}
    words = [
        f"{name}=" + ";".join(f"{x:.1f},{y:.1f}" for x, y in rims[rim])
        for name, rim in (("seal", RimName.SEAL), ("marker", RimName.MARKER_NEAR), ("far", RimName.FAR_END))
    ]
    inputs = parse_options(replace(SAMPLE.options, rims=" ".join(words)))
    for turns in (0, 1):
        outcome, _ = read_one(str(stored[turns]), inputs)
        exposed, usual = outcome.reading.exposed, readings[0].exposed
        assert exposed is not None and usual is not None, outcome.messages
        assert abs(exposed.value_mm - usual.value_mm) < exposed.u95_mm
        far = {rim.name: rim for rim in outcome.reading.rims}[RimName.FAR_END]
        np.testing.assert_allclose(far.curve_px.mean(axis=0), rims[RimName.FAR_END].mean(axis=0), atol=12)
    lines = (";".join(f"{x:.1f},{y:.1f}" for x, y in edge[4:-4:5]) for edge in readings[0].shaft_edges_px)
    inputs = parse_options(replace(SAMPLE.options, rims=" ".join(words), edges=" ".join(lines)))
    drawn = read_one(str(stored[1]), inputs)[0].reading
    assert drawn.exposed is not None and usual is not None
    assert abs(drawn.exposed.value_mm - usual.value_mm) < usual.u95_mm


def test_rims_set_on_the_upright_photo_are_found_on_the_stored_one() -> None:
    size = (30, 40)
    rims = HandMarks(seal_px=np.array([[3.0, 5.0], [10.0, 5.0]]), far_px=np.array([[4.0, 33.0]]))
    back = marks_turned(rims, -1, size)
    assert back.marker_px is None and back.seal_px is not None
    np.testing.assert_array_equal(turned_px(back.seal_px, 1, (40, 30)), rims.seal_px)
    # A quarter turn counter-clockwise takes the top right corner to the top left one.
    corner = marks_turned(HandMarks(seal_px=np.array([[29.0, 0.0]])), -1, size)
    np.testing.assert_array_equal(corner.seal_px, [[0.0, 0.0]])


def test_a_refusal_turns_too() -> None:
    refused = Reading(Status.REFUSED)
    assert reading_turned(refused, 1, (40, 30)) == refused
