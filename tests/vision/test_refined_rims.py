"""Refined rims among the rims chosen: a made-up refinement, and rims where it puts them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from tests.helpers.made_frame import CYLINDER, FRAME, bands, part_map
from vision.adjustment.observations import RIM_SD_PX, RimPoints
from vision.names import RimName
from vision.networks.classes import Part
from vision.reading import Layout
from vision.rims import points as rim_points
from vision.rims.choose import Choice, choose
from vision.rims.choose import refined as moved_by
from vision.rims.points import SEAL_BIAS_MM, SEGMENTATION_WEIGHT
from vision.rims.refine import RefinedRim, RimKind, RimRefiner, RimTarget
from vision.rims.sigma import DISAGREEMENT_SHARE, REFINED_SIGMA, RefinedLook, refined_sigma_mm

# Rows of the borders: seal, the marker's two edges, far end.
SEAL, NEAR, END, FAR = 300, 480, 494, 800
CLASSES = bands(
    (Part.SEAL, SEAL), (Part.SHAFT, NEAR), (Part.MARKER, END), (Part.SHAFT, FAR), (Part.FAR_END, 900)
)


def refined(
    moved_mm: dict[RimName, float | None],
    transition_width_mm: float = 0.1,
    width_mm: float | None = None,
    classes: np.ndarray = CLASSES,
) -> Choice:
    """Choose rims where refinement moves each by so much, or (None) does not show it."""

    def refine(rims: list[RimTarget]) -> list[RefinedRim | None]:
        out: list[RefinedRim | None] = []
        for one in rims:
            marker = RimName.MARKER_FAR if one.shaft_follows else RimName.MARKER_NEAR
            names = {RimKind.SEAL: RimName.SEAL, RimKind.FAR_END: RimName.FAR_END}
            moved = moved_mm[names.get(one.kind, marker)]
            out.append(None if moved is None else RefinedRim(one.rim.s_mm + moved, transition_width_mm))
        return out

    refiner = cast(RimRefiner, SimpleNamespace(refine=refine))
    parts = part_map(classes)
    return moved_by(choose(parts, Layout.SHOCK, width_mm), refiner, None, parts.frame, width_mm)


NOTHING: dict[RimName, float | None] = dict.fromkeys(RimName)


def place_mm(points: RimPoints) -> float:
    return float(np.median(CYLINDER.unroll(FRAME.camera.rays(points.points_px))[0]))


def test_rims_that_refinement_does_not_show_stay_as_segmented() -> None:
    found, without = refined(NOTHING), choose(part_map(CLASSES), Layout.SHOCK, None)
    assert list(found.rims) == list(RimName)
    for name, one in found.rims.items():
        other = without.rims[name]
        np.testing.assert_array_equal(one.points_px, other.points_px)
        assert (one.sd_px, one.height_mm) == (other.sd_px, other.height_mm)


def test_a_rim_is_the_weighted_mean_of_refinement_and_segmentation() -> None:
    found, without = refined({**NOTHING, RimName.SEAL: 0.3, RimName.FAR_END: -0.4}), refined(NOTHING)
    moved = place_mm(found.rims[RimName.SEAL]) - place_mm(without.rims[RimName.SEAL])
    # A seal lies a little farther on: what two renderers disagree by, halved.
    assert moved == pytest.approx((1 - SEGMENTATION_WEIGHT[RimKind.SEAL]) * 0.3 + 0.05, abs=1e-3)
    moved = place_mm(found.rims[RimName.FAR_END]) - place_mm(without.rims[RimName.FAR_END])
    assert moved == pytest.approx(-(1 - SEGMENTATION_WEIGHT[RimKind.FAR_END]) * 0.4, abs=1e-3)
    assert list(found.unrefined) == list(RimName)
    assert place_mm(found.unrefined[RimName.SEAL]) == pytest.approx(place_mm(without.rims[RimName.SEAL]))


def test_a_far_end_that_the_marker_touches_is_not_refined() -> None:
    """No bare shaft lies in front of it. The seal's and the marker's near edge still are."""
    at_stop = bands((Part.SEAL, SEAL), (Part.SHAFT, FAR - 14), (Part.MARKER, FAR), (Part.FAR_END, 900))
    moved: dict[RimName, float | None] = dict.fromkeys(RimName, 0.2)
    found = refined(moved, classes=at_stop)
    without = choose(part_map(at_stop), Layout.SHOCK, None)
    assert found.touching and place_mm(found.rims[RimName.FAR_END]) == place_mm(without.rims[RimName.FAR_END])
    for name, bias_mm in ((RimName.SEAL, SEAL_BIAS_MM), (RimName.MARKER_NEAR, 0.0)):
        assert place_mm(found.rims[name]) == pytest.approx(
            place_mm(without.rims[name]) + 0.2 + bias_mm, abs=1e-3
        )


def test_a_refined_edge_has_no_height() -> None:
    """The network was trained on the line where the rim's plane meets the shaft's surface."""
    found = refined({**NOTHING, RimName.MARKER_NEAR: 0.0, RimName.MARKER_FAR: 0.0})
    assert found.unrefined[RimName.MARKER_NEAR].height_mm > 0
    assert (found.rims[RimName.MARKER_NEAR].height_mm, found.rims[RimName.MARKER_NEAR].height_sd_mm) == (
        0.0,
        0.0,
    )


def test_disagreement_of_refinement_and_segmentation_adds_to_sigma() -> None:
    """The root of the sum of squares; by hand."""
    apart_mm = 0.8
    near, far = (refined({**NOTHING, RimName.SEAL: mm}).rims[RimName.SEAL] for mm in (0.0, apart_mm))
    more_px = DISAGREEMENT_SHARE[RimKind.SEAL] * apart_mm * FRAME.px_per_radius / FRAME.cylinder.radius_mm
    assert far.sd_px == pytest.approx(np.hypot(near.sd_px, more_px), rel=0.06)


@pytest.mark.parametrize("share", [0.2, 0.5])
def test_a_rim_and_its_points_together_have_the_rims_sigma(
    share: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The variance of a mean is the common part's and one of n of the points' own (GUM 4.2.3): not counted twice."""
    monkeypatch.setattr(rim_points, "POINTS_SIGMA_SHARE", share)
    seal = refined({**NOTHING, RimName.SEAL: 0.0}, transition_width_mm=0.1).rims[RimName.SEAL]
    px_per_mm = float(CYLINDER.px_per_mm(FRAME.camera, place_mm(seal)))
    model = REFINED_SIGMA[RimKind.SEAL]
    parts_mm = (
        model.floor_mm,
        model.transition_factor * 0.1,
        model.slant_mm * CYLINDER.slant(place_mm(seal)) ** 4,
    )
    wanted_px = np.hypot(np.linalg.norm(parts_mm) * px_per_mm, RIM_SD_PX)
    of_points_px = seal.shape_sd_px / len(seal.points_px) ** 0.5
    assert np.hypot(seal.sd_px, of_points_px / seal.mean_weight) == pytest.approx(wanted_px, rel=0.01)
    assert 0.2 * wanted_px < of_points_px < 0.5 * wanted_px
    assert seal.mean_weight == pytest.approx(max(1.0, of_points_px / (share * wanted_px)), rel=0.01)


@pytest.mark.parametrize("stated_mm", [None, 3.6])
def test_refined_edges_that_make_no_band_are_dropped(stated_mm: float | None) -> None:
    """The segmented band is 3.5 mm wide. Refinement makes it 3.9, then 0.5; a marker's is 1.2 mm at the least."""
    band = refined({**NOTHING, RimName.MARKER_NEAR: -0.2, RimName.MARKER_FAR: 0.2}, width_mm=stated_mm)
    assert band.rims[RimName.MARKER_NEAR].height_mm == 0.0
    none = refined(
        {**NOTHING, RimName.SEAL: 0.1, RimName.MARKER_NEAR: 1.5, RimName.MARKER_FAR: -1.5}, width_mm=stated_mm
    )
    assert none.rims[RimName.MARKER_NEAR].height_mm > 0
    assert place_mm(none.rims[RimName.SEAL]) != pytest.approx(place_mm(none.unrefined[RimName.SEAL]))


def vaguely_ended(rows: int) -> np.ndarray:
    """Classes whose seal passes into bare shaft within a linear ramp of so many rows."""
    p = CLASSES.copy()
    ramp = np.arange(SEAL - rows // 2, SEAL + rows // 2)
    share = np.linspace(0.02, 0.98, len(ramp))[:, None]
    p[Part.SHAFT, ramp], p[Part.SEAL, ramp] = 0.99 * share, 0.99 * (1 - share)
    return p


def whole_px(points: RimPoints) -> float:
    """Sigma of a rim with that of its points, px."""
    return float(
        np.hypot(points.sd_px, points.shape_sd_px / len(points.points_px) ** 0.5 / points.mean_weight)
    )


def test_a_vague_segmentation_counts_by_its_width() -> None:
    """A ramp of 3 mm is 2 mm wide, two thirds of it (docs/measurement-model.md)."""
    vague = refined({**NOTHING, RimName.SEAL: 0.0}, classes=vaguely_ended(12)).rims[RimName.SEAL]
    slant, px_per_mm = CYLINDER.slant(place_mm(vague)), CYLINDER.px_per_mm(FRAME.camera, place_mm(vague))
    wanted_mm = refined_sigma_mm(RefinedLook(RimKind.SEAL, slant, 40, 0.1, 2.0, 0.0))
    assert whole_px(vague) == pytest.approx(np.hypot(wanted_mm * px_per_mm, RIM_SD_PX), rel=0.08)
    sure = refined({**NOTHING, RimName.SEAL: 0.0}).rims[RimName.SEAL]
    assert whole_px(vague) > 1.2 * whole_px(sure)


def test_a_seal_that_both_networks_see_vaguely_may_be_another_edge() -> None:
    """Of 15 seals of real photographs with w over 3.8 mm seven were 3 to 75 mm off, all with w_r over 1.1 mm."""
    vague = vaguely_ended(16)
    sharp, also = (
        refined({**NOTHING, RimName.SEAL: 0.0}, wide_mm, classes=vague).rims[RimName.SEAL].sd_px
        for wide_mm in (0.3, 2.0)
    )
    px_per_mm = FRAME.px_per_radius / FRAME.cylinder.radius_mm
    # A length needs a sigma of 1.5 mm or less; of a sharp one the same ramp leaves that.
    assert also > 3.0 * px_per_mm > 1.5 * px_per_mm > 1.5 * sharp
