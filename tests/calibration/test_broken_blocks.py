"""Damaged files of which the decoder says nothing: JPEGs whose blocks drift, HEICs of patches, and sound pictures."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from simplejpeg import decode_jpeg

from calibration.broken_blocks import STAIR_SHARE, block_size, stair
from calibration.heif import looks_torn
from calibration.jpeg import DamagedJpeg, decoded_jpeg
from calibration.photo import PhotoError, load_photo

PHOTO = Path(__file__).parents[2] / "tests" / "vision" / "photos" / "plain.jpg"
PIXELS = np.asarray(Image.open(PHOTO))


def refuses(content: bytes) -> bool:
    try:
        decoded_jpeg(Image.open(io.BytesIO(content)), content)
    except DamagedJpeg:
        return True
    return False


def quietly_damaged(content: bytes, rng: np.random.Generator) -> bytes:
    """Flip a bit so that the decoder warns of nothing and a twentieth of the picture is another."""
    while True:
        damaged = bytearray(content)
        damaged[int(rng.uniform(0.2, 0.9) * len(content))] ^= 1 << int(rng.integers(8))
        try:
            pixels = decode_jpeg(bytes(damaged), strict=True)
        except ValueError:
            continue
        if np.mean(np.abs(pixels.astype(int) - PIXELS).max(axis=2) > 12) > 0.05:
            return bytes(damaged)


def test_blocks_that_drift_are_found_where_the_decoder_is_silent() -> None:
    content = PHOTO.read_bytes()
    assert not refuses(content)
    rng = np.random.default_rng(18)
    found = [refuses(quietly_damaged(content, rng)) for _ in range(6)]
    assert sum(found) >= 5, found  # of six: damage may begin at a row's end


def test_data_left_over_are_damage_and_fill_is_none() -> None:
    """ITU-T T.81, B.1.1.5: the decoder is done, and yet there are bytes before the end."""
    content = PHOTO.read_bytes()
    assert content.endswith(b"\xff\xd9")
    rest = np.random.default_rng(1).integers(1, 200, 25, np.uint8).tobytes()
    assert refuses(content[:-2] + rest + content[-2:])
    assert not refuses(content[:-2] + bytes(25) + content[-2:])


@pytest.mark.parametrize(
    ("subsampling", "size"), [("4:4:4", (8, 8)), ("4:2:2", (8, 16)), ("4:2:0", (16, 16))]
)
def test_the_size_of_a_block(subsampling: str, size: tuple[int, int]) -> None:
    """ITU-T T.81, A.2.3: eight times the largest sampling factors."""
    out = io.BytesIO()
    Image.fromarray(PIXELS[:64, :64]).save(out, "JPEG", subsampling=subsampling)
    assert block_size(out.getvalue()) == size
    assert block_size(out.getvalue()[:30]) is None


@pytest.mark.parametrize("begins", [6, 40, 63])
@pytest.mark.parametrize("codes", [(-40, -40, -40), (0, 0, 30)])
def test_a_stair_is_no_step(begins: int, codes: tuple[int, int, int]) -> None:
    """Shift every block from one on, as damage does; then whole rows, as a frame or a horizon may."""
    grey = np.clip(PIXELS.astype(int), 60, 195)
    shifted = grey.copy()
    shifted[640:656, 16 * begins :] += np.array(codes)
    shifted[656:] += np.array(codes)
    whole = grey.copy()
    whole[640:] += np.array(codes)
    assert stair(shifted.astype(np.uint8), (16, 16)) > 0.85
    assert stair(whole.astype(np.uint8), (16, 16)) < 0.3 < STAIR_SHARE
    assert stair(shifted[:, :100].astype(np.uint8), (16, 16)) == 0.0


def test_a_damaged_heic_is_refused(tmp_path: Path) -> None:
    import pillow_heif

    out = io.BytesIO()
    pillow_heif.from_pillow(Image.fromarray(PIXELS[::2, ::2])).save(out, quality=80)
    path = tmp_path / "a.heic"
    path.write_bytes(out.getvalue())
    assert load_photo(path).stored.shape == PIXELS[::2, ::2].shape
    content = bytearray(out.getvalue())
    content[len(content) // 4 : len(content) // 4 + 1024] = bytes(1024)
    path.write_bytes(bytes(content))
    with pytest.raises(PhotoError, match="damaged"):
        load_photo(path)


def test_gaudy_pictures_are_not_torn() -> None:
    """One hue, and a colour chart of all hues with grey between them."""
    assert not looks_torn(np.full((800, 800, 3), (250, 20, 20), np.uint8))
    hues = np.array(
        [(255, 0, 0), (255, 255, 0), (0, 255, 0), (0, 255, 255), (0, 0, 255), (255, 0, 255)], np.uint8
    )
    fields = np.repeat(np.repeat(hues[np.arange(48).reshape(6, 8) % 6], 400, axis=0), 400, axis=1)
    for k in range(24):
        fields[k::400] = fields[:, k::400] = 128
    assert not looks_torn(fields)
