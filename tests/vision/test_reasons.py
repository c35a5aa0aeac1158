"""Every reason for not answering is reached by a photo, not only by a made-up note.

Photos of special cases are held to their reason in test_special_cases.py. What they leave out is made here from
one of them: shrunk, covered, with a second marker, with vaguer statements. One photo a reason, so that each is read
once.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from bench.photo12 import sample_named
from strandline.__main__ import cli
from tests.helpers.expected_readings import EXPECTED
from tests.helpers.special_photos import PHOTOS, Case, case, reading_of, sample_case, truth, typed
from vision.names import LengthName
from vision.reading import Reading, Status
from vision.reasons import Reason
from vision.request import EDGE_POINTS_NEEDED
from vision.shaft.edges import MIN_POINTS, SilhouettePoints


def _shrunk() -> Case:
    """Make the plain photo as taken from three times the distance."""
    import cv2

    whole, k = case("plain"), 0.3
    small = cv2.resize(whole.pixels, None, fx=k, fy=k, interpolation=cv2.INTER_AREA)
    return Case(small, replace(whole.request, focal_px=k * whole.request.focal_px))


def _before_a_motorcycle() -> Case:
    """Paste the card of the plain photo on a real photo of a motorcycle whose shafts are out of the card's reach.

    `motorcycle_left.png` of scikit-image's wheel (Middlebury stereo data, 2014).
    """
    import cv2
    import skimage

    whole = case("plain")
    outline = reading_of("plain").card_outline_px
    assert outline is not None
    height, width = whole.pixels.shape[:2]
    card = np.zeros((height, width), np.uint8)
    cv2.fillPoly(card, [(outline + 0.08 * (outline - outline.mean(axis=0))).astype(np.int32)], 255)
    scene = cv2.imread(str(Path(skimage.__file__).parent / "data" / "motorcycle_left.png"))
    assert scene is not None
    scene = scene[..., ::-1]
    k = max(height / scene.shape[0], width / scene.shape[1])
    scene = cv2.resize(scene, None, fx=k, fy=k)[:height, :width]
    return replace(whole, pixels=np.where(card[..., None] > 0, whole.pixels, scene))


def _two_rings() -> Case:
    """Copy the O-ring of its photo, 15 mm further along."""
    import cv2

    whole, name = case("o-ring"), "o-ring"
    seal, ring, far = (np.array(truth(name)[f"{rim}_rim_px"]) for rim in ("seal", "marker", "far"))
    axis = far.mean(axis=0) - seal.mean(axis=0)
    px_per_mm = np.linalg.norm(axis) / truth(name)["exposed_mm"]
    axis = axis / np.linalg.norm(axis)
    side = np.array([-axis[1], axis[0]])
    step = 15 * px_per_mm * axis
    height, width = whole.pixels.shape[:2]
    shift = np.array([[1, 0, step[0]], [0, 1, step[1]]], np.float32)
    moved = cv2.warpAffine(whole.pixels, shift, (width, height))
    across = (np.ptp(ring @ side) / 2 + 4 * px_per_mm) * side
    before, behind = (ring.mean(axis=0) + step + d * px_per_mm * axis for d in (-3, 7))
    patch = np.zeros(whole.pixels.shape[:2], np.uint8)
    corners = np.array([before + across, before - across, behind - across, behind + across])
    cv2.fillPoly(patch, [corners.astype(np.int32)], 255)
    share = cv2.GaussianBlur(patch, (0, 0), 2)[..., None] / 255
    return replace(whole, pixels=(whole.pixels * (1 - share) + moved * share).astype(np.uint8))


def _imprecise_inputs() -> Case:
    """Return the plain photo, its shaft measured by eye and its card not measured."""
    whole = case("plain")
    vague = replace(whole.request.declared, diameter_sd_mm=3.0, print_sd=0.02)
    return replace(whole, request=replace(whole.request, declared=vague))


def _no_card() -> Case:
    """Return the plain photo without its left half, where the card lies."""
    whole = case("plain")
    bare = whole.pixels.copy()
    bare[:, : bare.shape[1] // 2] = 90
    return replace(whole, pixels=bare)


def _under_exposed() -> Case:
    """Darken a sample photo of a black tube as a phone does that exposes for the card."""
    whole = sample_case(sample_named("fork-black-tube-black-tie.jpg"))
    return replace(whole, pixels=(255 * (whole.pixels / 255.0) ** 4).astype(np.uint8))


def _printed_much_smaller() -> Case:
    """Declare the plain photo's card to be a ninth larger than it is: as if it had been printed at 0.9."""
    whole = case("plain")
    declared = replace(whole.request.declared, print_along=1 / 0.9, print_across=1 / 0.9)
    return replace(whole, request=replace(whole.request, declared=declared))


def _wavy_card() -> Case:
    """Wave the plain photo from side to side, twice over the card's length: no bend of a card does that."""
    import cv2

    whole = case("plain")
    height, width = whole.pixels.shape[:2]
    y, x = np.mgrid[:height, :width].astype(np.float32)
    wave = (3 * np.sin(4 * np.pi * y / height)).astype(np.float32)
    return replace(whole, pixels=cv2.remap(whole.pixels, x + wave, y, cv2.INTER_LINEAR))


def _another_units_focal_length() -> Case:
    """Declare the plain photo's focal length four times what it is."""
    whole = case("plain")
    return replace(whole, request=replace(whole.request, focal_px=4 * whole.request.focal_px))


MADE: dict[Reason, Callable[[], Case]] = {
    Reason.NO_CARD: _no_card,
    Reason.TOO_SMALL: _shrunk,
    Reason.BADLY_LIT: _under_exposed,
    Reason.SCALE_CONFLICT: _printed_much_smaller,
    Reason.CARD_NOT_FLAT: _wavy_card,
    Reason.NO_SHAFT: _before_a_motorcycle,
    Reason.MARKER_UNCLEAR: _two_rings,
    Reason.UNCERTAIN: _imprecise_inputs,
    Reason.NO_MARKER: lambda: case("dirt-rings"),
    Reason.FAR_END_HIDDEN: lambda: case("gaiter"),
    Reason.FOCAL_LENGTH_DOUBTFUL: _another_units_focal_length,
}
# Reached by tests below, too few points of the edges, a file that was cut short, a card that one network alone takes to
# lie backwards, lengths of another leg (test_stated.py), a photo scaled unequally (test_square_pixels.py); and by a
# sample photo in test_samples.py.
ELSEWHERE = {
    Reason.SHAFT_EDGES_UNCLEAR,
    Reason.BAD_FILE,
    Reason.CARD_BACKWARDS,
    Reason.STATED_CONFLICT,
    Reason.STRETCHED,
}
# Which lengths must be missing for a reason that concerns one of them.
WITHHOLDS = {
    Reason.MARKER_UNCLEAR: ("marker", "remaining"),
    Reason.NO_MARKER: ("marker", "remaining"),
    Reason.FAR_END_HIDDEN: ("exposed", "remaining"),
    Reason.UNCERTAIN: ("exposed",),
}


def test_every_reason_is_reached_by_a_photo() -> None:
    by_special_case = {e.reasons[0] for e in EXPECTED.values() if len(e.reasons) == 1}
    assert by_special_case | MADE.keys() | ELSEWHERE == set(Reason)


@pytest.mark.parametrize("reason", MADE)
def test_a_photo_is_not_answered_for_this_reason(reason: Reason) -> None:
    found: Reading = MADE[reason]().read()
    assert reason in [note.reason for note in found.notes], found.notes
    withheld = WITHHOLDS.get(reason)
    if withheld is None:
        assert found.status is Status.REFUSED and found.reason is reason
    else:
        assert all(getattr(found, quantity) is None for quantity in withheld)


@pytest.mark.parametrize("points", [MIN_POINTS, EDGE_POINTS_NEEDED])
def test_too_few_points_of_the_edges(points: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The plain photo's edges, cut down to just so few points, all on one side."""
    from vision.shaft import edges

    silhouette_points, sides = edges.silhouette_points, [0]

    def cut(shares: np.ndarray, reach_u: float, first_row: int) -> SilhouettePoints:
        sides[0] += 1
        edge, count = silhouette_points(shares, reach_u, first_row), points if sides[0] % 2 else 0
        # In the middle, where they lie on the line that all make.
        part = slice(len(edge.u) // 2, len(edge.u) // 2 + count)
        return SilhouettePoints(edge.reader_rows[part], edge.u[part], edge.sd_u[part])

    monkeypatch.setattr(edges, "silhouette_points", cut)
    found = case("plain").read()
    assert (found.reason is Reason.SHAFT_EDGES_UNCLEAR) is (points < EDGE_POINTS_NEEDED)


def test_of_a_card_backwards_to_one_network_alone_the_exposed_length_is_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """It is the same whichever end is the seal; the lengths to the marker are not."""
    from vision.rims.second_opinion import SecondOpinion

    monkeypatch.setattr(SecondOpinion, "laid_right", lambda *_: 0.5)
    found = case("card-backwards").read()
    assert {note.quantity for note in found.notes if note.reason is Reason.CARD_BACKWARDS} == {
        LengthName.MARKER,
        LengthName.REMAINING,
    }
    assert found.marker is None and found.remaining is None and found.exposed is not None
    assert abs(found.exposed.value_mm - truth("card-backwards")["exposed_mm"]) < found.exposed.u95_mm


def test_a_card_backwards_is_said() -> None:
    backwards = case("card-backwards")
    # The scene's fork stands on its head: whichever way the picture is stored.
    for turns in (0, 2):
        stored = replace(backwards, request=replace(backwards.request, quarter_turns=turns))
        assert any("backwards" in remark for remark in stored.read().remarks)
    assert not any("backwards" in remark for remark in case("plain").read().remarks)


def test_a_file_that_was_cut_short(tmp_path: Path) -> None:
    content = (PHOTOS / "plain.jpg").read_bytes()
    (tmp_path / "cut.jpg").write_bytes(content[: len(content) // 2])
    t = typed("plain")
    words = ["read", str(tmp_path / "cut.jpg"), "--json", "--shaft", t.shaft, "--layout", t.layout]
    result = CliRunner().invoke(cli, words)
    assert result.exit_code == 1
    line = json.loads(result.stdout)
    assert line["reason"] == Reason.BAD_FILE and line["status"] == "refused"


@pytest.mark.parametrize("times", [0.7, 1.4])
def test_a_shaft_far_wider_or_narrower_than_declared_is_not_read(times: float) -> None:
    """Inside a tube declared too thin, reflections would pass for its edges; of one too thick but one is seen."""
    plain = case("plain")
    declared = plain.request.declared
    wrong = replace(declared, diameter_mm=times * declared.diameter_mm)
    found = replace(plain, request=replace(plain.request, declared=wrong)).read()
    assert found.status is Status.REFUSED and found.reason is Reason.SCALE_CONFLICT
    assert "wide" in found.notes[0].detail
