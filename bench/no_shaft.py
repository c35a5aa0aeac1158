"""Read photographs that show no shaft, with a card drawn in: ``python -m bench no_shaft FOLDER``.

Each photograph is read as a fork and as a shock. The card lies beside what looks most like a shaft there (a bar, pipe,
leg or pair of edges), to the scale at which that is as wide as the shaft that is stated; where there is no such place
it lies anywhere. Every length that is answered is invented. Exit status 1 where one is.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from bench.bars import bars, beside
from bench.drawn_card import Placed, card_picture, drawn_in, somewhere, suited

# Longer side, px, to which large photographs are reduced: a phone's picture as messengers and editors leave it.
LONGEST_PX = 2400
# Smaller ones are enlarged to this: a card needs 1.6 px/mm.
SHORTEST_PX = 1600
# Diameters, mm, of the shafts that are stated: usual fork tubes and shock shafts.
DIAMETERS_MM = {"fork": (35.0, 49.0), "shock": (10.0, 18.0)}
ENDINGS = (".jpg", ".jpeg", ".png", ".webp")
# A phone's main lens in 35 mm terms.
FOCAL_35MM = 26
_EXIF_IFD, _FOCAL_TAG = 0x8769, 0xA405


@dataclass(frozen=True)
class Look:
    """One reading of one photograph.

    Attributes
    ----------
    photo, layout : str
    beside_bar : bool
        The card lay beside a pair of edges; else anywhere.
    diameter_mm : float
        As stated.
    status : str
    reason : str or None
    card : int or None
        The card that was found.
    invented : tuple of str
        Lengths that were answered.
    """

    photo: str
    layout: str
    beside_bar: bool
    diameter_mm: float
    status: str
    reason: str | None
    card: int | None
    invented: tuple[str, ...]


def looks(photos: Sequence[Path], seed: int, keep: Path | None = None) -> Iterator[Look]:
    """Draw cards in and read.

    Parameters
    ----------
    photos : sequence of Path
    seed : int
        Of places, numbers and diameters.
    keep : Path or None
        Folder for the pictures of which a length was answered.
    """
    with tempfile.TemporaryDirectory() as name:
        for number, photo in enumerate(photos):
            pixels = _opened(photo)
            for half, layout in enumerate(DIAMETERS_MM):
                rng = np.random.default_rng([seed, number, half])
                diameter_mm = round(float(rng.uniform(*DIAMETERS_MM[layout])), 1)
                placed, beside_bar = _place(pixels, diameter_mm, rng)
                card = int(rng.integers(47))
                picture = drawn_in(pixels, card_picture(card), placed, rng)
                path = Path(name) / f"{photo.stem}-{layout}.jpg"
                _save(picture, path)
                look = _read(photo, path, layout, diameter_mm, beside_bar)
                if look.invented and keep is not None:
                    keep.mkdir(parents=True, exist_ok=True)
                    (keep / path.name).write_bytes(path.read_bytes())
                path.unlink()
                yield look


def _opened(path: Path) -> np.ndarray:
    from PIL import Image, ImageOps

    with Image.open(path) as opened:
        image = ImageOps.exif_transpose(opened).convert("RGB")
    longer = max(image.size)
    factor = min(LONGEST_PX / longer, max(1.0, SHORTEST_PX / longer))
    if factor != 1:
        size = (round(image.width * factor), round(image.height * factor))
        image = image.resize(size, Image.Resampling.LANCZOS)
    return np.asarray(image)


def _place(pixels: np.ndarray, diameter_mm: float, rng: np.random.Generator) -> tuple[Placed, bool]:
    high, wide = pixels.shape[:2]
    for bar in bars(pixels):
        corners = beside(bar, diameter_mm, (wide, high))
        if corners is not None:
            return suited(pixels, corners), True
    return suited(pixels, somewhere((wide, high), rng, (0.25, 0.6))), False


def _save(picture: np.ndarray, path: Path) -> None:
    from PIL import Image

    exif = Image.Exif()
    exif.get_ifd(_EXIF_IFD)[_FOCAL_TAG] = FOCAL_35MM
    Image.fromarray(picture).save(path, quality=92, exif=exif)


def _read(photo: Path, path: Path, layout: str, diameter_mm: float, beside_bar: bool) -> Look:
    from strandline.read.json_line import json_line
    from strandline.read.one_photo import read_one
    from strandline.read.parse import ReadOptions, parse_options

    options = ReadOptions(shaft=f"{diameter_mm:.2f}mm", layout=layout, print_scale="1.0")
    outcome, _ = read_one(str(path), parse_options(options))
    fields = json.loads(json_line(outcome))
    lengths = [
        name for name in ("exposed_mm", "marker_mm", "remaining_mm") if isinstance(fields.get(name), dict)
    ]
    answered = tuple(
        f"{name} {fields[name]['value']:.1f} ± {fields[name]['u95']:.1f}"
        for name in lengths
        if fields["status"] in ("read", "partial") and fields[name].get("value") is not None
    )
    return Look(
        photo.name,
        layout,
        beside_bar,
        diameter_mm,
        fields["status"],
        fields.get("reason"),
        fields.get("card"),
        answered,
    )


def report(found: Sequence[Look]) -> Iterator[str]:
    """Count the reasons, and name every reading with an answer."""
    for layout in DIAMETERS_MM:
        those = [one for one in found if one.layout == layout]
        reasons = sorted({str(one.reason) for one in those})
        counts = ", ".join(f"{name} {sum(str(one.reason) == name for one in those)}" for name in reasons)
        yield f"{layout}: {len(those)} photographs, {sum(one.beside_bar for one in those)} beside a bar: {counts}"
    invented = [one for one in found if one.invented]
    photos = len({one.photo for one in found})
    seen = sum(one.card is not None for one in found)
    yield f"{photos} photographs, {len(found)} readings, card found in {seen}, invented {len(invented)}"
    for one in invented:
        yield f"  {one.photo} as {one.layout} of {one.diameter_mm} mm: {one.status}: {'; '.join(one.invented)}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Read the photographs of a folder and print what was invented."""
    parser = argparse.ArgumentParser(
        prog="python -m bench no_shaft", description=(__doc__ or "").split(":")[0]
    )
    parser.add_argument("folder", type=Path, help="photographs that show no shaft")
    parser.add_argument("--seed", type=int, default=18, help="of cards, places and diameters (default 18)")
    parser.add_argument("--out", type=Path, help="write each reading there as a line of JSON")
    parser.add_argument("--keep", type=Path, help="folder for pictures with an invented length")
    args = parser.parse_args(arguments)
    photos = sorted(path for path in args.folder.iterdir() if path.suffix.lower() in ENDINGS)
    if not photos:
        parser.error(f"{args.folder} holds no photographs")
    found = []
    for one in looks(photos, args.seed, args.keep):
        found.append(one)
        if args.out:
            with args.out.open("a", encoding="utf-8") as file:
                print(json.dumps(asdict(one)), file=file)
    print("\n".join(report(found)))
    return 1 if any(one.invented for one in found) else 0


if __name__ == "__main__":
    sys.exit(main())
