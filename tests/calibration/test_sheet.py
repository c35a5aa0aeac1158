"""The printed sheet, rasterised by PDFium and measured as a person with a caliper would."""

from __future__ import annotations

import re

import cv2
import numpy as np
import pypdfium2
import pytest

from calibration import card
from calibration.card_drawing import black_rects_mm, marker_cells
from calibration.sheet import SheetError, draw_sheets, parse_numbers
from calibration.sheet_layout import PAPERS, sheet_layout

PX_PER_MM = 20.0
"""Both papers are then whole pixels in size; a cell of a marker is 25.7 px and 0.05 mm is 1 px."""


@pytest.fixture(scope="module", params=["a4", "letter"])
def sheet(request: pytest.FixtureRequest) -> tuple[str, np.ndarray]:
    """Paper and grey page of the sheet with cards 5 and 46."""
    paper: str = request.param
    document = pypdfium2.PdfDocument(draw_sheets((5, 46), PAPERS[paper]))
    assert len(document) == 1
    # PDFium rounds the page up to whole pixels and stretches it to fit: a hair less keeps it from adding one.
    scale = PX_PER_MM * 25.4 / 72 * (1 - 1e-6)
    page = document[0].render(scale=scale, grayscale=True).to_numpy()
    document.close()
    size = PAPERS[paper]
    assert page.shape[:2] == (round(size.height_mm * PX_PER_MM), round(size.width_mm * PX_PER_MM))
    return paper, page.reshape(page.shape[:2])


def black_run_mm(line: np.ndarray) -> tuple[float, float]:
    """Start and end, mm, of the longest black run of a line of pixels, by where it crosses half."""
    dark = np.concatenate(([0], (line < 128).astype(int), [0]))
    edges = np.flatnonzero(np.diff(dark))
    starts, ends = edges[::2], edges[1::2]
    longest = int(np.argmax(ends - starts))
    return starts[longest] / PX_PER_MM, ends[longest] / PX_PER_MM


@pytest.mark.parametrize(
    ("paper", "width_mm", "height_mm"),
    [
        ("a4", 210.0, 297.0),  # ISO 216
        ("letter", 215.9, 279.4),  # 8.5 x 11 in of exactly 25.4 mm (ANSI/ASME Y14.1, size A)
    ],
)
def test_paper_size(paper: str, width_mm: float, height_mm: float) -> None:
    document = pypdfium2.PdfDocument(draw_sheets((0,), PAPERS[paper]))
    width_pt, height_pt = document[0].get_size()
    document.close()
    assert width_pt * 25.4 / 72 == pytest.approx(width_mm, abs=0.01)
    assert height_pt * 25.4 / 72 == pytest.approx(height_mm, abs=0.01)


def test_bars_are_100_mm(sheet: tuple[str, np.ndarray]) -> None:
    # Nominal length: the figure printed beside the bars.
    paper, page = sheet
    layout = sheet_layout(PAPERS[paper])
    x, y, _, thick = layout.bar_across
    start, end = black_run_mm(page[int((y + thick / 2) * PX_PER_MM)])
    assert end - start == pytest.approx(100.0, abs=0.1)
    assert start == pytest.approx(x, abs=0.1)
    x, y, thick, _ = layout.bar_along
    start, end = black_run_mm(page[:, int((x + thick / 2) * PX_PER_MM)])
    assert end - start == pytest.approx(100.0, abs=0.1)
    assert start == pytest.approx(y, abs=0.1)


def test_bank_card_outline_is_id1(sheet: tuple[str, np.ndarray]) -> None:
    # Source: ISO/IEC 7810, ID-1: 85.60 mm x 53.98 mm. Measured from middle to middle of the line.
    paper, page = sheet
    x, y, width, height = sheet_layout(PAPERS[paper]).id1

    def middle_of_line(line: np.ndarray, near_mm: float) -> float:
        start = int((near_mm - 1) * PX_PER_MM)
        ink = 255.0 - line[start : start + int(2 * PX_PER_MM)]
        return float((np.arange(len(ink)) + 0.5 + start) @ ink / ink.sum()) / PX_PER_MM

    row = page[int((y + 6) * PX_PER_MM)]
    across = middle_of_line(row, x + width) - middle_of_line(row, x)
    column = page[:, int((x + 6) * PX_PER_MM)]
    down = middle_of_line(column, y + height) - middle_of_line(column, y)
    assert across == pytest.approx(85.60, abs=0.03)
    assert down == pytest.approx(53.98, abs=0.03)


def test_opencv_finds_every_corner_where_it_belongs(sheet: tuple[str, np.ndarray]) -> None:
    # Source: cv2.aruco.CharucoDetector on the rasterised page; nominal places from the card's definition:
    # corner k = 2 j + i at (12 (i + 1), 12 (j + 1)) mm from the board's outer corner.
    paper, page = sheet
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    for number, (x, y) in zip((5, 46), sheet_layout(PAPERS[paper]).cards, strict=True):
        board = cv2.aruco.CharucoBoard(
            (3, 14), 12.0, 9.0, dictionary, np.arange(21 * number, 21 * number + 21)
        )
        found, ids, _, marker_ids = cv2.aruco.CharucoDetector(board).detectBoard(page)
        assert sorted(np.ravel(ids)) == list(range(26))
        assert set(range(21 * number, 21 * number + 21)) <= set(np.ravel(marker_ids).tolist())
        # Pixel centres lie at whole numbers in OpenCV; the page's edge is half a pixel before the first.
        places_mm = (np.reshape(found, (-1, 2)) + 0.5) / PX_PER_MM - (x + 5.0, y + 5.0)
        nominal = np.array([(12.0 * (k % 2 + 1), 12.0 * (k // 2 + 1)) for k in np.ravel(ids)])
        assert np.abs(places_mm - nominal).max() < 0.05


def test_card_is_white_from_board_to_cut_at_its_long_sides(sheet: tuple[str, np.ndarray]) -> None:
    paper, page = sheet
    for x, y in sheet_layout(PAPERS[paper]).cards:
        rows = slice(int((y + 1) * PX_PER_MM), int((y + 177) * PX_PER_MM))
        for left in (x + 0.5, x + 41.2):
            strip = page[rows, int(left * PX_PER_MM) : int((left + 4.2) * PX_PER_MM)]
            assert strip.min() > 250


def test_arrow_lies_in_the_seal_end_margin_and_points_away(sheet: tuple[str, np.ndarray]) -> None:
    paper, page = sheet
    for x, y in sheet_layout(PAPERS[paper]).cards:
        window = page[
            int((y + 0.4) * PX_PER_MM) : int((y + 4.0) * PX_PER_MM),
            int((x + 18) * PX_PER_MM) : int((x + 28) * PX_PER_MM),
        ]
        inked = np.flatnonzero((window < 128).any(axis=1))
        tip, barbs = (window[inked[0] + 1] < 128).sum(), (window < 128).sum(axis=1).max()
        assert 0 < tip < barbs / 4
        assert (window < 128).sum(axis=1).argmax() > inked[0]  # it widens away from the cut: tip outwards
        # Symmetric about the card's long axis.
        columns = np.flatnonzero((window < 128).any(axis=0))
        assert (columns[0] + columns[-1] + 1) / 2 / PX_PER_MM == pytest.approx(5.0, abs=0.1)


def test_each_board_is_one_shape() -> None:
    # Separate fills side by side leave grey seams in some viewers and printers (PDFium itself snaps them to
    # pixels, so its picture would not show them). One path a board: few shapes on the page in all.
    document = pypdfium2.PdfDocument(draw_sheets((5, 46), PAPERS["a4"]))
    shapes = list(document[0].get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_PATH]))
    widths_mm = [(right - left) * 25.4 / 72 for left, _, right, _ in (shape.get_bounds() for shape in shapes)]
    document.close()
    assert sum(abs(width - 36.0) < 0.1 for width in widths_mm) == 2
    assert len(shapes) < 60


def test_black_is_black_inside(sheet: tuple[str, np.ndarray]) -> None:
    paper, page = sheet
    x, y = sheet_layout(PAPERS[paper]).cards[0]
    for marker_id, quad in zip(card.marker_ids(5), card.marker_quads_mm(), strict=True):
        # The pattern straight from OpenCV, 20 px a cell, shrunk by 4 px so as to keep off the edges.
        dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
        black = (cv2.aruco.generateImageMarker(dictionary, marker_id, 140) < 128).astype(np.uint8)
        core = cv2.erode(black, np.ones((9, 9), np.uint8), borderValue=0).astype(bool)
        light = cv2.erode(1 - black, np.ones((9, 9), np.uint8), borderValue=0).astype(bool)
        for cells, lowest, highest in ((core, 0, 8), (light, 247, 255)):
            rows, columns = np.nonzero(cells)
            at = page[
                ((y + 5 + quad[0, 1] + (rows + 0.5) * 9 / 140) * PX_PER_MM).astype(int),
                ((x + 5 + quad[0, 0] + (columns + 0.5) * 9 / 140) * PX_PER_MM).astype(int),
            ]
            assert lowest <= at.min()
            assert at.max() <= highest


def test_markers_lie_where_opencv_puts_them(sheet: tuple[str, np.ndarray]) -> None:
    # Source: cv2.aruco.CharucoBoard.getObjPoints; each marker's border measured on the page by its ink.
    paper, page = sheet
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    board = cv2.aruco.CharucoBoard((3, 14), 12.0, 9.0, dictionary)
    x, y = sheet_layout(PAPERS[paper]).cards[1]
    for quad in board.getObjPoints():
        left, top = np.asarray(quad)[0, :2] + (x + 5.0, y + 5.0)
        # From 0.7 mm outside the border to 0.6 mm inside it, along the middle of the first black cell.
        row = page[
            int((top + 0.6) * PX_PER_MM), int((left - 0.7) * PX_PER_MM) : int((left + 0.6) * PX_PER_MM)
        ]
        column = page[
            int((top - 0.7) * PX_PER_MM) : int((top + 0.6) * PX_PER_MM), int((left + 0.6) * PX_PER_MM)
        ]
        for line, start_mm, nominal in ((row, left - 0.7, left), (column, top - 0.7, top)):
            white = np.minimum(line / 255.0, 1.0).sum()
            assert (int(start_mm * PX_PER_MM) + white) / PX_PER_MM == pytest.approx(nominal, abs=0.02)


def test_nothing_is_printed_where_printers_cannot(sheet: tuple[str, np.ndarray]) -> None:
    # 6 mm at the sides and 10 mm at the ends: common practice, no source.
    _, page = sheet
    side, end = int(6 * PX_PER_MM), int(10 * PX_PER_MM)
    inside = np.zeros(page.shape, bool)
    inside[end:-end, side:-side] = True
    assert page[~inside].min() == 255
    assert page.min() == 0


def test_area_of_ink_is_that_of_the_cells() -> None:
    # The rectangles do not overlap: their area is what the cells add up to.
    cell = (9.0 / 7) ** 2
    ink = 21 * 144.0 + sum(int(marker_cells(marker_id).sum()) for marker_id in card.marker_ids(3)) * cell
    assert sum(width * height for _, _, width, height in black_rects_mm(3)) == pytest.approx(ink)


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    words = " ".join(page.get_textpage().get_text_bounded() for page in document)
    document.close()
    return re.sub(r"\s+", " ", words)


def test_sheet_tells_what_a_person_needs() -> None:
    words = text_of(draw_sheets((12, 13, 14), PAPERS["letter"]))
    for needed in ("CARD 12", "CARD 13", "CARD 14", "100 %", "caliper", "stiff", "arrow towards the seal"):
        assert needed in words
    assert "sheet 2 of 2" in words
    assert "CARD 15" not in words


def test_same_request_gives_the_same_file() -> None:
    assert draw_sheets((1,), PAPERS["a4"]) == draw_sheets((1,), PAPERS["a4"])


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("0", (0,)),
        ("0-5,7", (0, 1, 2, 3, 4, 5, 7)),
        (" 3 - 4 , 46", (3, 4, 46)),
        ("0–2", (0, 1, 2)),
        ("2,1-3", (2, 1, 3)),
    ],
)
def test_numbers(text: str, numbers: tuple[int, ...]) -> None:
    assert parse_numbers(text) == numbers


@pytest.mark.parametrize("text", ["", "x", "1,", "-1", "47", "40-47", "5-3", "1.5", "0--3", "٣", "9" * 5000])
def test_bad_numbers_are_refused_with_a_remedy(text: str) -> None:
    with pytest.raises(SheetError) as caught:
        parse_numbers(text)
    assert caught.value.remedy


def test_no_numbers() -> None:
    with pytest.raises(SheetError, match="No card"):
        draw_sheets((), PAPERS["a4"])
