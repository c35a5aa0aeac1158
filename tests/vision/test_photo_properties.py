"""What must hold of any photo, whatever the truth: turned, shrunk, mirrored, restated, taken from elsewhere."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.helpers.made_observations import made
from tests.helpers.special_photos import PHOTOS, case, lengths, reading_of, times
from vision.adjustment.observations import Observations
from vision.adjustment.solve import solve
from vision.reading import Reading, Status
from vision.reasons import Reason
from vision.shaft.find import ShaftNotFound

PLAIN = "tie-lock"


def _assert_alike(found: Reading, other: Reading, share: float, k: float = 1.0) -> None:
    """Both read, and each of `found`'s lengths k times the other's within a share of their u95."""
    assert found.status is Status.READ and other.status is Status.READ, (found.notes, other.notes)
    for name, length in lengths(found).items():
        before = lengths(other)[name]
        assert length is not None and before is not None
        allowed = share * max(length.u95_mm, k * before.u95_mm)
        assert abs(length.value_mm - k * before.value_mm) < allowed, name


@pytest.mark.parametrize("quarter_turns", [1, 2, 3])
def test_a_turned_photo_reads_the_same(quarter_turns: int) -> None:
    _assert_alike(case(PLAIN).turned(quarter_turns).read(), reading_of(PLAIN), 0.5)


def test_a_shrunk_photo_reads_the_same(tmp_path: Path) -> None:
    """EXIF goes along unchanged: its focal length refers to the frame's diagonal, whatever its pixels."""
    from PIL import Image

    with Image.open(PHOTOS / f"{PLAIN}.jpg") as image:
        width, height = (round(0.7 * side) for side in image.size)
        small = image.resize((width, height), Image.Resampling.LANCZOS)
        small.save(tmp_path / "small.jpg", quality=95, exif=image.getexif())
    shrunk, whole = case(PLAIN, tmp_path / "small.jpg"), case(PLAIN)
    assert shrunk.request.focal_px == pytest.approx(0.7 * whole.request.focal_px, rel=2e-3)
    _assert_alike(shrunk.read(), reading_of(PLAIN), 0.5)


def test_a_mirrored_card_is_no_card() -> None:
    found = case(PLAIN).mirrored().read()
    assert found.status is Status.REFUSED
    assert found.reason is Reason.NO_CARD


@settings(max_examples=2, deadline=None, derandomize=True, database=None)
@given(k=st.floats(0.9, 1.15).filter(lambda k: abs(k - 1) > 0.03))
def test_restated_in_another_unit_a_photo_reads_alike(k: float) -> None:
    """Similar triangles: a scene k times as large gives the same picture.

    Exact but for priors in mm (height of a band, depth of the card) and for the views, whose rows are mm: both change
    the lengths by less than their uncertainty.
    """
    _assert_alike(case("seal-left").scaled(k).read(), reading_of("seal-left"), 0.5, k)


def _enlarged(observations: Observations, k: float) -> Observations:
    """Enlarge a scene k times: the same points, all that is known in mm times k."""
    rims = tuple(
        replace(r, height_mm=k * r.height_mm, height_sd_mm=k * r.height_sd_mm) for r in observations.rims
    )
    return replace(
        observations,
        declared=times(observations.declared, k),
        rims=rims,
        card_depth_sd_mm=k * observations.card_depth_sd_mm,
    )


@settings(max_examples=12, deadline=None, derandomize=True, database=None)
@given(k=st.floats(0.7, 1.4), seed=st.integers(0, 50))
def test_the_solve_knows_no_unit(k: float, seed: int) -> None:
    """Similar triangles, with everything that is known in mm known k times as large: lengths k times as large.

    What is left over, under 0.03 %: the card's depth is asked 84 mm along it, however large it is.
    """
    scene = made(np.random.default_rng(seed))
    theta = scene.theta.copy()
    theta[3:6] *= k  # the card's place, its print scale, the axis' place, the radius: in mm or of the card's
    theta[8:12] *= k
    theta[14] *= k
    before, after = solve(scene.theta, scene.observations), solve(theta, _enlarged(scene.observations, k))
    names = list(before.rim_s_mm)
    for one, other in itertools.pairwise(names):
        length = before.rim_s_mm[other] - before.rim_s_mm[one]
        assert after.rim_s_mm[other] - after.rim_s_mm[one] == pytest.approx(k * length, rel=3e-4)


def test_one_fork_from_two_places_and_through_two_lenses() -> None:
    found = {name: lengths(reading_of(name)) for name in ("plain", "plain-far", "plain-tele")}
    for one, other in itertools.combinations(found, 2):
        for name, length in found[one].items():
            again = found[other][name]
            assert length is not None and again is not None
            apart = abs(length.value_mm - again.value_mm)
            assert apart < np.hypot(length.u95_mm, again.u95_mm), (one, other, name)


def test_where_no_edge_is_seen_the_shaft_is_searched_to_either_side(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """By the share of a radius in `ASIDE_U`, and no farther; found there, it is read as ever."""
    from vision import shaft_view
    from vision.adjustment.parameters import AX
    from vision.shaft.fit import fit_shaft

    found, tried = fit_shaft, list[float]()

    def hidden_from(tries: int) -> None:
        def fit(pixels: np.ndarray, theta: np.ndarray, *more: object) -> object:
            tried.append(float(theta[AX]))
            return None if len(tried) <= tries else found(pixels, theta, *more)  # type: ignore[arg-type]

        tried.clear()
        monkeypatch.setattr(shaft_view, "fit_shaft", fit)

    whole, usual = case(PLAIN), reading_of(PLAIN)
    hidden_from(3)
    refused = whole.read()
    assert refused.reason is Reason.NO_SHAFT
    off_u = (np.array(tried) - tried[0]) / (0.5 * whole.request.declared.diameter_mm)
    np.testing.assert_allclose(off_u, shaft_view.ASIDE_U, atol=1e-9)
    hidden_from(1)
    _assert_alike(whole.read(), usual, 0.5)
    assert len(tried) == 2


@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize("also", ["nothing", "a check", "the fit"])
def test_another_shaft_as_near_goes_before_all_else(
    also: str, threads: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Checked in parallel or before the rest: whatever else is read or refused, that is the reason given."""
    import cv2

    from vision import read as reading_steps
    from vision import shaft_view
    from vision.contradictions import Contradiction

    def twin(*_: object) -> None:
        raise ShaftNotFound(Reason.TWO_SHAFTS, "two")

    def refuse(*_: object) -> None:
        raise Contradiction(Reason.SCALE_CONFLICT, "another")

    monkeypatch.setattr(shaft_view, "check_unambiguous", twin)
    monkeypatch.setattr(cv2, "getNumThreads", lambda: threads)
    if also == "a check":
        monkeypatch.setattr(reading_steps, "check_consistent", refuse)
    if also == "the fit":
        monkeypatch.setattr(shaft_view, "fit_shaft", lambda *_: None)
    found = case(PLAIN).read()
    assert [note.reason for note in found.notes] == [Reason.TWO_SHAFTS]
    assert found.status is Status.REFUSED and found.exposed is None


@pytest.mark.parametrize("name", [PLAIN, "thin-rod"])
def test_longer_views_read_the_same(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Views as for a shaft of 300 mm, and so long that no row of the usual ones stays in its place."""
    from vision.geometry import views

    usual = reading_of(name)
    monkeypatch.setattr(views, "USUAL_LENGTH_MM", 50.0)
    monkeypatch.setattr(views, "READER_ROWS", views.READER_ROWS + 512)
    _assert_alike(case(name).read(), usual, 0.5)


def test_a_long_shaft_fits_into_its_views() -> None:
    from vision.geometry.views import EDGE_STEP_MM, READER_ROWS, READER_STEP_MM, view_length_mm
    from vision.networks.run import EDGE_ROWS_MULTIPLE, ROWS_MULTIPLE

    assert view_length_mm(110.0, 40.0) == READER_ROWS * READER_STEP_MM
    for shaft_mm in (217.0, 250.0, 300.0, 345.0):
        length_mm = view_length_mm(shaft_mm, 40.0)
        assert length_mm >= shaft_mm + 80.0
        assert (
            length_mm / READER_STEP_MM % ROWS_MULTIPLE == length_mm / EDGE_STEP_MM % EDGE_ROWS_MULTIPLE == 0
        )
