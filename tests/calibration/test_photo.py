"""Photo files: read upright, once, strictly; every bad one refused by name with a remedy."""

from __future__ import annotations

import hashlib
import io
import os
import stat
import struct
import threading
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageOps

from calibration.photo import Photo, PhotoError, load_photo
from tests.helpers.upright import upright

ORIENTATION = 0x0112


def quarters(width: int = 96, height: int = 64) -> Image.Image:
    """Red, green, blue and white quarters: all its rotations and mirror images differ."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[: height // 2, : width // 2] = (255, 0, 0)
    pixels[: height // 2, width // 2 :] = (0, 255, 0)
    pixels[height // 2 :, : width // 2] = (0, 0, 255)
    pixels[height // 2 :, width // 2 :] = (255, 255, 255)
    return Image.fromarray(pixels)


def corner_colours(pixels: np.ndarray) -> list[str]:
    """Names of the colours near the four corners: top-left, top-right, bottom-left, bottom-right."""
    height, width = pixels.shape[:2]
    names = {"100": "red", "010": "green", "001": "blue", "111": "white", "000": "black"}
    at = [(r, c) for r in (height // 8, height * 7 // 8) for c in (width // 8, width * 7 // 8)]
    return [names["".join(str(int(value > 127)) for value in pixels[r, c])] for r, c in at]


UPRIGHT = ["red", "green", "blue", "white"]


def refused(path: Path, *, match: str) -> PhotoError:
    """Return the error of loading ``path``; it must name the file and have a remedy."""
    with pytest.raises(PhotoError, match=match) as caught:
        load_photo(path)
    assert str(path) in caught.value.message
    assert len(caught.value.remedy) > 10
    return caught.value


def save(path: Path, image: Image.Image, **options: Any) -> Path:
    image.save(path, **options)
    return path


def test_plain_jpeg(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jpg", quarters(), quality=95)
    photo = load_photo(str(path))
    assert upright(photo).shape == (64, 96, 3)
    assert upright(photo).dtype == np.uint8
    assert not photo.stored.flags.writeable
    assert upright(photo).flags.c_contiguous
    assert corner_colours(upright(photo)) == UPRIGHT
    assert photo.size == (96, 64)
    # Source: FIPS 180-4 by Python's hashlib.
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


# How a stored picture must look so that it stands upright once turned: CIPA DC-008, tag Orientation, says
# where row 0 and column 0 of the stored picture lie in the scene.
STORED = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


def stored_as(scene: np.ndarray, orientation: int) -> np.ndarray:
    """Store an upright scene as a camera held that way does."""
    row0, column0 = STORED[orientation]
    if row0 in ("left", "right"):
        scene = scene.transpose(1, 0, 2)  # rows of the file are columns of the scene
    flip_rows = row0 in ("bottom", "right")
    flip_columns = column0 in ("bottom", "right")
    return np.ascontiguousarray(scene[:: -1 if flip_rows else 1, :: -1 if flip_columns else 1])


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif", "webp"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_exif_orientation_is_applied_once(tmp_path: Path, orientation: int, suffix: str) -> None:
    stored = Image.fromarray(stored_as(np.asarray(quarters()), orientation))
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    path = save(tmp_path / f"turned.{suffix}", stored, exif=exif)
    photo = load_photo(path)
    assert photo.exif.orientation == orientation
    assert upright(photo).shape == (64, 96, 3)
    assert corner_colours(upright(photo)) == UPRIGHT


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_picture_of_many_strips_is_turned_as_pillow_turns_it(
    tmp_path: Path, orientation: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Against Pillow's own ``ImageOps.exif_transpose``; 37 rows, seven a strip and two left over."""
    stored = Image.fromarray(np.random.default_rng(4).integers(0, 256, (37, 50, 3), np.uint8))
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    stored.save(tmp_path / "p.png", exif=exif)
    monkeypatch.setattr("calibration.pixels.STRIP_BYTES", 7 * 50 * 3 + 1)
    with Image.open(tmp_path / "p.png") as image:
        expected = np.asarray(ImageOps.exif_transpose(image))
    np.testing.assert_array_equal(upright(load_photo(tmp_path / "p.png")), expected)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_heic_is_turned_once(tmp_path: Path, orientation: int) -> None:
    stored = Image.fromarray(stored_as(np.asarray(quarters()), orientation))
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    exif.get_ifd(0x8769)[0xA405] = 26
    pillow_heif.from_pillow(stored).save(tmp_path / "a.heic", exif=exif.tobytes(), quality=90)
    photo = load_photo(tmp_path / "a.heic")
    assert corner_colours(upright(photo)) == UPRIGHT
    assert upright(photo).shape == (64, 96, 3)
    assert photo.exif.focal_35mm == 26


def test_avif(tmp_path: Path) -> None:
    assert corner_colours(upright(load_photo(save(tmp_path / "a.avif", quarters())))) == UPRIGHT


MODES = {
    "jpg": ("RGB", "L", "CMYK", "YCbCr", "1"),
    "png": ("RGB", "RGBA", "P", "L", "LA", "1"),
    "tif": ("RGB", "RGBA", "P", "L", "LA", "1", "CMYK", "YCbCr"),
    "webp": ("RGB", "RGBA"),
}


@pytest.mark.parametrize(("suffix", "mode"), [(suffix, mode) for suffix in MODES for mode in MODES[suffix]])
def test_every_mode_becomes_rgb(tmp_path: Path, suffix: str, mode: str) -> None:
    path = save(tmp_path / f"a.{suffix}", quarters().convert(mode))
    pixels = upright(load_photo(path))
    assert pixels.shape == (64, 96, 3)
    assert pixels.dtype == np.uint8
    if mode in ("RGB", "RGBA", "P", "CMYK", "YCbCr"):
        assert corner_colours(pixels) == UPRIGHT
    else:
        assert (pixels[..., 0] == pixels[..., 1]).all()
        assert pixels[60, 90].min() > 250


def test_16_bit_grey_is_scaled_not_clipped(tmp_path: Path) -> None:
    ramp = np.linspace(0, 65535, 256).astype(np.uint16)
    Image.fromarray(np.tile(ramp, (8, 1))).save(tmp_path / "grey16.png")
    pixels = upright(load_photo(tmp_path / "grey16.png"))
    np.testing.assert_array_equal(pixels[3, :, 1], np.arange(256))


def png_bytes(width: int, height: int, bits: int, colour: int, rows: bytes) -> bytes:
    """Encode a PNG by hand (ISO/IEC 15948): Pillow cannot write these kinds."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        crc = zlib.crc32(kind + content)
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", crc)

    header = struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, 0)
    body = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def test_16_bit_colour_png(tmp_path: Path) -> None:
    ramp = np.linspace(0, 65535, 256).round().astype(">u2")
    row = np.stack([ramp, ramp[::-1], ramp], axis=1).tobytes()
    (tmp_path / "rgb16.png").write_bytes(png_bytes(256, 2, 16, 2, (b"\0" + row) * 2))
    pixels = upright(load_photo(tmp_path / "rgb16.png"))
    np.testing.assert_array_equal(pixels[1, :, 0], np.arange(256))
    np.testing.assert_array_equal(pixels[1, :, 1], np.arange(256)[::-1])


def test_transparent_parts_lie_on_white(tmp_path: Path) -> None:
    image = quarters().convert("RGBA")
    alpha = np.full((64, 96), 255, np.uint8)
    alpha[:32, :48] = 0
    image.putalpha(Image.fromarray(alpha))
    pixels = upright(load_photo(save(tmp_path / "a.png", image)))
    assert corner_colours(pixels) == ["white", "green", "blue", "white"]


def test_float_pixels_are_refused(tmp_path: Path) -> None:
    save(tmp_path / "f.tif", Image.fromarray(np.ones((8, 8), np.float32)))
    refused(tmp_path / "f.tif", match="F pixels")


def test_jpeg_with_further_pictures_behind_it(tmp_path: Path) -> None:
    # Phones store previews and depth maps that way (CIPA DC-007, MPO): the first picture is the photo.
    path = tmp_path / "a.jpg"
    quarters().save(path, "MPO", save_all=True, append_images=[Image.new("RGB", (24, 16), "black")])
    with Image.open(path) as image:
        assert image.format == "MPO"
        assert getattr(image, "n_frames", 1) == 2
    assert corner_colours(upright(load_photo(path))) == UPRIGHT


@pytest.mark.parametrize("suffix", ["webp", "png", "tif", "avif"])
def test_several_pictures_in_one_are_refused(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"moving.{suffix}"
    quarters().save(path, save_all=True, append_images=[Image.new("RGB", (96, 64), "black")])
    refused(path, match="several pictures")


@pytest.mark.parametrize(("suffix", "name"), [("gif", "a GIF"), ("bmp", "a BMP"), ("pdf", "a PDF")])
def test_other_kinds_are_named(tmp_path: Path, suffix: str, name: str) -> None:
    path = tmp_path / f"a.{suffix}"
    quarters().save(path)
    refused(path, match=name)


def test_moving_gif(tmp_path: Path) -> None:
    path = tmp_path / "a.gif"
    quarters().save(path, save_all=True, append_images=[Image.new("RGB", (96, 64), "black")])
    refused(path, match="a GIF")


def test_video_is_named(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(b"\0\0\0\x18ftypmp42" + bytes(200))
    refused(path, match="a video")


def test_raw_file_is_not_read_by_its_preview(tmp_path: Path) -> None:
    path = tmp_path / "a.dng"
    save(path, quarters(), format="TIFF", tiffinfo={50706: b"\x01\x04\x00\x00"})
    refused(path, match="raw file")


def test_ending_of_the_name_does_not_matter(tmp_path: Path) -> None:
    save(tmp_path / "a.dat", quarters(), format="PNG")
    assert corner_colours(upright(load_photo(tmp_path / "a.dat"))) == UPRIGHT


@pytest.mark.parametrize("share", [0.02, 0.3, 0.5, 0.9, 0.99])
@pytest.mark.parametrize("suffix", ["jpg", "png", "tif", "webp", "heic", "avif"])
def test_cut_short(tmp_path: Path, suffix: str, share: float) -> None:
    pillow_heif.register_heif_opener()
    noise = np.random.default_rng(1).integers(0, 255, (120, 160, 3), dtype=np.uint8)
    whole = save(tmp_path / f"whole.{suffix}", Image.fromarray(noise)).read_bytes()
    path = tmp_path / f"cut.{suffix}"
    path.write_bytes(whole[: max(1, int(len(whole) * share))])
    refused(path, match="cut short|damaged|not a picture")


def test_progressive_jpeg_cut_short(tmp_path: Path) -> None:
    noise = np.random.default_rng(1).integers(0, 255, (240, 320, 3), dtype=np.uint8)
    whole = save(tmp_path / "whole.jpg", Image.fromarray(noise), progressive=True).read_bytes()
    (tmp_path / "cut.jpg").write_bytes(whole[: len(whole) // 2])
    refused(tmp_path / "cut.jpg", match="cut short")


def test_jpeg_cut_short_says_so(tmp_path: Path) -> None:
    # cv2.imread returns a picture of full size with a blank bottom here, and no error.
    whole = save(tmp_path / "whole.jpg", quarters(640, 480), quality=95).read_bytes()
    (tmp_path / "cut.jpg").write_bytes(whole[: len(whole) * 2 // 3])
    assert "again" in refused(tmp_path / "cut.jpg", match="cut short").remedy


def test_zero_bytes(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").touch()
    refused(tmp_path / "a.jpg", match="empty")


@pytest.mark.parametrize("content", [b"x", b"hello, this is text\n" * 50, bytes(1000), b"\xff\xd8\xff" * 9])
def test_not_an_image(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "a.jpg").write_bytes(content)
    refused(tmp_path / "a.jpg", match="not a picture|damaged")


def test_folder(tmp_path: Path) -> None:
    refused(tmp_path, match="is a folder")


def test_missing(tmp_path: Path) -> None:
    refused(tmp_path / "none.jpg", match="does not exist")


def test_file_in_place_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"x")
    refused(tmp_path / "a.jpg" / "b.jpg", match="does not exist")


def test_name_that_no_file_can_have() -> None:
    refused(Path("a\0b.jpg"), match="cannot be read|does not exist")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_pipe_does_not_hang(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    refused(tmp_path / "pipe.jpg", match="is not a file")


def test_unreadable(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Mocked, since root may read everything whatever the mode.
    path = save(tmp_path / "a.jpg", quarters())

    def forbidden(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr("calibration.photo._bytes_of", forbidden)
    refused(path, match="may not be read")


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="modes mean nothing to root or this system"
)
def test_unreadable_by_mode(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jpg", quarters())
    path.chmod(0)
    refused(path, match="may not be read")
    path.chmod(stat.S_IRUSR | stat.S_IWUSR)


def test_failing_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = save(tmp_path / "a.jpg", quarters())

    def broken(self: Path) -> bytes:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr("calibration.photo._bytes_of", broken)
    refused(path, match="Input/output error")


def test_bomb_is_refused_by_its_header(tmp_path: Path) -> None:
    # 60,000 x 60,000 px would be 10.8 GB; the header alone says so.
    path = tmp_path / "bomb.png"
    path.write_bytes(png_bytes(60_000, 60_000, 8, 2, bytes(1000)))
    refused(path, match="60000 x 60000 px is more than the limit of 102 megapixels")


def test_own_limit(tmp_path: Path) -> None:
    path = save(tmp_path / "a.png", quarters(96, 64))
    assert load_photo(path, max_pixels=96 * 64).size == (96, 64)
    with pytest.raises(PhotoError, match="more than the limit"):
        load_photo(path, max_pixels=96 * 64 - 1)


def test_pillow_settings_are_left_as_they_were(tmp_path: Path) -> None:
    before = Image.MAX_IMAGE_PIXELS
    load_photo(save(tmp_path / "a.png", quarters()))
    with pytest.raises(PhotoError):
        load_photo(tmp_path / "none.png")
    assert before == Image.MAX_IMAGE_PIXELS


def test_many_at_once(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jpg", quarters())
    found: list[Photo] = []
    threads = [threading.Thread(target=lambda: found.append(load_photo(path))) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 8
    assert Image.MAX_IMAGE_PIXELS is not None


def test_broken_exif_does_not_cost_the_photo(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    quarters().save(buffer, "JPEG", exif=b"Exif\0\0MM\0*\0\0\0\x08\xff\xff" + b"\x01\x12\x00\x03" * 9)
    path = tmp_path / "a.jpg"
    path.write_bytes(buffer.getvalue())
    photo = load_photo(path)
    assert corner_colours(upright(photo)) == UPRIGHT
    assert photo.exif.focal_35mm is None
