"""A photo of 12 megapixels, made from a sample photo as a phone writes it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from strandline.demo.samples import Sample, find_folder, load_samples
from strandline.read.inputs import ReadInputs
from strandline.read.parse import parse_options

# Stored on its side, as phones store upright photos; EXIF's width and height are in the stored order.
WIDTH_PX, HEIGHT_PX = 4000, 3000
_EXIF_IFD, _PIXEL_X, _PIXEL_Y = 0x8769, 0xA002, 0xA003  # CIPA DC-008
# An enlarged photo is smoother than an original one, and decodes faster. This noise, code values, and this quality
# make a file of 3 MB; phones' have 3 to 5 (common practice, no source).
NOISE_SD, QUALITY = 6.0, 92
# Sample photos that are read in full.
DEFAULT = "bare-shock-red-o-ring.jpg"


@dataclass(frozen=True)
class Subject:
    """A photo file and its inputs."""

    path: Path
    inputs: ReadInputs


def sample_named(name: str) -> Sample:
    """Find a sample photo by its name."""
    return next(sample for sample in load_samples(find_folder(None)) if sample.path.name == name)


def enlarged(folder: Path, name: str = DEFAULT, width_px: int = WIDTH_PX) -> Subject:
    """Write the photo into a folder.

    Parameters
    ----------
    folder : Path
    name : str
        Of the sample photo; 4:3, lying or upright.
    width_px : int
        Of the longer side; the default gives 12 megapixels.
    """
    import numpy as np
    from PIL import Image

    sample = sample_named(name)
    with Image.open(sample.path) as image:
        exif = image.getexif()
        sides = (width_px, width_px * HEIGHT_PX // WIDTH_PX)
        size = sides if image.width >= image.height else sides[::-1]
        large = np.asarray(image.convert("RGB").resize(size, Image.Resampling.LANCZOS), np.float32)
    inner = exif.get_ifd(_EXIF_IFD)
    inner[_PIXEL_X], inner[_PIXEL_Y] = size
    # One patch of noise, repeated: JPEG works on blocks of 8 to 16 px only.
    patch = np.random.default_rng(12).normal(0, NOISE_SD, (500, 500, 3)).astype(np.float32)
    noise = np.tile(patch, (-(-large.shape[0] // 500), -(-large.shape[1] // 500), 1))
    large += noise[: large.shape[0], : large.shape[1]]
    path = folder / f"{round(size[0] * size[1] / 1e6)}-megapixels-{name}"
    Image.fromarray(np.clip(np.rint(large), 0, 255).astype(np.uint8)).save(path, quality=QUALITY, exif=exif)
    return Subject(path, parse_options(sample.options))


def copies(folder: Path, count: int, name: str = DEFAULT) -> list[Subject]:
    """Copy the sample photo at its own size."""
    sample = sample_named(name)
    content, inputs = sample.path.read_bytes(), parse_options(sample.options)
    out = []
    for k in range(count):
        path = folder / f"{k:04d}-{name}"
        path.write_bytes(content)
        out.append(Subject(path, inputs))
    return out
