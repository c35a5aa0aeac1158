"""Pack crops of photographs for the second renderer: ``python training/pack_photos.py FOLDER... --out FILE``.

They stand behind its scenes and are mirrored by its parts (`scenes/photo_bank.py`). The file is for `render.py --lathe`
and stays out of the repository, as the photographs do.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from scenes.photo_bank import SHAPE

ENDINGS = frozenset({".jpg", ".jpeg", ".png", ".webp"})
# The first crop of a picture is as large as it can be, the others down to this share of its width.
SMALLEST_SHARE = 0.3
# A crop whose code values scatter by less shows a wall or the sky alone.
LEAST_CONTRAST = 14.0
JPEG_QUALITY = 88


def crops(picture: np.ndarray, count: int, rng: np.random.Generator) -> Iterator[np.ndarray]:
    """Cut up to `count` crops of twice their height's width from a picture (h, w, 3), uint8, mirrored by chance."""
    h, w = picture.shape[:2]
    for k in range(count):
        share = 1.0 if k == 0 else float(np.exp(rng.uniform(np.log(SMALLEST_SHARE), 0.0)))
        width = min(w, 2 * h) * share
        x, y = rng.uniform(0, w - width), rng.uniform(0, h - width / 2)
        crop = picture[int(y) : int(y + width / 2), int(x) : int(x + width)]
        crop = cv2.resize(crop, SHAPE[::-1], interpolation=cv2.INTER_AREA)
        if float(crop.std()) >= LEAST_CONTRAST:
            yield crop if rng.random() < 0.5 else crop[:, ::-1]


def pack(folders: list[Path], count: int, seed: int) -> dict[str, np.ndarray]:
    """Encode crops of all pictures below some folders; pictures smaller than a crop are left out."""
    rng = np.random.default_rng(seed)
    found: dict[str, np.ndarray] = {}
    for folder in folders:
        for path in sorted(p for p in folder.rglob("*") if p.suffix.lower() in ENDINGS):
            picture = cv2.imread(str(path), cv2.IMREAD_COLOR)
            if picture is None or min(picture.shape[:2]) < SHAPE[0]:
                continue
            for crop in crops(picture, count, rng):
                _, data = cv2.imencode(".jpg", crop, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
                found[f"{len(found):05d}"] = data.ravel()
    return found


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split(":")[0])
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--crops", type=int, default=2, help="of each picture, at the most")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--out", type=Path, required=True)
    args = parser.parse_args()
    found = pack(args.folders, args.crops, args.seed)
    with args.out.open("wb") as out:
        np.savez(out, **found)  # type: ignore[arg-type]  # stubs: a keyword of numpy's own
    print(f"{len(found)} crops")


if __name__ == "__main__":
    main()
