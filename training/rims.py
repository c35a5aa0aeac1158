"""Training data of `rim_refinement`: surface patches round a rim, each point labelled by its side of the rim."""

from __future__ import annotations

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

# Of the four patches of a scene (`scenes.rectified.RIM_SIGNS`): seal, marker, marker, far end.
KIND_OF_PATCH = (0, 1, 1, 2)
# A column shows a rim where within so many rows (1.2 mm) bare shaft is seen on one side, and no more of it and nothing
# in front on the other.
BESIDE_ROWS = 15
# Rows about a rim that count six times, and at least so many of them left on either side.
NEAR_ROWS, ROOM_ROWS = 6, 5
# Columns that must show a rim.
LEAST_COLUMNS = 10
# What a rim as a whole is worth against its points, and the error, rows, from which it counts by its size alone.
WHOLE_RIM_WEIGHT, WHOLE_RIM_ROWS = 0.1, 0.5


def patches(parts: dict[str, list[np.ndarray]]) -> dict[str, Tensor]:
    """Select the patches that show a rim from the shards' fields."""
    view = torch.from_numpy(np.concatenate(parts["rims"])).flatten(0, 1)
    label = torch.from_numpy(np.concatenate(parts["rims_label"])).flatten(0, 1)
    scenes = len(view) // 4
    marker = torch.from_numpy(np.isfinite(np.concatenate(parts["marker_mm"])))
    there = torch.stack([torch.ones_like(marker), marker, marker, torch.ones_like(marker)], 1).flatten()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    keep = [(shown(part.to(device)).sum(dim=1) >= LEAST_COLUMNS).cpu() for part in label.split(4096)]
    good = torch.cat(keep) & there
    diameter = torch.from_numpy(np.concatenate(parts["diameter_mm"])).repeat_interleave(4)
    slant = torch.from_numpy(np.concatenate(parts["rims_slant"])).flatten().float()
    kind = torch.tensor(KIND_OF_PATCH).repeat(scenes)
    return {k: v[good] for k, v in {
        "view": view, "label": label, "diameter": diameter, "slant": slant, "kind": kind,
    }.items()}  # fmt: skip


def side(label: Tensor) -> Tensor:
    """Share of each point on the bare shaft's side, from the counts of four samples, (n, h, w)."""
    return (label % 5).float() / 4


def rows_of(share: Tensor) -> Tensor:
    """Row of the rim in each column (n, w): what comes before it, counted."""
    return (1 - share).sum(dim=1)


def shown(label: Tensor) -> Tensor:
    """Which columns show the rim, bool (n, w)."""
    row = rows_of(side(label))[:, None]
    at = torch.arange(label.shape[1], device=label.device)[None, :, None] + 0.5
    front, bare = (label // 5 % 5).float() / 4, (label // 25).float() / 4
    after = ((at > row) & (at < row + BESIDE_ROWS)).float()
    before = ((at < row) & (at > row - BESIDE_ROWS)).float()

    def mean(what: Tensor, where: Tensor) -> Tensor:
        return (what * where).sum(dim=1) / where.sum(dim=1).clamp(min=1)

    room = (row[:, 0] > ROOM_ROWS) & (row[:, 0] < label.shape[1] - ROOM_ROWS)
    return (mean(bare, after) > 0.5) & (mean(bare, before) < 0.5) & (mean(front, before) < 0.5) & room


def channels(data: dict[str, Tensor], shape: tuple[int, int, int]) -> list[Tensor]:
    """Besides colour and diameter: slant, place across, and which kind of rim; each (n, 1, h, w)."""
    n, h, w = shape
    device = data["view"].device
    slant = data["slant"].reshape(n, 1, 1, 1).expand(n, 1, h, w)
    u = ((torch.arange(w, device=device) + 0.5) / w * 2 - 1).abs()
    kinds = [(data["kind"] == k).float().reshape(n, 1, 1, 1).expand(n, 1, h, w) for k in range(3)]
    return [slant, u.reshape(1, 1, 1, w).expand(n, 1, h, w), *kinds]


def loss_of_rims(scores: Tensor, label: Tensor) -> Tensor:
    """Cross entropy, rows about the rim six times; and how far the rim is off as a whole."""
    share, seen = side(label), shown(label).float()
    each = functional.binary_cross_entropy_with_logits(scores[:, 0], share, reduction="none")
    at = torch.arange(label.shape[1], device=label.device)[None, :, None] + 0.5
    near = ((at - rows_of(share)[:, None]).abs() < NEAR_ROWS).float()
    free = 1 - (label // 5 % 5).float() / 4
    weight = (1 + 5 * near) * free * seen[:, None]
    off, known = rims_off(scores, label)
    whole = functional.smooth_l1_loss(off, torch.zeros_like(off), reduction="none", beta=WHOLE_RIM_ROWS)
    return (each * weight).sum() / weight.sum().clamp(min=1) + WHOLE_RIM_WEIGHT * (whole * known).mean()


def rims_off(scores: Tensor, label: Tensor) -> tuple[Tensor, Tensor]:
    """How far each rim as a whole is off, rows (n,), and 1 where enough columns show it."""
    seen = shown(label).float()
    off = (rows_of(torch.sigmoid(scores[:, 0])) - rows_of(side(label))) * seen
    count = seen.sum(dim=1)
    return off.sum(dim=1) / count.clamp(min=1), (count >= LEAST_COLUMNS).float()
