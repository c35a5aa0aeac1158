"""Move marks that a hand set on a photograph to the steepest step nearby, for ``near_marks.py``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from hand_marks import marked

# Marks are moved to the steepest step within so many px, which is believed less the farther off it is (sd).
SNAP_PX, SNAP_SD_PX, SNAP_STEP_PX = 1.6, 0.8, 0.1
# Silhouettes are looked for farther out, at so many places: lines that a hand drew err more at their ends. One is
# believed where so large a share of the places lies on one line, to so many px.
EDGE_SNAP_PX, EDGE_SNAP_SD_PX, EDGE_SAMPLES = 4.0, 1.6, 40
STRAIGHT_PX, STRAIGHT_SHARE = 0.7, 0.5
# Step of the three channels together over two offsets (0.2 px) that an edge has at the least: 10 code values a pixel,
# some three times what noise and JPEG leave [judgement].
LEAST_STEP = 2.0


def snapped(pixels: np.ndarray, raw: dict[str, Any]) -> dict[str, Any]:
    """Move silhouettes and rims to the steepest step near their marks; `edge_known`: where one follows its line."""
    shaft = marked(raw)
    grey = cv2.GaussianBlur(pixels.astype(np.float32), (0, 0), 0.6)
    start, end = shaft.ends_px
    out = dict(raw)

    def steps(xy_px: np.ndarray) -> np.ndarray:
        """Take steps of colour over two offsets, of places (lines, offsets, 2)."""
        at = xy_px.astype(np.float32)
        seen = cv2.remap(grey, at[..., 0], at[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(np.abs(seen[:, 2:] - seen[:, :-2]).sum(axis=-1))

    t = np.linspace(start + 0.06 * (end - start), end - 0.06 * (end - start), EDGE_SAMPLES)
    edges, known = [], []
    for line in np.array(raw["edges"], float):
        offs, wide, prior = _offsets(EDGE_SNAP_PX, EDGE_SNAP_SD_PX)
        side = float(np.sign(shaft.places(line[0])[1]))
        at = shaft.at(t, np.full(t.shape, side))
        found = steps(at[:, None] + side * wide[None, :, None] * shaft.across)
        best = np.array([offs[_steepest(one, prior)] for one in found])
        off = _straight(t, best)
        share = float((np.abs(best - off) < STRAIGHT_PX).mean())
        clear = float(np.median(found.max(axis=1))) > LEAST_STEP
        known.append(clear and share > STRAIGHT_SHARE and float(np.abs(off).max()) < EDGE_SNAP_PX)
        moved = at + (side * off)[:, None] * shaft.across if known[-1] else at
        edges.append([moved[0].tolist(), moved[-1].tolist()])
    out["edges"], out["edge_known"] = edges, known
    u = np.linspace(-0.45, 0.45, 25)
    offs, wide, prior = _offsets(SNAP_PX, SNAP_SD_PX)
    for name, place, there in (("seal", start, shaft.rims[0]), ("far", end, shaft.rims[1])):
        if there:
            at_t = place + shaft.bend_px(u)[:, None] + wide[None, :]
            found = np.median(steps(shaft.at(at_t, np.broadcast_to(u[:, None], at_t.shape))), axis=0)
            out[name] = (np.array(raw[name]) + offs[_steepest(found, prior)] * shaft.along).tolist()
    return out


def _offsets(most_px: float, sd_px: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Offsets to try, px, the same with one more on either side, and how far each is believed beforehand."""
    offs = np.arange(-most_px, most_px + 1e-6, SNAP_STEP_PX)
    wide = np.concatenate([[offs[0] - SNAP_STEP_PX], offs, [offs[-1] + SNAP_STEP_PX]])
    return offs, wide, np.exp(-0.5 * (offs / sd_px) ** 2)


def _steepest(steps: np.ndarray, prior: np.ndarray) -> int:
    """Choose the step that is believed most, and go uphill from there: belief chooses one, and does not move it."""
    at = int(np.argmax(steps * prior))
    while True:
        low, high = max(at - 1, 0), min(at + 1, len(steps) - 1)
        best = max((low, at, high), key=lambda k: float(steps[k]))
        if steps[best] <= steps[at]:
            return at
        at = best


def _straight(t: np.ndarray, off: np.ndarray) -> np.ndarray:
    """Values at t of the straight line that most offsets lie on."""
    t = (t - t.mean()) / max(float(np.ptp(t)), 1e-6)
    rise = off[None, :] - off[:, None]
    run = t[None, :] - t[:, None]
    slope = float(np.median(rise[run > 0.3] / run[run > 0.3]))
    first = np.asarray(float(np.median(off - slope * t)) + slope * t)
    keep = np.abs(off - first) < STRAIGHT_PX
    if keep.sum() < 4:
        return first
    return np.asarray(np.polyval(np.polyfit(t[keep], off[keep], 1), t))
