"""Borders and rims in made-up class maps of the reader view; the expected rows follow from how they were made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.made_frame import CYLINDER, FRAME, bands, part_map
from vision.adjustment.observations import RIM_SD_PX
from vision.geometry.views import READER_ROWS, READER_STEP_MM
from vision.names import RimName
from vision.networks.classes import Part, likeliest_class
from vision.reading import Layout
from vision.rims.candidates import (
    TRANSITION_ROWS,
    USED_U,
    RimCandidate,
    find_borders,
    without_false_marker_on_lip,
)
from vision.rims.points import far_points, marker_points, seal_points
from vision.rims.sigma import (
    FAR_END_SIGMA,
    FEW_COLUMNS_SIGMA_MM,
    SEAL_SIGMA,
    SHAPE_SIGMA,
    VAGUE_TRANSITION_MM,
)

USED = np.flatnonzero(np.abs(FRAME.u()) < USED_U)
S, B, M, F, COIL = Part.SEAL, Part.SHAFT, Part.MARKER, Part.FAR_END, Part.IN_FRONT


def rows_of(p: np.ndarray, before: Part, after: Part) -> list[float]:
    return [b.row for b in find_borders(part_map(p)).all if (b.before, b.after) == (before, after)]


def test_a_border_lies_between_its_rows() -> None:
    rows = rows_of(bands((S, 300), (B, 700), (F, READER_ROWS)), S, B)
    assert len(rows) == len(USED)
    assert np.allclose(rows, 299.5, atol=0.01)


def test_a_border_moves_with_the_probabilities() -> None:
    """Log odds from -2 to +1 between two rows: two thirds of the way (linear interpolation, by hand)."""
    p = bands((S, 300), (B, READER_ROWS))
    for row, odds in ((299, -2.0), (300, 1.0)):
        p[B, row], p[S, row] = 1 / (1 + np.exp(-odds)), 1 / (1 + np.exp(odds))
    assert np.allclose(rows_of(p, S, B), 299 + 2 / 3, atol=0.01)


def test_a_rim_in_too_few_columns_is_none() -> None:
    p = bands((COIL, READER_ROWS))
    few = USED[:2]  # 2 of 24: under an eighth
    p[:, :, few] = bands((S, 300), (B, READER_ROWS))[:, :, few]
    assert find_borders(part_map(p)).rims((S,), (B,)) == []
    some = USED[:8]
    p[:, :, some] = bands((S, 300), (B, READER_ROWS))[:, :, some]
    (rim,) = find_borders(part_map(p)).rims((S,), (B,))
    assert rim.share == pytest.approx(8 / len(USED))


def test_a_coil_beside_a_border_does_not_widen_its_transition() -> None:
    clean = find_borders(part_map(bands((COIL, 290), (B, 300), (F, READER_ROWS)))).rims((B,), (F,))
    assert clean[0].transition_width_mm <= READER_STEP_MM
    p = bands((B, 300), (F, READER_ROWS))
    p[B, 280:320] = p[F, 280:320] = 0.49  # ten millimetres in which either may be
    p[B, 280:300] += 0.01
    p[F, 300:320] += 0.01
    vague = find_borders(part_map(p)).rims((B,), (F,))
    # All rows that count are halfway between.
    assert vague[0].transition_width_mm == pytest.approx((2 * TRANSITION_ROWS + 1) * READER_STEP_MM, rel=0.01)


@pytest.mark.parametrize("length_mm", [1.0, 3.0, 5.0])
def test_transition_width_of_a_linear_ramp(length_mm: float) -> None:
    """The integral of 4 x (1 - x) from 0 to 1 is 2/3."""
    p = bands((B, 300), (F, READER_ROWS))
    middle = np.arange(READER_ROWS) - 299.5
    share = np.clip(middle * READER_STEP_MM / length_mm + 0.5, 0.001, 0.999)[:, None]
    p[B], p[F] = 1 - share, share
    (rim,) = find_borders(part_map(p)).rims((B,), (F,))
    assert rim.transition_width_mm == pytest.approx(2 / 3 * length_mm, abs=0.1)


def test_the_likeliest_class_is_numpys() -> None:
    p = np.random.default_rng(5).random((7, 40, 30), dtype=np.float32)
    p[2] = p[5]  # the first of equals, as numpy has it
    assert (likeliest_class(p) == p.argmax(axis=0)).all()


def test_a_sliver_of_an_end_is_clear_and_one_of_a_band_is_not() -> None:
    """Four rows of 0.25 mm before a coil: a bumper may show no more, a band is 2 mm wide at the least."""
    (bumper,) = find_borders(part_map(bands((B, 300), (F, 304), (COIL, READER_ROWS)))).rims((B,), (F,))
    (band,) = find_borders(part_map(bands((B, 300), (M, 304), (COIL, READER_ROWS)))).rims((B,), (M,))
    assert bumper.clarity > 0.95
    assert band.clarity < 0.6


def rim(s_mm: np.ndarray, over_mm: float = 0.0) -> RimCandidate:
    """Make a rim as the used columns show it, at these places along the shaft."""
    u = FRAME.u()[USED]
    on = CYLINDER.surface(s_mm, -np.arcsin(u), CYLINDER.radius_mm + over_mm)
    # Back onto the view's plane, which holds the axis: where the lines of sight cross it.
    rows = (on[:, 1] * CYLINDER.point_cam[2] / on[:, 2] - FRAME.s0_mm) / READER_STEP_MM
    across = np.abs(on[:, 0] * CYLINDER.point_cam[2] / on[:, 2]) / CYLINDER.radius_mm * np.sign(u)
    return RimCandidate(rows, across, float(np.median(s_mm)), 1.0, 1.0, 0.0)


def test_a_band_on_the_seal_is_its_lip_where_the_marker_is_elsewhere() -> None:
    p = bands((S, 290), (M, 302), (B, 500), (M, 514), (B, 800), (F, READER_ROWS))
    back = without_false_marker_on_lip(part_map(p), 500.0)
    assert np.allclose(rows_of(back.probabilities, S, B), 301.5, atol=0.6)
    assert len(rows_of(back.probabilities, B, M)) == len(USED)  # the marker itself stays
    near = without_false_marker_on_lip(part_map(p), 310.0)  # a marker this close may be the very band
    assert len(rows_of(near.probabilities, S, M)) == len(USED)


def test_sigma_of_a_rim() -> None:
    """The root of the sum of squares of what `RimSigmaModel` names, and the edge's own quarter of a pixel; by hand."""
    classes = bands((S, 300), (B, READER_ROWS))
    px_per_mm = 3000 / 380  # of the near side, 20 mm before the axis; along the shaft, seen square-on
    for s_mm in (-90.0, 0.0):
        seal = rim(np.full(len(USED), s_mm))
        slant = abs(s_mm) / 400
        found = seal_points(seal, part_map(classes))
        assert found is not None
        sd_mm = np.hypot(SEAL_SIGMA.floor_mm, SEAL_SIGMA.slant_mm * slant**SEAL_SIGMA.slant_power)
        assert found.sd_px == pytest.approx(np.hypot(RIM_SD_PX, sd_mm * px_per_mm), rel=0.01)
    vague = replace(rim(np.zeros(len(USED))), transition_width_mm=2.0)
    few = replace(rim(np.zeros(len(USED))), rows=np.full(5, 512.0), u=np.linspace(-0.1, 0.1, 5))
    marker = marker_points(RimName.MARKER_NEAR, few, FRAME)
    far = far_points(vague, part_map(classes), Layout.SHOCK)
    assert marker is not None and far is not None
    assert marker.sd_px == pytest.approx(np.hypot(RIM_SD_PX, FEW_COLUMNS_SIGMA_MM * px_per_mm), rel=0.01)
    assert far.sd_px == pytest.approx(
        np.linalg.norm(
            [
                RIM_SD_PX,
                FAR_END_SIGMA.floor_mm * px_per_mm,
                FAR_END_SIGMA.transition_factor * 2.0 * px_per_mm,
                FAR_END_SIGMA.transition_factor * 2.0**3 / VAGUE_TRANSITION_MM**2 * px_per_mm,
            ]
        ),
        rel=0.01,
    )


def test_the_shape_of_a_rim_seen_at_a_slant_weighs_less() -> None:
    """The root of the sum of squares of the three shares, by hand; the sigma of the rim as a whole is smaller."""
    for s_mm, transition_width_mm in ((0.0, 0.0), (-90.0, 0.0), (0.0, 1.5)):
        seen = replace(rim(np.full(len(USED), s_mm)), transition_width_mm=transition_width_mm)
        found = marker_points(RimName.MARKER_NEAR, seen, FRAME)
        assert found is not None
        sd_mm = np.linalg.norm(
            [
                SHAPE_SIGMA.floor_mm,
                SHAPE_SIGMA.slant_mm * abs(s_mm) / 400,
                SHAPE_SIGMA.transition_factor * transition_width_mm,
            ]
        )
        assert found.shape_sd_px == pytest.approx(sd_mm * 3000 / 380, rel=0.01)
        assert found.point_sd_px == found.shape_sd_px > found.sd_px


def test_clarity_is_taken_beyond_a_wide_transition() -> None:
    """A transition of 6 mm between a clear shaft and a clear clamp: where it ends is open, not what ends it."""
    p = bands((Part.SHAFT, 500), (Part.FAR_END, READER_ROWS))
    rows = np.arange(488, 512)
    share = np.linspace(0.98, 0.02, len(rows))[:, None]
    p[Part.SHAFT, rows], p[Part.FAR_END, rows] = 0.99 * share, 0.99 * (1 - share)
    (rim,) = find_borders(part_map(p)).rims((Part.SHAFT,), (Part.FAR_END,))
    assert rim.transition_width_mm == pytest.approx(4.0, rel=0.1)
    assert rim.clarity > 0.9
    unsure = bands((Part.SHAFT, 500), (Part.FAR_END, READER_ROWS))
    unsure[Part.FAR_END, 500:], unsure[Part.ELSE, 500:] = 0.55, 0.44
    (rim,) = find_borders(part_map(unsure)).rims((Part.SHAFT,), (Part.FAR_END,))
    assert rim.clarity == pytest.approx(0.55, abs=0.01)


def test_the_mean_of_answers_counts_a_share_of_its_transition() -> None:
    p = bands((Part.SHAFT, 500), (Part.FAR_END, READER_ROWS))
    rows = np.arange(494, 506)
    share = np.linspace(0.98, 0.02, len(rows))[:, None]
    p[Part.SHAFT, rows], p[Part.FAR_END, rows] = 0.99 * share, 0.99 * (1 - share)
    widths = [
        find_borders(replace(part_map(p), width_factor=factor)).rims((B,), (F,))[0].transition_width_mm
        for factor in (1.0, 0.85)
    ]
    assert widths[1] == pytest.approx(0.85 * widths[0]) and widths[0] > 1.5


@pytest.mark.parametrize("slant", [0.0, 0.2, -0.3])
def test_rims_that_remain_arcs_with_one_bow_are_rims(slant: float) -> None:
    """A circle round a shaft of 20 mm radius, at a slant unknown to the pose, bows by 20 slant sqrt(1 - u^2)."""
    arc = np.rint(slant * 20 / READER_STEP_MM * np.sqrt(1 - np.clip(FRAME.u(), -1, 1) ** 2)).astype(int)
    p = np.full((7, READER_ROWS, len(arc)), 0.001, np.float32)
    row = np.arange(READER_ROWS)[:, None]
    p[S][row[:, 0] < 900] = 0.0
    for part, first, end in ((S, 0, 300), (B, 300, 700), (F, 700, READER_ROWS)):
        p[part][(row >= first + (arc if first else 0)) & (row < end + (arc if end < READER_ROWS else 0))] = (
            0.994
        )
    found = find_borders(part_map(p))
    for before, after in ((S, B), (B, F)):
        (rim,) = found.rims((before,), (after,))
        assert rim.share == pytest.approx(1.0)
    # Bows move no rim as a whole: the mean arc of the columns used is 0.84 radii high.
    (seal,), (far,) = found.rims((S,), (B,)), found.rims((B,), (F,))
    assert far.s_mm - seal.s_mm == pytest.approx(400 * READER_STEP_MM, rel=0.05)
    # Where on its arc a rim is, the picture leaves open: the standard deviation of the heights of its points, less what
    # counts as one place anyway (1.2 mm to either side: 0.45 mm).
    heights_mm = 20 * slant * np.sqrt(1 - FRAME.u()[USED] ** 2)
    assert max(heights_mm.std() - 0.45, 0.0) <= seal.arc_sd_mm <= 1.05 * heights_mm.std()
    plain = seal_points(replace(seal, arc_sd_mm=0.0), found.parts)
    bowed = seal_points(seal, found.parts)
    assert plain is not None and bowed is not None and (bowed.sd_px > plain.sd_px) is (slant != 0)


def test_one_arc_alone_is_not_straightened_by_the_others() -> None:
    """A fender's round edge beyond a straight seal and a straight band: the slant is that of all rims together."""
    arc = np.rint(100 * np.sqrt(1 - np.clip(FRAME.u(), -1, 1) ** 2)).astype(int)
    p = bands((S, 300), (B, 450), (M, 464), (B, READER_ROWS))
    fender = np.arange(READER_ROWS)[:, None] >= 700 + arc
    p[B][fender], p[F][fender] = 0.001, 0.994
    found = find_borders(part_map(p))
    assert found.rims((S,), (B,))[0].share == found.rims((B,), (M,))[0].share == pytest.approx(1.0)
    assert found.rims((B,), (F,))[0].share < 0.9
