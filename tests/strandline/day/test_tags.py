"""Clip-on tags: what is printed, found again in a photo, and not taken from where no tag is clipped."""

from __future__ import annotations

import hashlib
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest
from click.testing import CliRunner
from PIL import Image

from calibration import card
from calibration.find_card import CardSighting, find_card
from calibration.photo import load_photo
from calibration.sheet_layout import PAPERS
from calibration.tag_sheet import SETS_ON_A_SHEET, TAB_MM, tag_places_mm
from strandline.cards.scale_card import command
from strandline.day.identify.roster_file import read_roster
from strandline.day.identify.sighting import sighting_of
from strandline.day.reading.jobs import Job
from strandline.day.reading.worker_job import process_photo
from tests.helpers.made_day import MadeDay
from tests.helpers.upright import upright

PLAIN = Path(__file__).parents[2] / "vision" / "photos" / "plain.jpg"


def with_tag(
    pixels: np.ndarray, number: int, at_mm: tuple[float, float], side_mm: float = card.TAG_SQUARE_MM
) -> np.ndarray:
    """Draw into the photo a tag in the card's plane, its white square's corner at a place of the board."""
    seen = find_card(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY))
    to_px, _ = cv2.findHomography(card.corners_mm()[seen.corner_ids], seen.corners_px)
    cells = 40
    border = round(cells * 7 * (card.TAG_SQUARE_MM - card.MARKER_MM) / 2 / card.MARKER_MM)
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, card.DICTIONARY_NAME))
    marker = cv2.aruco.generateImageMarker(dictionary, number, cells * 7)
    tag = np.pad(marker, border, constant_values=255)
    scale = side_mm / len(tag)
    to_mm = np.array([[scale, 0, at_mm[0]], [0, scale, at_mm[1]], [0, 0, 1]])
    size = (pixels.shape[1], pixels.shape[0])
    drawn = cv2.warpPerspective(tag, to_px @ to_mm, size, flags=cv2.INTER_AREA)
    there = cv2.warpPerspective(np.full_like(tag, 255), to_px @ to_mm, size)[..., None] / 255
    grey = (25 + 0.7 * drawn)[..., None]
    return np.rint(pixels * (1 - there) + grey * there).astype(np.uint8)


@pytest.fixture(scope="module")
def pixels() -> np.ndarray:
    return upright(load_photo(PLAIN))


def tags_of(pixels: np.ndarray, folder: Path) -> tuple[str, ...]:
    path = folder / "photo.png"
    Image.fromarray(pixels).save(path)
    return sighting_of(load_photo(path))[0].tags


def test_every_tag_is_found_where_it_is_clipped(pixels: np.ndarray, tmp_path: Path) -> None:
    for number in (987, 990, 992):
        assert tags_of(with_tag(pixels, number, (12, 175)), tmp_path) == (card.TAGS[number].value,)
    both = with_tag(with_tag(pixels, 987, (4, 175)), 993, (22, 175))
    assert tags_of(both, tmp_path) == ("front left", "after")


def test_a_marker_elsewhere_or_of_another_size_is_no_tag(pixels: np.ndarray, tmp_path: Path) -> None:
    elsewhere = with_tag(pixels, 987, (-30, 40))
    larger = with_tag(pixels, 987, (0, 175), 24.0)
    for picture in (elsewhere, larger):
        assert "front left" in find_card(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)).tags
        assert tags_of(picture, tmp_path) == ()
    assert tags_of(pixels, tmp_path) == ()


@pytest.mark.parametrize("paper", PAPERS)
def test_printed_tags_are_opencvs_own_of_9_mm(paper: str, tmp_path: Path) -> None:
    target = tmp_path / "tags.pdf"
    result = CliRunner().invoke(command, ["--tags", "7", "--paper", paper, "-o", str(target)])
    assert result.exit_code == 0, result.output
    document = pypdfium2.PdfDocument(target)
    assert len(document) == 1
    px_per_mm = 12.0
    grey = np.asarray(document[0].render(scale=px_per_mm * 25.4 / 72).to_pil().convert("L"))
    document.close()
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, card.DICTIONARY_NAME))
    quads, ids, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(grey)
    assert sorted(ids.ravel()) == sorted(list(card.TAGS) * SETS_ON_A_SHEET)
    sides = [np.linalg.norm(np.diff(quad[0], axis=0), axis=1) / px_per_mm for quad in quads]
    assert np.allclose(sides, 9.0, atol=0.15)
    _, _, last_mm = tag_places_mm(SETS_ON_A_SHEET)[-1]
    # Office printers leave up to 12.7 mm at one end unprinted (common practice, no source).
    assert last_mm + card.TAG_SQUARE_MM + TAB_MM < PAPERS[paper].height_mm - 12.7


def test_tags_alone_need_no_card_numbers(tmp_path: Path) -> None:
    target = tmp_path / "tags.pdf"
    assert CliRunner().invoke(command, ["--tags", "-o", str(target)]).exit_code == 0
    target.unlink()
    assert CliRunner().invoke(command, ["-o", str(target), "--tags"]).exit_code == 0
    assert CliRunner().invoke(command, ["--tags", "8", "-o", str(target), "--force"]).exit_code == 2


@pytest.mark.parametrize("orientation", [1, 6])
def test_the_card_of_a_photo_is_found_once_and_the_reading_is_the_same(
    orientation: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However the photo is stored (EXIF, CIPA DC-008): upright, or lying as phones store it."""
    from PIL import Image

    from calibration.focal import focal_px_prior
    from strandline.read.one_photo import read_opened, see
    from strandline.read.parse import ReadOptions, parse_options

    with Image.open(PLAIN) as image:
        exif = image.getexif()
        exif[0x0112] = orientation
        stored = image.rotate(90, expand=True) if orientation == 6 else image
        stored.save(tmp_path / "photo.png", exif=exif)
    photo = load_photo(tmp_path / "photo.png")
    inputs = parse_options(ReadOptions(shaft="41.01 mm", layout="fork"))
    usual = see(photo, focal_px_prior(photo), inputs)
    _, seen = sighting_of(photo)

    def never(_: np.ndarray) -> None:
        raise AssertionError("looked for once more")

    monkeypatch.setattr("vision.request.find_card", never)
    again = read_opened("", photo, inputs, seen).reading
    assert usual.exposed is not None and again.exposed == usual.exposed and again.marker == usual.marker


def test_a_worker_looks_for_the_card_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    day = MadeDay(tmp_path / "day")
    looked: list[tuple[int, ...]] = []

    def counted(grey: np.ndarray) -> CardSighting:
        looked.append(grey.shape)
        return find_card(grey)

    monkeypatch.setattr("calibration.find_card.find_card", counted)
    monkeypatch.setattr("vision.request.find_card", counted)
    sha256 = hashlib.sha256(PLAIN.read_bytes()).hexdigest()
    answer = process_photo(Job(PLAIN, ("front left.jpg",), sha256, read_roster(day.folder / "roster.csv")))
    assert answer.sighting.card == 3 and answer.readings and len(looked) == 1


def test_the_small_picture_of_a_photo_stored_lying_stands_upright(tmp_path: Path) -> None:
    """Against Pillow's own turning (CIPA DC-008, orientation 6), made as small; WebP loses some code values."""
    import io

    from PIL import Image, ImageOps

    day, path = MadeDay(tmp_path / "day"), tmp_path / "photo.jpg"
    with Image.open(PLAIN) as image:
        exif = image.getexif()
        exif[0x0112] = 6
        image.rotate(90, expand=True).save(path, quality=95, exif=exif)
    sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
    answer = process_photo(Job(path, ("a.jpg",), sha256, read_roster(day.folder / "roster.csv")))
    assert answer.thumb is not None
    with Image.open(io.BytesIO(answer.thumb)) as small, Image.open(path) as image:
        upright = ImageOps.exif_transpose(image).resize(small.size)
        apart = np.abs(np.asarray(small.convert("RGB"), float) - np.asarray(upright, float))
    assert small.height > small.width and apart.mean() < 8
