"""The second part segmentation on far ends: made-up answers of it, and what they do to a rim."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from tests.helpers.made_frame import CYLINDER, FRAME, bands, part_map
from vision.adjustment.observations import RimPoints
from vision.geometry.views import READER_COLUMNS, READER_ROWS, READER_STEP_MM
from vision.names import RimName
from vision.networks import run
from vision.networks.classes import Part
from vision.reading import Layout
from vision.reasons import Reason
from vision.rims import points as rim_points
from vision.rims import second_opinion
from vision.rims.candidates import find_borders
from vision.rims.choose import Choice, choose, refined
from vision.rims.choose_by_both import choose_by_both
from vision.rims.evidence import Evidence
from vision.rims.points import SEGMENTATION_WEIGHT
from vision.rims.refine import RefinedRim, RimKind, RimRefiner, RimTarget
from vision.rims.second_opinion import WIDTH_FACTOR, SecondOpinion
from vision.rims.sigma import DISAGREEMENT_SHARE, RefinedLook, refined_sigma_mm

SEAL, NEAR, END, FAR = 300, 480, 494, 800
CLASSES = bands(
    (Part.SEAL, SEAL), (Part.SHAFT, NEAR), (Part.MARKER, END), (Part.SHAFT, FAR), (Part.FAR_END, 900)
)
VIEW = np.full((READER_ROWS, READER_COLUMNS, 3), 120, np.uint8)


def answering(
    monkeypatch: pytest.MonkeyPatch, classes: np.ndarray, first: np.ndarray | None = None
) -> SecondOpinion:
    """Make a second opinion whose network answers so, and the first one of a mirror image as `first` or as it does too.

    The code values of the view say which rows they are shown.
    """
    rows = np.repeat(np.arange(READER_ROWS, dtype=np.float64)[:, None], READER_COLUMNS, axis=1)
    view = np.stack([rows // 256, rows % 256, np.ones_like(rows)], -1).astype(np.uint8)

    def answer(shown: np.ndarray, diameter_mm: float, network: str) -> np.ndarray:
        at = 256 * shown[:, 0, 0].astype(int) + shown[:, 0, 1]
        return classes[:, at]

    def answer_of_first(shown: np.ndarray, diameter_mm: float, s_mm: np.ndarray, network: str) -> np.ndarray:
        return (classes if first is None else first)[:, 256 * shown[:, 0, 0].astype(int) + shown[:, 0, 1]]

    monkeypatch.setattr(second_opinion, "other_part_probabilities", answer)
    monkeypatch.setattr(second_opinion, "part_probabilities", answer_of_first)
    return SecondOpinion(view, FRAME, 40.0)


@pytest.mark.parametrize("off_rows", [-14, 0, 9])
@pytest.mark.parametrize("what", [Part.FAR_END, Part.SEAL])
def test_it_finds_where_the_shaft_ends(monkeypatch: pytest.MonkeyPatch, off_rows: int, what: Part) -> None:
    """Whatever it takes for the end: a second network trained on few looks takes many glands for clamps."""
    second = answering(monkeypatch, bands((Part.SHAFT, FAR + off_rows), (what, 1000)))
    rim = find_borders(part_map(CLASSES)).rims((Part.SHAFT,), (Part.FAR_END,))[0]
    found = second.far_end(rim)
    assert found is not None
    # A row is 0.25 mm in the axis' plane, and 5 % less on the near side of 20 mm at 400 mm.
    assert found.s_mm - rim.s_mm == pytest.approx(off_rows * READER_STEP_MM, rel=0.06, abs=0.02)
    assert found.transition_width_mm == pytest.approx(0.0, abs=0.1)


def test_it_says_nothing_where_it_sees_no_end(monkeypatch: pytest.MonkeyPatch) -> None:
    rim = find_borders(part_map(CLASSES)).rims((Part.SHAFT,), (Part.FAR_END,))[0]
    for classes in (bands((Part.SHAFT, READER_ROWS)), bands((Part.SHAFT, FAR), (Part.IN_FRONT, READER_ROWS))):
        assert answering(monkeypatch, classes).far_end(rim) is None


def chosen(second: SecondOpinion | None, classes: np.ndarray = CLASSES) -> RimPoints:
    def refine(rims: list[RimTarget]) -> list[RefinedRim | None]:
        return [RefinedRim(one.rim.s_mm, 0.1) for one in rims]

    refiner = cast(RimRefiner, SimpleNamespace(refine=refine))
    parts = part_map(classes)
    found = refined(choose(parts, Layout.SHOCK, None, second), refiner, second, parts.frame, None)
    return found.rims[RimName.FAR_END]


def test_where_it_disagrees_the_far_end_is_less_certain(monkeypatch: pytest.MonkeyPatch) -> None:
    """By the share of the distance that disagreement with the first segmentation adds, root of the sum of squares."""
    alone = chosen(None)
    agreeing = chosen(answering(monkeypatch, bands((Part.SHAFT, FAR), (Part.FAR_END, 1000))))
    apart = chosen(answering(monkeypatch, bands((Part.SHAFT, FAR - 12), (Part.FAR_END, 1000))))
    px_per_mm = FRAME.px_per_radius / CYLINDER.radius_mm
    more_px = DISAGREEMENT_SHARE[RimKind.FAR_END] * 12 * READER_STEP_MM * px_per_mm
    assert agreeing.sd_px == pytest.approx(alone.sd_px, rel=0.02)
    assert apart.sd_px == pytest.approx(np.hypot(alone.sd_px, more_px), rel=0.06)
    each = SEGMENTATION_WEIGHT[RimKind.FAR_END]
    moved = [float(np.median(CYLINDER.unroll(FRAME.camera.rays(one.points_px))[0])) for one in (alone, apart)]
    # Of three positions, weights 1 - w, w and w, one lies 3 mm away.
    assert moved[1] - moved[0] == pytest.approx(-3.0 * each / (1 + each), rel=0.06)


def test_what_either_network_excludes_stays_excluded(monkeypatch: pytest.MonkeyPatch) -> None:
    fender = bands((Part.SHAFT, FAR), (Part.IN_FRONT, READER_ROWS))
    second = answering(monkeypatch, fender, CLASSES)
    both = second.combined_with(part_map(CLASSES)).probabilities
    np.testing.assert_allclose(both.sum(axis=0), 1.0, atol=1e-5)
    # Roots of 0.994 x 0.002 (its own share and the seal's, which the arrow gives it) and of 0.001 x 0.994, and four
    # classes of 0.001: no class that one network excludes stands above this.
    assert both[Part.FAR_END, FAR + 20 : 890].max() == pytest.approx(0.557, abs=0.005)
    np.testing.assert_allclose(both[:, SEAL + 20 : NEAR - 20].argmax(axis=0), Part.SHAFT)


def test_a_gland_that_one_network_takes_for_a_clamp_is_found_by_both(monkeypatch: pytest.MonkeyPatch) -> None:
    """A shock's: the arrow decides what it is, and both say where it ends."""
    clamps = CLASSES.copy()
    clamps[[Part.SEAL, Part.FAR_END], :SEAL] = clamps[[Part.FAR_END, Part.SEAL], :SEAL]
    dim = CLASSES.copy()
    dim[Part.SEAL, :SEAL], dim[Part.ELSE, :SEAL] = 0.5, 0.494
    second = answering(monkeypatch, clamps, dim)
    assert RimName.SEAL not in choose(part_map(dim), Layout.SHOCK, None, second).rims
    found = choose_by_both(part_map(dim), Layout.SHOCK, None, None, second)
    assert not found.open and RimName.SEAL in found.rims


def test_looks_that_contradict_the_arrow_are_no_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fork's, vague to the first network: the second, which knows no side, sees the clamp at the arrow's end."""
    vague = CLASSES.copy()
    rows = np.arange(SEAL - 12, SEAL + 12)
    share = np.linspace(0.02, 0.98, len(rows))[:, None]
    vague[Part.SHAFT, rows], vague[Part.SEAL, rows] = 0.99 * share, 0.99 * (1 - share)
    other = bands((Part.FAR_END, SEAL), (Part.SHAFT, FAR), (Part.ELSE, READER_ROWS))
    found = choose_by_both(part_map(vague), Layout.FORK, None, None, answering(monkeypatch, other, vague))
    assert found.refusal is not None and found.refusal.reason is Reason.CARD_BACKWARDS
    same = choose_by_both(part_map(vague), Layout.FORK, None, None, answering(monkeypatch, CLASSES, vague))
    assert not same.open


def test_where_one_is_vague_and_the_other_is_not_the_mean_of_their_widths_counts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A ramp of 6 mm is 4 mm wide; half of it, the other's width being that of a row, is 2.1 mm."""
    vague = CLASSES.copy()
    rows = np.arange(FAR - 12, FAR + 12)
    share = np.linspace(0.98, 0.02, len(rows))[:, None]
    vague[Part.SHAFT, rows], vague[Part.FAR_END, rows] = 0.99 * share, 0.99 * (1 - share)
    looks: list[RefinedLook] = []

    def noted(look: RefinedLook) -> float:
        looks.append(look)
        return refined_sigma_mm(look)

    monkeypatch.setattr(rim_points, "refined_sigma_mm", noted)
    (
        chosen(None, vague),
        chosen(answering(monkeypatch, CLASSES), vague),
        chosen(answering(monkeypatch, vague), vague),
    )
    alone, sharp, as_vague = (look for look in looks if look.kind is RimKind.FAR_END)
    assert alone.segmented_mm == pytest.approx(4.0, abs=0.2)
    assert sharp.segmented_mm == pytest.approx(2.1, abs=0.2)
    assert as_vague.segmented_mm == pytest.approx(4.0, abs=0.2)
    assert refined_sigma_mm(sharp) < 0.5 * refined_sigma_mm(alone)


def test_only_what_is_believed_in_the_end_is_refined(monkeypatch: pytest.MonkeyPatch) -> None:
    """A vague far end: both networks together are asked, and one set of patches is looked at, not two."""
    vague = CLASSES.copy()
    rows = np.arange(FAR - 12, FAR + 12)
    share = np.linspace(0.98, 0.02, len(rows))[:, None]
    vague[Part.SHAFT, rows], vague[Part.FAR_END, rows] = 0.99 * share, 0.99 * (1 - share)
    asked: list[int] = []

    def refine(rims: list[RimTarget]) -> list[RefinedRim | None]:
        asked.append(len(rims))
        return [None] * len(rims)

    refiner = cast(RimRefiner, SimpleNamespace(refine=refine))
    choose_by_both(part_map(vague), Layout.FORK, None, refiner, answering(monkeypatch, CLASSES, vague))
    assert asked == [4]


def test_answers_to_the_mirror_image_count_as_much(monkeypatch: pytest.MonkeyPatch) -> None:
    """A first network that sees the far end 12 rows later in the mirror image: in the mean the transition is wide."""
    later = bands((Part.SEAL, SEAL), (Part.SHAFT, FAR + 12), (Part.FAR_END, READER_ROWS))
    both = answering(monkeypatch, later, later).combined_with(part_map(CLASSES))
    assert both.probabilities[Part.SHAFT, FAR + 6] == pytest.approx(0.96, abs=0.04)
    assert both.width_factor == WIDTH_FACTOR
    second = answering(monkeypatch, bands((Part.SHAFT, FAR), (Part.FAR_END, READER_ROWS)), later)
    middle = second.combined_with(part_map(CLASSES)).probabilities[:, FAR + 6, 32]
    # Root of half and nothing against root of half and all.
    assert middle[Part.FAR_END] > 0.9 > 0.1 > middle[Part.SHAFT] > 0.01


def test_a_view_is_mirrored_before_it_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    """A network that calls one side of the view a fender calls the other one so in the mean."""

    def one_sided(shown: np.ndarray, *_: object) -> np.ndarray:
        out = np.full((7, *shown.shape[:2]), 0.001, np.float32)
        left = shown[..., 2] > 100
        out[Part.IN_FRONT][left], out[Part.SHAFT][~left] = 0.994, 0.994
        return out

    view = VIEW.copy()
    view[:, 32:, 2] = 10
    monkeypatch.setattr(second_opinion, "other_part_probabilities", one_sided)
    seen = SecondOpinion(view, FRAME, 40.0).alone
    # What follows the picture, not the column, agrees with itself.
    assert seen[Part.IN_FRONT, :, :32].min() > 0.99 > 0.01 > seen[Part.IN_FRONT, :, 32:].max()


def test_a_seal_at_either_end_is_a_card_laid_backwards(monkeypatch: pytest.MonkeyPatch) -> None:
    """The side says seal at the one, the look at the other: only what is the same either way is answered.

    And only beside a marker: a bar between two fittings looks so, too.
    """
    bar = bands((Part.SEAL, SEAL), (Part.SHAFT, FAR), (Part.SEAL, 900))
    refused = choose_by_both(part_map(bar), Layout.FORK, None, None, answering(monkeypatch, bar)).refusal
    assert refused is not None and refused.reason is Reason.CARD_BACKWARDS
    two_seals = bands(
        (Part.SEAL, SEAL), (Part.SHAFT, 500), (Part.MARKER, 514), (Part.SHAFT, FAR), (Part.SEAL, 900)
    )
    found: Choice = choose(part_map(two_seals), Layout.FORK, None)
    assert found.open and found.against_arrow is not None
    second = answering(monkeypatch, two_seals)
    found = choose_by_both(part_map(two_seals), Layout.FORK, None, None, second)
    assert found.refusal is None and set(found.rims) == {RimName.SEAL, RimName.FAR_END}
    assert [note.reason for note in found.notes] == 2 * [Reason.CARD_BACKWARDS]
    # Of a card read the other way round all this has been weighed before.
    weighed = Evidence(laid_right=0.98)
    known = choose_by_both(part_map(two_seals), Layout.FORK, None, None, second, weighed)
    assert RimName.MARKER_NEAR in known.rims and known.laid_right == weighed.laid_right
    assert Reason.CARD_BACKWARDS not in [note.reason for note in known.notes]
    assert choose(part_map(CLASSES), Layout.FORK, None).against_arrow is None


def test_a_few_rows_that_look_like_a_seal_are_weighed_with_both_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    """Shown 64 mm about the far end a network says seal, shown the whole view clamp: the arrow is right."""
    second = answering(monkeypatch, CLASSES)

    def short_sighted(shown: np.ndarray, diameter_mm: float, network: str) -> np.ndarray:
        seen = CLASSES[:, 256 * shown[:, 0, 0].astype(int) + shown[:, 0, 1]]
        if len(shown) < READER_ROWS:
            seen[[Part.SEAL, Part.FAR_END]] = seen[[Part.FAR_END, Part.SEAL]]
        return seen

    monkeypatch.setattr(second_opinion, "other_part_probabilities", short_sighted)
    alone = choose(part_map(CLASSES), Layout.FORK, None, second)
    assert alone.against_arrow is not None and alone.open
    both = choose_by_both(part_map(CLASSES), Layout.FORK, None, None, second)
    assert both.refusal is None and not both.notes
    assert both.laid_right is not None and both.laid_right > 0.99


@pytest.mark.parametrize("marker_seen", [True, False])
def test_a_lip_that_one_network_calls_a_band_is_the_seals_to_both(
    monkeypatch: pytest.MonkeyPatch, marker_seen: bool
) -> None:
    """A wiper's bright ring: of what the one calls seal and the other marker nothing would remain."""
    ring = CLASSES.copy()
    ring[[Part.SEAL, Part.MARKER], SEAL - 12 : SEAL] = ring[[Part.MARKER, Part.SEAL], SEAL - 12 : SEAL]
    dim = CLASSES.copy()
    dim[Part.FAR_END, FAR:900], dim[Part.ELSE, FAR:900] = 0.6, 0.394  # left open by the first
    if not marker_seen:
        ring[Part.SHAFT, NEAR:END], ring[Part.MARKER, NEAR:END] = 0.994, 0.001
    found = choose_by_both(part_map(dim), Layout.FORK, None, None, answering(monkeypatch, ring, dim))
    assert (RimName.SEAL in found.rims) is marker_seen


@pytest.mark.parametrize("rows_per_radius, hidden", [(2.0, False), (8.0, True)])
def test_an_edge_aslant_is_no_far_end(rows_per_radius: float, hidden: bool) -> None:
    """Unrolled on a radius of 20 mm, 0.5 mm per radius (0.025 rad) and more than 1.2 (0.06 rad): a fender's edge."""
    classes = CLASSES.copy()
    for column, u in enumerate(FRAME.u()):
        end = FAR + round(rows_per_radius * float(np.clip(u, -1, 1)))
        classes[:, END + 20 : 900, column] = 0.001
        classes[Part.SHAFT, END + 20 : end, column] = classes[Part.FAR_END, end:900, column] = 0.994
    found = choose(part_map(classes), Layout.FORK, None)
    assert (RimName.FAR_END not in found.rims) is hidden
    assert any("not square" in note.detail for note in found.notes) is hidden


def test_the_side_is_told_to_the_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its last channel: position along the card, in units of 100 mm, no more than two."""
    seen: list[np.ndarray] = []

    def keep(name: str, channels: np.ndarray) -> np.ndarray:
        seen.append(channels)
        return np.zeros((1, 7, *channels.shape[2:]), np.float32)

    monkeypatch.setattr(run, "_run", keep)
    s_mm = np.linspace(-300.0, 300.0, 64)
    run.part_probabilities(VIEW[:64], 40.0, s_mm)
    assert seen[0].shape == (1, 6, 64, READER_COLUMNS)
    np.testing.assert_allclose(seen[0][0, 5, :, 10], np.clip(s_mm / 100, -2, 2), atol=1e-6)
    run.other_part_probabilities(VIEW[:64], 40.0, run.OTHER_PARTS[0])
    assert seen[1].shape == (1, 5, 64, READER_COLUMNS)


def test_the_third_network_is_asked_where_the_second_speaks_against_the_arrow(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    turned = CLASSES.copy()
    turned[[Part.SEAL, Part.FAR_END]] = turned[[Part.FAR_END, Part.SEAL]]
    answers = {run.OTHER_PARTS[0]: CLASSES, run.OTHER_PARTS[1]: turned}
    asked: list[str] = []

    def answer(shown: np.ndarray, diameter_mm: float, network: str) -> np.ndarray:
        asked.append(network)
        return answers[network]

    monkeypatch.setattr(second_opinion, "other_part_probabilities", answer)
    opinion = SecondOpinion(VIEW, FRAME, 40.0)
    as_laid = opinion.laid_right(CLASSES)
    assert asked == [run.OTHER_PARTS[0]]
    answers[run.OTHER_PARTS[0]] = turned
    backwards = SecondOpinion(VIEW, FRAME, 40.0)
    assert backwards.laid_right(CLASSES) < 0.5 < 0.99 < as_laid
    assert asked[1:] == list(run.OTHER_PARTS)
    # The third in the second's place asks the same, and nothing anew.
    assert backwards.by_network(run.OTHER_PARTS[1]).laid_right(CLASSES) == backwards.laid_right(CLASSES)
    assert len(asked) == 3


@pytest.mark.parametrize("known", [True, False])
def test_the_card_at_the_edge_of_the_view_says_nothing(monkeypatch: pytest.MonkeyPatch, known: bool) -> None:
    """A network that follows the card's squares where it sees any, and else the looks: those of a card backwards."""
    turned = CLASSES.copy()
    turned[[Part.SEAL, Part.FAR_END]] = turned[[Part.FAR_END, Part.SEAL]]
    rows, u = np.array([100.0, 950.0, 950.0, 100.0]), np.array([1.5, 1.5, 2.6, 2.6])
    view = VIEW.copy()
    view[110:940, FRAME.u() > 1.55] = 10

    def answer(shown: np.ndarray, diameter_mm: float, network: str) -> np.ndarray:
        return CLASSES if (shown == 10).any() else turned

    monkeypatch.setattr(second_opinion, "other_part_probabilities", answer)
    outline = FRAME.camera.project(FRAME.points_cam(rows, u)) if known else None
    p = SecondOpinion(view, FRAME, 40.0, outline).laid_right(CLASSES)
    assert p < 0.9 if known else p > 0.99


@pytest.mark.parametrize("gland, read", [(Part.SEAL, True), (Part.FAR_END, False)])
def test_without_a_marker_one_network_must_see_a_seal(
    monkeypatch: pytest.MonkeyPatch, gland: Part, read: bool
) -> None:
    """A pipe between two fittings has the length, the straight edges and the ends of a shaft, but no seal."""
    sided = bands((Part.SEAL, SEAL), (Part.SHAFT, FAR), (Part.FAR_END, 900))
    bar = bands((gland, SEAL), (Part.SHAFT, FAR), (Part.FAR_END, 900))
    found = choose_by_both(part_map(sided), Layout.FORK, None, None, answering(monkeypatch, bar, sided))
    assert (found.refusal is None) is read
    assert ({RimName.SEAL, RimName.FAR_END} <= set(found.rims)) is read
    reasons = [note.reason for note in found.notes] if found.refusal is None else [found.refusal.reason]
    assert Reason.NO_MARKER in reasons
    # With a marker it is a shaft, whatever its gland looks like.
    with_marker = answering(monkeypatch, CLASSES)
    assert choose_by_both(part_map(CLASSES), Layout.FORK, None, None, with_marker).refusal is None
