"""The drawn picture: size, places of the lines, legibility, text that stays within."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from calibration.upright import turned
from vision.names import RimName
from vision.overlay.draw import BAND, CARD_COLOR, HALO, ORANGE, RIM_COLORS, WHITE, Caption, draw
from vision.overlay.labels import plain, text_font, wrapped
from vision.overlay.placement import Wanted, free_places
from vision.reading import Length, Note, Reading, Rim, Status
from vision.reasons import Reason


def picture(width: int, height: int, value: int) -> np.ndarray:
    return np.full((height, width, 3), value, np.uint8)


def reading(scale: float = 1.0) -> Reading:
    """Make a shaft from (300, 900) up to (300, 300), card at its left, px times scale."""

    def rim(name: RimName, y: float) -> Rim:
        x = np.linspace(250, 350, 21)
        return Rim(name, 0.0, scale * np.c_[x, y + 0.002 * (x - 300) ** 2], 1.0)

    return Reading(
        Status.READ,
        exposed=Length(150.0, 0.3),
        marker=Length(60.0, 0.2),
        remaining=Length(90.0, 0.2),
        card=1,
        rims=(rim(RimName.SEAL, 900.0), rim(RimName.MARKER_NEAR, 700.0), rim(RimName.FAR_END, 300.0)),
        card_outline_px=scale * np.array([[60.0, 250.0], [200.0, 250.0], [200.0, 950.0], [60.0, 950.0]]),
        shaft_edges_px=tuple(scale * np.array([[x, 900.0], [x, 300.0]]) for x in (250.0, 350.0)),
    )


@pytest.mark.parametrize(
    ("width", "height"), [(4032, 3024), (3024, 4032), (900, 1200), (64, 48), (300, 4000), (4000, 300)]
)
def test_longest_side_and_proportions(width: int, height: int) -> None:
    drawn = draw(picture(width, height, 120), reading(width / 900))
    assert drawn.dtype == np.uint8 and drawn.shape[2] == 3
    assert max(drawn.shape[:2]) <= 2000
    photo_rows = int(np.sum(np.any(drawn[:, :2] != BAND, axis=(1, 2))))
    assert photo_rows / drawn.shape[1] == pytest.approx(height / width, rel=0.02)


def test_a_large_photo_is_averaged_not_picked_from() -> None:
    """Stripes a pixel wide, three times too fine for the drawing: their mean, as Pillow's box filter has it."""
    photo = np.repeat(np.tile(np.array([0, 0, 240], np.uint8), 2000)[None, :, None], 1500, axis=0).repeat(
        3, axis=2
    )
    drawn = draw(photo, Reading(Status.REFUSED))
    boxed = np.asarray(Image.fromarray(photo).resize((2000, 500), Image.Resampling.BOX))
    assert np.abs(drawn[:500, 2:-2].astype(int) - boxed[:, 2:-2]).max() <= 1


def test_photo_is_not_touched_and_nothing_is_drawn_of_nothing() -> None:
    photo = picture(1200, 900, 77)
    drawn = draw(photo, Reading(Status.REFUSED))
    assert np.all(photo == 77)
    assert np.all(drawn[:800] == 77)


@pytest.mark.parametrize("value", [0, 255, 128])
@pytest.mark.parametrize("size", [0.2, 1, 3])
def test_lines_lie_where_they_were_found_on_any_background(value: int, size: float) -> None:
    width = round(900 * size)
    drawn = draw(picture(width, round(1200 * size), value), reading(size))
    scale = drawn.shape[1] / width * size
    # The lowest point of the marker's rim, away from labels; the card's left side; a shaft edge.
    for point, color in (
        ((300.0, 700.0), RIM_COLORS[RimName.MARKER_NEAR]),
        ((300.0, 900.0), RIM_COLORS[RimName.SEAL]),
        ((300.0, 300.0), RIM_COLORS[RimName.FAR_END]),
        ((60.0, 600.0), CARD_COLOR),
        ((250.0, 500.0), WHITE),
    ):
        x, y = (round((c * size + 0.5) * scale / size - 0.5) for c in point)
        around = drawn[y - 12 : y + 13, x - 12 : x + 13].reshape(-1, 3)
        assert np.any(np.all(around == color, axis=1)), point
        assert np.any(np.all(around == HALO, axis=1)), point
        assert tuple(drawn[y, x]) == color, point


def luminance(color: tuple[int, int, int]) -> float:
    """Relative luminance (WCAG 2.1, definition)."""
    c = np.array(color) / 255
    linear = np.where(c <= 0.03928, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


@pytest.mark.parametrize("color", [*RIM_COLORS.values(), CARD_COLOR, WHITE])
@pytest.mark.parametrize("behind", [HALO, BAND])
def test_text_and_lines_stand_out(color: tuple[int, int, int], behind: tuple[int, int, int]) -> None:
    # WCAG 2.1, 1.4.3: text at 4.5 to 1 (lines need 3 to 1, 1.4.11).
    assert (luminance(color) + 0.05) / (luminance(behind) + 0.05) >= 4.5


# Dichromats' view as matrices on linear light: Vienot, Brettel and Mollon (1999), from memory: what is
# checked is that the rims' colours stay apart, not the matrices' last digit.
DICHROMATS = {
    "protan": [[0.11238, 0.88762, 0.0], [0.11238, 0.88762, 0.0], [0.00401, -0.00401, 1.0]],
    "deutan": [[0.29275, 0.70725, 0.0], [0.29275, 0.70725, 0.0], [-0.02234, 0.02234, 1.0]],
}


@pytest.mark.parametrize("kind", DICHROMATS)
def test_rims_are_told_apart_by_the_colour_blind(kind: str) -> None:
    from skimage.color import deltaE_ciede2000, rgb2lab

    colors = [np.array(color) / 255 for color in (*RIM_COLORS.values(), CARD_COLOR)]
    linear = [np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4) for c in colors]
    seen = [np.clip(np.array(DICHROMATS[kind]) @ c, 0, 1) for c in linear]
    srgb = [np.where(c <= 0.0031308, 12.92 * c, 1.055 * c ** (1 / 2.4) - 0.055) for c in seen]
    labs = [rgb2lab(c[None, None])[0, 0] for c in srgb]
    for i, one in enumerate(labs):
        for other in labs[i + 1 :]:
            # A just noticeable difference is near 1; 10 is plain to the eye [common practice, no source].
            assert float(deltaE_ciede2000(one, other)) > 10  # type: ignore[no-untyped-call]


def test_refusal_stands_in_the_band() -> None:
    without = draw(picture(900, 1200, 90), Reading(Status.REFUSED))
    refused = draw(picture(900, 1200, 90), Reading(Status.REFUSED, (Note(Reason.NO_CARD, None, "no card"),)))
    bands = [int(np.sum(np.all(one[:, 0] == BAND, axis=1))) for one in (without, refused)]
    assert bands[1] > bands[0] > 0
    assert np.any(refused[-bands[1] :] == 255)


def test_units_change_the_text_only() -> None:
    mm, inch = (draw(picture(900, 1200, 90), reading(), units) for units in ("mm", "in"))
    assert mm.shape == inch.shape and not np.array_equal(mm, inch)


def test_curves_with_gaps_or_nothing_in_them() -> None:
    rims = (
        Rim(RimName.SEAL, 0.0, np.full((5, 2), np.nan), 0.0),
        Rim(RimName.MARKER_NEAR, 0.0, np.zeros((0, 2)), 0.0),
        Rim(RimName.FAR_END, 0.0, np.array([[10.0, 10.0], [np.nan, 3.0], [60.0, 12.0]]), 0.5),
    )
    drawn = draw(picture(900, 1200, 90), Reading(Status.PARTIAL, rims=rims))
    assert np.any(np.all(drawn == RIM_COLORS[RimName.FAR_END], axis=2))


def test_text_is_brought_to_letters_that_the_font_has() -> None:
    assert plain("“a” – b ≥ 3 ± 1 mm…") == '"a" - b at least  3 ± 1 mm...'
    assert plain("写真") == "??"


def test_wrapping_keeps_words_and_width() -> None:
    font = text_font(20)
    text = "Lay the printed card beside the shaft and have all of it in the photo."
    lines = wrapped(text, font, 200)
    assert " ".join(lines) == text and len(lines) > 2
    assert all(font.getlength(line) <= 200 for line in lines)


SIZE = (800, 1000)
CARD = np.array([[60.0, 150.0], [200.0, 150.0], [200.0, 850.0], [60.0, 850.0]])
SHAFT = np.array([[300.0, 200.0], [380.0, 200.0], [380.0, 800.0], [300.0, 800.0]])


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.floats(0, 800), st.floats(0, 1000), st.floats(0, 6.3)), min_size=1, max_size=3),
    st.tuples(st.floats(20, 260), st.floats(20, 90)),
)
def test_labels_cover_neither_card_nor_shaft_nor_one_another(
    anchors: list[tuple[float, float, float]], size: tuple[float, float]
) -> None:
    wanted = [
        Wanted(np.array([x, y]), size, np.array([np.cos(turn), np.sin(turn)])) for x, y, turn in anchors
    ]
    placed = free_places(wanted, [CARD, SHAFT], SIZE, 8.0)
    boxes = [corner for corner in placed if corner is not None]
    assert len(boxes) == len(wanted)  # right of the shaft there is room for three of the largest
    for corner in boxes:
        assert np.all(corner >= 0) and np.all(corner + size <= np.array(SIZE))
        for area in (CARD, SHAFT):
            assert np.any((corner + size <= area.min(0)) | (area.max(0) <= corner))
    for i, corner in enumerate(boxes):
        for other in boxes[i + 1 :]:
            assert np.any((corner + size <= other) | (other + size <= corner))


def test_a_label_without_a_free_place_is_left_out() -> None:
    (corner,) = free_places(
        [Wanted(np.array([400.0, 500.0]), (300.0, 80.0), np.array([1.0, 0.0]))],
        [np.array([[0.0, 0.0], [800.0, 0.0], [800.0, 1000.0], [0.0, 1000.0]])],
        SIZE,
        8.0,
    )
    assert corner is None


def covered(drawn: np.ndarray, plain_photo: np.ndarray, polygon: np.ndarray) -> float:
    """Share of an area's pixels that drawing has changed."""
    import cv2

    mask = np.zeros(plain_photo.shape[:2], np.uint8)
    cv2.fillPoly(mask, [polygon.round().astype(np.int32)], 1)
    changed = np.any(drawn[: len(plain_photo)] != plain_photo, axis=2)
    return float(changed[mask == 1].mean())


@pytest.mark.parametrize("mirrored", [False, True])
def test_card_and_shaft_stay_to_be_seen(mirrored: bool) -> None:
    """A box would cover a tenth of either; outlines and rims alone cover a few hundredths."""
    photo, one = picture(900, 1200, 90), reading()
    card, shaft = (
        np.array(one.card_outline_px),
        np.vstack([one.shaft_edges_px[0], one.shaft_edges_px[1][::-1]]),
    )
    if mirrored:
        flip = np.array([[-1.0, 0.0], [0.0, 1.0]])
        one = dataclasses.replace(
            one,
            rims=tuple(dataclasses.replace(r, curve_px=r.curve_px @ flip + [899.0, 0.0]) for r in one.rims),
            card_outline_px=card @ flip + [899.0, 0.0],
            shaft_edges_px=tuple(edge @ flip + [899.0, 0.0] for edge in one.shaft_edges_px),
        )
        card, shaft = card @ flip + [899.0, 0.0], shaft @ flip + [899.0, 0.0]
    drawn = draw(photo, one)
    within = [(area - area.mean(0)) * 0.93 + area.mean(0) for area in (card, shaft)]
    # Twice as fine as the photo: the shaft's middle third is crossed by the rims alone.
    scale = drawn.shape[1] / 900
    enlarged = np.full((round(1200 * scale), drawn.shape[1], 3), 90, np.uint8)
    shares = [covered(drawn, enlarged, area * scale) for area in within]
    assert shares[0] < 0.01 and shares[1] < 0.12, shares
    # And labels there are: beside both.
    assert np.any(np.all(drawn[: len(enlarged)] == HALO, axis=2))


def test_a_refusal_points_at_the_place() -> None:
    at = {Reason.SEAL_HIDDEN: 900.0, Reason.FAR_END_HIDDEN: 300.0, Reason.NO_MARKER: 600.0}
    for reason, y in at.items():
        one = dataclasses.replace(
            reading(),
            status=Status.REFUSED,
            rims=(),
            notes=(Note(reason),),
            exposed=None,
            marker=None,
            remaining=None,
        )
        drawn = draw(picture(900, 1200, 90), one)
        orange = np.argwhere(np.all(drawn[:1200] == ORANGE, axis=2))
        # A ring of 80 px round the place: 0.8 of the shaft's 100 px.
        on_ring = {
            place: int(np.sum(np.abs(np.hypot(*(orange - [place, 300.0]).T) - 80.0) < 8.0))
            for place in at.values()
        }
        assert on_ring.pop(y) > 500 and max(on_ring.values()) < 100, reason
    none = draw(picture(900, 1200, 90), Reading(Status.REFUSED, (Note(Reason.NO_CARD),)))
    assert not np.any(np.all(none[:1200] == ORANGE, axis=2))


def test_the_answer_stands_large_below_the_photo() -> None:
    """Letters of 26 points where the photo is 390 points wide: a fifteenth of its width."""
    without, with_answer = (
        draw(picture(900, 1200, 90), reading(), caption=Caption((), answer))
        for answer in ((), ("Used 88 mm", "of 110 mm to the stop: 80 %"))
    )
    more = sum(
        int(np.all(one[:, 0] == BAND, axis=1).sum()) * sign for one, sign in ((with_answer, 1), (without, -1))
    )
    assert more == pytest.approx(2 * 1.35 * with_answer.shape[1] / 15, rel=0.1)


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_a_photo_stored_lying_is_drawn_upright(turns: int) -> None:
    """As the same photo stored upright, to a code value or two: made smaller lying, rows and columns change places."""
    y, x = np.mgrid[:1600, :1200]
    upright = np.stack([x % 256, y % 256, (x + 2 * y) // 20 % 256], axis=-1).astype(np.uint8)
    upright = np.asarray(Image.fromarray(upright).resize((900, 1200)).resize((1200, 1600)))
    wanted = draw(upright, reading()).astype(int)
    drawn = draw(turned(upright, -turns), reading(), quarter_turns=turns)
    assert drawn.shape == wanted.shape
    assert np.percentile(np.abs(drawn - wanted), 99.9) <= 2
