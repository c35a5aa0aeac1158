"""New views from pairs of views of marked photographs, whose shafts are few: one's seal with another's far end."""

from __future__ import annotations

import torch
from torch import Tensor

# Labels, as `vision.networks.classes.Part` has them, and of points of which nobody knows what they show.
SHAFT, IN_FRONT, UNKNOWN = 1, 5, 255
# Shares of the views of marked photographs that are joined to another, and that stand before another's background.
JOINED_SHARE, BACKGROUND_SHARE = 0.4, 0.3
# Rows to either side of the joint that are labelled unknown: 1.5 mm.
JOINT_ROWS = 6
# Columns by whose labels a row shows bare shaft, radii; from where on one lies beside it; half the view's width.
MIDDLE_U, BESIDE_U, VIEW_HALF_WIDTH_U = 0.4, 1.25, 2.4


def mixed(view: Tensor, label: Tensor, rng: torch.Generator) -> tuple[Tensor, Tensor]:
    """Mix views (n, 3, h, w) and labels (n, h, w) of marked photographs with each other; others stay as they are.

    Rendered views have no point that is labelled unknown.
    """
    which = torch.nonzero((label == UNKNOWN).flatten(1).any(dim=1))[:, 0]
    if len(which) < 2:
        return view, label
    view, label = view.clone(), label.clone()
    some, other = which, which.roll(1)
    joined, joined_label = _joined(view[some], label[some], view[other], label[other], rng)
    behind = _before_other_background(joined, joined_label, view[other], rng)
    view[some], label[some] = behind, joined_label
    return view, label


def _u(w: int, device: torch.device) -> Tensor:
    return (((torch.arange(w, device=device) + 0.5) / w * 2 - 1) * VIEW_HALF_WIDTH_U).abs()


def _bare_rows(label: Tensor) -> Tensor:
    """Whether rows show bare shaft and no more, (n, h)."""
    return (label[:, :, _u(label.shape[2], label.device) < MIDDLE_U] == SHAFT).all(dim=2)


def _joined(
    view: Tensor, label: Tensor, other: Tensor, other_label: Tensor, rng: torch.Generator
) -> tuple[Tensor, Tensor]:
    """Go on from a row of bare shaft with the other view, from a row of its bare shaft on."""
    n, _, h, w = view.shape
    device = view.device
    rows = [_bare_rows(one).float() for one in (label, other_label)]
    able = (rows[0].sum(dim=1) > 0) & (rows[1].sum(dim=1) > 0)
    cuts = [torch.multinomial(one + 1e-6, 1, generator=rng)[:, 0] for one in rows]
    do = able & (torch.rand(n, generator=rng, device=device) < JOINED_SHARE)
    at = torch.arange(h, device=device)[None, :]
    from_other = at - cuts[0][:, None] + cuts[1][:, None]
    outside = (from_other < 0) | (from_other >= h)
    index = from_other.clamp(0, h - 1)[:, :, None].expand(n, h, w)
    there = torch.gather(other, 2, index[:, None].expand(n, 3, h, w))
    there = torch.where(outside[:, None, :, None], 0.0, there)
    there_label = torch.where(outside[:, :, None], UNKNOWN, torch.gather(other_label, 1, index))
    after = (do[:, None] & (at >= cuts[0][:, None]))[:, :, None]
    joint = (do[:, None] & ((at - cuts[0][:, None]).abs() <= JOINT_ROWS))[:, :, None]
    out = torch.where(joint, UNKNOWN, torch.where(after, there_label, label))
    return torch.where(after[:, None], there, view), out


def _before_other_background(view: Tensor, label: Tensor, other: Tensor, rng: torch.Generator) -> Tensor:
    """Show what lies beside the other view's shaft beside bare rows; labels stay as they are."""
    n, _, _, w = view.shape
    beside = (
        (_u(w, view.device) > BESIDE_U)[None, None, :] & _bare_rows(label)[:, :, None] & (label != IN_FRONT)
    )
    do = torch.rand(n, generator=rng, device=view.device) < BACKGROUND_SHARE
    return torch.where((beside & do[:, None, None])[:, None], other, view)
