"""Photographs that stand behind lathe scenes and that their parts mirror.

None is kept in this repository. `load` takes a file that holds encoded pictures (npz: one array of bytes each);
without one, `made_up` paints noise, so that tests need no photographs.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

SHAPE = (192, 384)
# Each level of blur is a picture of so many times fewer points.
LEVELS = 4
SMALLER = 4


def load(path: Path) -> list[np.ndarray]:
    """Pictures as linear light at each level of blur: (photos, h, w, 3) float32."""
    with np.load(path) as data:
        decoded = [np.asarray(cv2.imdecode(data[name], cv2.IMREAD_COLOR)) for name in data.files]
        pictures = [picture[..., ::-1] for picture in decoded]
    return levels(np.stack([cv2.resize(p, SHAPE[::-1], interpolation=cv2.INTER_AREA) for p in pictures]))


def made_up(count: int = 6, seed: int = 0) -> list[np.ndarray]:
    """Blotches of colour in place of photographs."""
    rng = np.random.default_rng(seed)
    pictures = []
    for _ in range(count):
        total = np.zeros((*SHAPE, 3), np.float32)
        for cells in (3, 9, 40):
            small = rng.uniform(0, 255, (cells, 2 * cells, 3)).astype(np.float32)
            total += cv2.resize(small, SHAPE[::-1], interpolation=cv2.INTER_CUBIC) / 3
        pictures.append(np.clip(total, 0, 255).astype(np.uint8))
    return levels(np.stack(pictures))


def levels(pictures: np.ndarray) -> list[np.ndarray]:
    """From pictures (photos, h, w, 3), sRGB code values, to levels of blurred linear light."""
    code = pictures.astype(np.float32) / 255
    # sRGB's curve, IEC 61966-2-1
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4).astype(np.float32)
    out = [light]
    for _ in range(LEVELS - 1):
        h, w = max(out[-1].shape[1] // SMALLER, 2), max(out[-1].shape[2] // SMALLER, 2)
        smooth = [cv2.resize(p, (w, h), interpolation=cv2.INTER_AREA) for p in out[-1]]
        out.append(np.stack(smooth))
    return out
