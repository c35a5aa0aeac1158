"""JPEGs decoded straight into an array: Pillow's pixels, or Pillow itself."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from calibration.jpeg import DamagedJpeg, decoded_jpeg
from calibration.photo import PhotoError, load_photo

PHOTOS = sorted((Path(__file__).parents[2] / "sample-images").glob("*.jpg"))


def picture(mode: str = "RGB", width: int = 61, height: int = 43) -> Image.Image:
    """Colour of all frequencies; odd sides, so that the last blocks are not whole."""
    pixels = np.random.default_rng(5).integers(0, 256, (height, width, 3), np.uint8)
    return Image.fromarray(pixels).convert(mode)


def jpeg(image: Image.Image, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", **options)
    return out.getvalue()


def opened(content: bytes) -> Image.Image:
    return Image.open(io.BytesIO(content))


def assert_pillows(content: bytes) -> None:
    """Decode it, to the pixels that Pillow has."""
    pixels = decoded_jpeg(opened(content), content)
    assert pixels is not None
    np.testing.assert_array_equal(pixels, np.asarray(opened(content)))


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("subsampling", ["4:4:4", "4:2:2", "4:2:0"])
def test_pixels_are_pillows(subsampling: str, progressive: bool) -> None:
    assert_pillows(jpeg(picture(), subsampling=subsampling, progressive=progressive, quality=88))


@pytest.mark.parametrize("photo", PHOTOS[:3], ids=lambda path: path.stem)
def test_a_photo_is_what_pillow_makes_of_it(photo: Path) -> None:
    assert_pillows(photo.read_bytes())


def test_colours_stored_without_being_split_into_luma_and_chroma() -> None:
    """Adobe's marker says so, with transform 0."""
    assert_pillows(jpeg(picture(), keep_rgb=True, quality=95))


@pytest.mark.parametrize("mode", ["L", "CMYK"])
def test_other_colours_are_left_to_pillow(mode: str) -> None:
    content = jpeg(picture(mode))
    assert decoded_jpeg(opened(content), content) is None


def test_other_formats_are_left_to_pillow() -> None:
    out = io.BytesIO()
    picture().save(out, "PNG")
    assert decoded_jpeg(opened(out.getvalue()), out.getvalue()) is None


@pytest.mark.parametrize("mark", [b"\xff\xd3", b"\xff\xbb"])
def test_what_is_damaged_within_is_refused(tmp_path: Path, mark: bytes) -> None:
    """Pillow passes over a marker that does not belong there, and shows a picture that the camera never took."""
    content = bytearray(jpeg(picture(width=400, height=300), quality=90))
    middle = len(content) // 2
    content[middle : middle + 2] = mark
    damaged = bytes(content)
    with pytest.raises(DamagedJpeg):
        decoded_jpeg(opened(damaged), damaged)
    path = tmp_path / "damaged.jpg"
    path.write_bytes(damaged)
    with pytest.raises(PhotoError, match="damaged"):
        load_photo(path)


@pytest.mark.parametrize("mode", ["L", "CMYK"])
def test_damage_is_found_in_other_colours(mode: str) -> None:
    content = bytearray(jpeg(picture(mode, width=400, height=300), quality=90))
    content[len(content) // 2 : len(content) // 2 + 2] = b"\xff\xd3"
    with pytest.raises(DamagedJpeg):
        decoded_jpeg(opened(bytes(content)), bytes(content))


def test_bytes_behind_the_picture_do_no_harm() -> None:
    assert_pillows(jpeg(picture()) + b"more that a phone has to say" * 100)


@pytest.mark.parametrize("missing", [1, 3, 400])
def test_a_missing_end_is_refused(tmp_path: Path, missing: int) -> None:
    content = jpeg(picture(width=400, height=300))[:-missing]
    assert decoded_jpeg(opened(content), content) is None
    path = tmp_path / "cut.jpg"
    path.write_bytes(content)
    with pytest.raises(PhotoError, match="cut short"):
        load_photo(path)


def test_a_mirrored_jpeg_is_turned_back(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 2
    path = tmp_path / "mirrored.jpg"
    path.write_bytes(jpeg(picture(), exif=exif.tobytes()))
    with Image.open(path) as stored:
        np.testing.assert_array_equal(load_photo(path).stored, np.asarray(stored)[:, ::-1])
