"""What close looks do to the rims chosen; a made-up look, and rims where it puts them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from tests.helpers.made_frame import CYLINDER, FRAME, bands
from vision.adjustment.observations import RIM_SD_PX, RimPoints
from vision.adjustment.solve import Solution
from vision.networks.classes import Part
from vision.reading import Layout
from vision.rims import points as rim_points
from vision.rims.choose import Choice, choose
from vision.rims.points import DISAGREEMENT_SHARE, REFINED_SIGMA, SEGMENTATION_WEIGHT
from vision.rims.refine import RefinedRim, RimKind, RimRefiner, RimTarget

SOLUTION = cast(Solution, SimpleNamespace(cylinder=CYLINDER))
# Rows of the borders: seal, the marker's two edges, far end.
SEAL, NEAR, END, FAR = 300, 480, 494, 800
CLASSES = bands(
    (Part.SEAL, SEAL), (Part.SHAFT, NEAR), (Part.MARKER, END), (Part.SHAFT, FAR), (Part.FAR_END, 900)
)


def looked_at(
    moved_mm: dict[str, float | None],
    transition_width_mm: float = 0.1,
    width_mm: float | None = None,
    classes: np.ndarray = CLASSES,
) -> Choice:
    """Rims chosen where a close look moves each by so much, or (None) shows nothing of it."""

    def refine(rims: list[RimTarget]) -> list[RefinedRim | None]:
        out: list[RefinedRim | None] = []
        for one in rims:
            marker = "marker end" if one.shaft_follows else "marker"
            moved = moved_mm[{RimKind.SEAL: "seal", RimKind.FAR_END: "far end"}.get(one.kind, marker)]
            out.append(None if moved is None else RefinedRim(one.rim.s_mm + moved, transition_width_mm))
        return out

    return choose(
        classes, FRAME, SOLUTION, Layout.SHOCK, width_mm, cast(RimRefiner, SimpleNamespace(refine=refine))
    )


NOTHING: dict[str, float | None] = dict.fromkeys(("seal", "marker", "marker end", "far end"))


def place_mm(points: RimPoints | None) -> float:
    assert points is not None
    return float(np.median(CYLINDER.unroll(FRAME.camera.rays(points.points_px))[0]))


def test_rims_that_a_close_look_does_not_show_stay_the_readers() -> None:
    found, without = looked_at(NOTHING), choose(CLASSES, FRAME, SOLUTION, Layout.SHOCK, None)
    for name in ("seal", "marker", "marker_end", "far"):
        one, other = getattr(found, name), getattr(without, name)
        np.testing.assert_array_equal(one.points_px, other.points_px)
        assert (one.sd_px, one.height_mm) == (other.sd_px, other.height_mm)


def test_a_rim_lies_where_the_close_look_sees_it_as_far_as_that_counts() -> None:
    found, without = looked_at({**NOTHING, "seal": 0.3, "far end": -0.4}), looked_at(NOTHING)
    moved = place_mm(found.seal) - place_mm(without.seal)
    assert moved == pytest.approx((1 - SEGMENTATION_WEIGHT[RimKind.SEAL]) * 0.3, abs=1e-3)
    moved = place_mm(found.far) - place_mm(without.far)
    assert moved == pytest.approx(-(1 - SEGMENTATION_WEIGHT[RimKind.FAR_END]) * 0.4, abs=1e-3)
    assert [rim.name for rim in found.unrefined] == ["seal", "marker", "marker end", "far end"]
    assert place_mm(found.unrefined[0]) == pytest.approx(place_mm(without.seal))


def test_a_far_end_that_the_marker_touches_is_not_looked_at() -> None:
    """No bare shaft lies before it. The seal's and the marker's near edge still are."""
    at_stop = bands((Part.SEAL, SEAL), (Part.SHAFT, FAR - 14), (Part.MARKER, FAR), (Part.FAR_END, 900))
    moved: dict[str, float | None] = dict.fromkeys(("seal", "marker", "marker end", "far end"), 0.2)
    found = looked_at(moved, classes=at_stop)
    without = choose(at_stop, FRAME, SOLUTION, Layout.SHOCK, None)
    assert found.touching and place_mm(found.far) == place_mm(without.far)
    for name in ("seal", "marker"):
        assert place_mm(getattr(found, name)) == pytest.approx(
            place_mm(getattr(without, name)) + 0.2, abs=1e-3
        )


def test_what_stands_proud_is_known_to_a_close_look() -> None:
    """It was taught where the rim's plane meets the shaft's surface."""
    found = looked_at({**NOTHING, "marker": 0.0, "marker end": 0.0})
    assert found.marker is not None and found.unrefined[1].height_mm > 0
    assert (found.marker.height_mm, found.marker.height_sd_mm) == (0.0, 0.0)


def test_looks_that_lie_apart_are_doubted_for_it() -> None:
    """The root of the sum of squares; by hand."""
    apart_mm = 0.8
    near, far = (looked_at({**NOTHING, "seal": mm}).seal for mm in (0.0, apart_mm))
    assert near is not None and far is not None
    more_px = DISAGREEMENT_SHARE[RimKind.SEAL] * apart_mm * FRAME.px_per_radius / FRAME.cylinder.radius_mm
    assert far.sd_px == pytest.approx(np.hypot(near.sd_px, more_px), rel=0.06)


@pytest.mark.parametrize("share", [0.2, 0.5])
def test_a_rim_and_its_points_together_err_by_the_rims_doubt(
    share: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The variance of a mean is the common part's and one of n of the points' own (GUM 4.2.3): not counted twice."""
    monkeypatch.setattr(rim_points, "POINTS_SIGMA_SHARE", share)
    seal = looked_at({**NOTHING, "seal": 0.0}, transition_width_mm=0.1).seal
    assert seal is not None
    px_per_mm = float(CYLINDER.px_per_mm(FRAME.camera, place_mm(seal)))
    doubt = REFINED_SIGMA[RimKind.SEAL]
    parts_mm = (
        doubt.floor_mm,
        doubt.transition_factor * 0.1,
        doubt.slant_mm * CYLINDER.slant(place_mm(seal)) ** 4,
    )
    wanted_px = np.hypot(np.linalg.norm(parts_mm) * px_per_mm, RIM_SD_PX)
    of_points_px = seal.shape_sd_px / len(seal.points_px) ** 0.5
    assert np.hypot(seal.sd_px, of_points_px / seal.mean_weight) == pytest.approx(wanted_px, rel=0.01)
    assert 0.2 * wanted_px < of_points_px < 0.5 * wanted_px
    assert seal.mean_weight == pytest.approx(max(1.0, of_points_px / (share * wanted_px)), rel=0.01)


@pytest.mark.parametrize("stated_mm", [None, 3.6])
def test_edges_that_make_no_band_are_not_believed(stated_mm: float | None) -> None:
    """The reader's band is 3.5 mm wide. Close looks make it 3.9, then 0.5; a marker's is 1.2 mm at the least."""
    band = looked_at({**NOTHING, "marker": -0.2, "marker end": 0.2}, width_mm=stated_mm)
    assert band.marker is not None and band.marker.height_mm == 0.0
    none = looked_at({**NOTHING, "seal": 0.1, "marker": 1.5, "marker end": -1.5}, width_mm=stated_mm)
    assert none.marker is not None and none.marker.height_mm > 0
    assert none.seal is not None and place_mm(none.seal) != pytest.approx(place_mm(none.unrefined[0]))


def test_a_vague_reader_stays_vague() -> None:
    """Undecided over 3 mm, it may have taken another edge, round which the close look was taken."""
    sure = looked_at({**NOTHING, "seal": 0.0}).seal
    p = CLASSES.copy()
    rows = np.arange(SEAL - 8, SEAL + 8)
    share = np.linspace(0.02, 0.98, len(rows))[:, None]
    p[Part.SHAFT, rows], p[Part.SEAL, rows] = 0.99 * share, 0.99 * (1 - share)
    vague = looked_at({**NOTHING, "seal": 0.0}, classes=p)
    assert sure is not None and vague.seal is not None
    assert vague.seal.sd_px == vague.unrefined[0].sd_px > 3 * sure.sd_px
