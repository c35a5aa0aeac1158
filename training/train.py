"""Train the networks on rendered views and export them as ONNX files.

    python training/train.py --data DIR --net silhouette_fine --minutes 4 --out silhouette_fine.onnx
    torchrun --nproc-per-node 4 -- training/train.py ...     # on four GPUs

The data come from ``training/render.py``. The same seed, data and number of steps give the same network to
within the floating-point order of the device.
"""

from __future__ import annotations

import argparse
import copy
import json
import os
import threading
import time
from pathlib import Path
from typing import Any

import mixing
import networks
import numpy as np
import pretrained
import rims
import torch
from mixing import UNKNOWN, VIEW_HALF_WIDTH_U
from open_shapes import open_shapes
from torch import Tensor
from torch.nn import functional

# From code values to light, near enough for augmentation (sRGB, IEC 61966-2-1).
CODE_GAMMA = 2.2
# What an edge as a whole is worth against its rows: a shaft's distance comes from the whole edge.
WHOLE_EDGE_WEIGHT = 0.3
SILHOUETTES = ("silhouette_coarse", "silhouette_fine")
PARTS = ("part_segmentation", "part_segmentation_b")
# As `vision.views` and `vision.networks` have them: a row of the reader view, and what makes places along the card
# about one.
ROW_MM, SIDE_UNIT_MM = 0.25, 100.0
# From where on what is seen lies beside shaft and rims' blur, radii.
BESIDE_U = 1.15
# Views of each folder that are kept out of training, to measure on.
KEPT = 256
# Label of points on the card, beside the shaft, in rendered views (`scenes.scene.Material.CARD`).
CARD = 7
# Of views along the shaft whose card's side nothing says: how many show the seal where the arrow points away. Of real
# views, which show no card, as many as of the scenes that are meant for these networks.
TURNED_SHARE, TURNED_REAL_SHARE = 0.12, 0.25
# Views in which the card is painted over: its squares show which way it lies, and looks are to decide.
PAINTED_SHARE = {"part_segmentation": 0.25, "part_segmentation_b": 0.5}
# Of rendered views whose card lies backwards, how many of `part_segmentation`'s are shown the right way round with the
# card painted over: for it the arrow is evidence, right in three quarters of the views and more.
RIGHTED_SHARE = 0.4
# Rows (3 mm) within which two classes border on each other in views whose borders are labelled unknown.
GAP_ROWS = 13
# Of the rate, what an encoder that was trained by others goes on with.
ENCODER_RATE = 0.25
# Share of the running mean of the weights that a step keeps.
KEEP_MEAN = 0.998
VIEW_OF = {
    "shaft_segmentation": "finder",
    "part_segmentation": "reader",
    "part_segmentation_b": "reader",
    "silhouette_coarse": "edges",
    "silhouette_fine": "fine_edges",
    "rim_refinement": "rims",
}
# The most noise that training adds, sd of a code value in 0..1. Edge views come out of a photo's pixels with its noise
# in them; noise of the view's own fineness is nothing that a photo has.
MOST_NOISE = {
    "shaft_segmentation": 0.03,
    "part_segmentation": 0.03,
    "part_segmentation_b": 0.03,
    "silhouette_coarse": 0.01,
    "silhouette_fine": 0.01,
    "rim_refinement": 0.01,
}


def arrays_of(paths: list[Path], net: str) -> dict[str, Tensor]:
    """Load what some shards hold for one kind of network, as uint8 tensors and a few floats."""
    view = VIEW_OF[net]
    names = [view, f"{view}_label"]
    more = ["rims_slant", "marker_mm"] if net == "rim_refinement" else []
    more += ["reader_card_row"] if net in PARTS else []
    parts: dict[str, list[np.ndarray]] = {name: [] for name in [*names, "diameter_mm", *more]}
    turned: list[np.ndarray] = []
    for path in paths:
        with np.load(path) as shard:
            if names[0] not in shard.files:
                continue
            for name in parts:
                parts[name].append(shard[name])
            if net in PARTS:
                turned.append(_turned(shard, len(parts[view][-1])))
    if not parts[names[0]]:
        return {}
    if net == "rim_refinement":
        found: dict[str, Tensor] = rims.patches(parts)
        return found
    whole = {name: torch.from_numpy(np.concatenate(p)) for name, p in parts.items()}
    data = {"view": whole[names[0]], "diameter": whole["diameter_mm"]}
    if net == "shaft_segmentation":
        return data | {"amodal": whole[names[1]] & 1, "visible": whole[names[1]] >> 1}
    if net in SILHOUETTES:  # either side is a sample of its own
        data = {"view": data["view"].flatten(0, 1), "diameter": data["diameter"].repeat_interleave(2)}
        return data | {"label": whole[names[1]].flatten(0, 1)}
    label = whole[names[1]]
    return data | {
        "label": label,
        "card_row": whole["reader_card_row"],
        "turned": torch.from_numpy(np.concatenate(turned)),
    }


def _turned(shard: Any, count: int) -> np.ndarray:
    """Probability (n,) that a view is to be turned, so that the card's arrow points to its first rows."""
    if "reader_card_backwards" in shard.files:
        return np.asarray(shard["reader_card_backwards"], np.float32)
    real = "source" in shard.files  # `from_marks`
    return np.full(count, TURNED_REAL_SHARE if real else TURNED_SHARE, np.float32)


class Pool:
    """Views to train on, on the device; more are taken in as they are rendered.

    Parameters
    ----------
    folders : list of str
        Each with its share of a batch behind a colon, or none: as much as its number of views.
    share : tuple of int
        Of several processes each takes its own shards: which, of how many.
    """

    def __init__(self, folders: list[str], net: str, share: tuple[int, int], device: str, most: int) -> None:
        self.net, self.share, self.device = net, share, device
        split = [[*f.split(":"), "0", "0"] for f in folders]
        self.folders = [(Path(f[0]), float(f[1])) for f in split]
        self.caps = [int(f[2]) or most for f in split]
        self.rng = np.random.default_rng(share[0])
        self.data: list[dict[str, Tensor]] = [{} for _ in folders]
        self.count = [0 for _ in folders]
        self.taken: set[Path] = set()
        self.lock = threading.Lock()
        self.take_in()

    def take_in(self) -> None:
        """Read the shards that are new."""
        for k, (folder, _) in enumerate(self.folders):
            for path in sorted(folder.glob("*.npz"))[self.share[0] :: self.share[1]]:
                if path in self.taken or self.count[k] >= self.caps[k]:
                    continue
                self.taken.add(path)
                new = arrays_of([path], self.net)
                if new:
                    self._append(k, {name: v.to(self.device) for name, v in new.items()})

    def _append(self, k: int, new: dict[str, Tensor]) -> None:
        held = self.data[k]
        for name, v in new.items():
            if name not in held:
                held[name] = torch.zeros((self.caps[k], *v.shape[1:]), dtype=v.dtype, device=self.device)
        n = min(len(next(iter(new.values()))), self.caps[k] - self.count[k])
        for name, v in new.items():
            held[name][self.count[k] : self.count[k] + n] = v[:n]
        with self.lock:
            self.count[k] += n

    def feed(self) -> None:
        """Take in more for as long as this process runs."""

        def again() -> None:
            while True:
                time.sleep(5)
                self.take_in()

        threading.Thread(target=again, daemon=True).start()

    def draw(self, size: int) -> dict[str, Tensor]:
        """Draw a random batch; the first views of each folder are kept for measuring."""
        with self.lock:
            count = list(self.count)
        there = np.array(count) > 0
        weight = there * [share or n for (_, share), n in zip(self.folders, count, strict=True)]
        parts = []
        for data, n, many in zip(
            self.data, count, self.rng.multinomial(size, weight / weight.sum()), strict=True
        ):
            if many:
                index = torch.randint(kept_of(n), n, (many,)).to(self.device)
                parts.append({name: v[index] for name, v in data.items()})
        return {name: torch.cat([p[name] for p in parts]) for name in parts[0]}

    def measured(self, k: int) -> list[dict[str, Tensor]]:
        """Batches of one folder's views that are kept for measuring."""
        kept = kept_of(self.count[k])
        return [{n: v[i : min(i + 32, kept)] for n, v in self.data[k].items()} for i in range(0, kept, 32)]


def kept_of(count: int) -> int:
    """How many of so many views are kept out of training."""
    return min(KEPT, count // 4)


def disturb(x: Tensor, rng: torch.Generator, noise: float) -> Tensor:
    """Vary light, finish, colour and phone, with noise up to an sd: images (n, 3, h, w) in 0..1."""
    n, device = len(x), x.device

    def draw(low: float, high: float, *shape: int) -> Tensor:
        return low + (high - low) * torch.rand((n, *shape), generator=rng, device=device)

    x = x ** draw(0.65, 1.5, 1, 1, 1)
    x = (x - 0.5) * draw(0.6, 1.35, 1, 1, 1) + 0.5 + draw(-0.15, 0.15, 1, 1, 1)
    x = x * draw(0.85, 1.15, 3, 1, 1)
    # Any colour for anything: blend with a random mix of the channels.
    mix = torch.softmax(2.0 * torch.randn((n, 3, 3), generator=rng, device=device), dim=2)
    blend = (draw(0, 1, 1, 1, 1) < 0.4).float() * draw(0.3, 1.0, 1, 1, 1)
    x = (1 - blend) * x + blend * torch.einsum("nij,njhw->nihw", mix, x)
    grey = (draw(0, 1, 1, 1, 1) < 0.08).float()
    x = (1 - grey) * x + grey * x.mean(dim=1, keepdim=True)
    # Lenses blur light, not code values: blurred as those, a border would move towards its dark side.
    light = x.clamp(0, 1) ** CODE_GAMMA
    sd = draw(0.3, 1.6, 1, 1)
    offsets = torch.arange(-4, 5, device=device).float()
    kernel = torch.exp(-0.5 * (offsets[None, None, :] / sd) ** 2)
    kernel = kernel / kernel.sum(dim=2, keepdim=True)
    blurred = light
    for axis in (2, 3):
        shape = (n, 1, 9, 1) if axis == 2 else (n, 1, 1, 9)
        weight = kernel.reshape(shape).repeat_interleave(3, dim=0)
        flat = blurred.reshape(1, 3 * n, *x.shape[2:])
        pad = (0, 0, 4, 4) if axis == 2 else (4, 4, 0, 0)
        blurred = functional.conv2d(
            functional.pad(flat, pad, mode="replicate"), weight, groups=3 * n
        ).reshape(x.shape)
    x = torch.where(draw(0, 1, 1, 1, 1) < 0.3, blurred.clamp(min=1e-6) ** (1 / CODE_GAMMA), x)
    coarse = torch.randn((n, 3, x.shape[2] // 2, x.shape[3] // 2), generator=rng, device=device)
    fine = torch.randn(x.shape, generator=rng, device=device)
    x = (
        x
        + draw(0, noise, 1, 1, 1) * fine
        + draw(0, noise, 1, 1, 1) * functional.interpolate(coarse, size=x.shape[2:])
    )
    return x.clamp(0, 1)


def batch(
    data: dict[str, Tensor], net: str, rng: torch.Generator, device: str, augment: bool
) -> tuple[Tensor, ...]:
    """Assemble inputs and targets of one step."""
    view = data["view"].permute(0, 3, 1, 2).float() / 255
    targets = [data[k].long() for k in (("amodal", "visible") if net == "shaft_segmentation" else ("label",))]
    n, _, h, w = view.shape
    card_row = data["card_row"].float() if net in PARTS else torch.zeros(n, device=device)
    over = torch.zeros(n, dtype=torch.bool, device=device)
    if net in PARTS and augment:
        view, targets[0] = mixing.mixed(view, targets[0], rng)
    if net in PARTS:
        view, targets, over = with_card(data, view, targets, net, rng, augment)
    if augment:
        view = disturb(view, rng, MOST_NOISE[net])
        # Mirrored scenes are as likely as their originals; upside-down ones are cards laid backwards.
        # An edge view always has the shaft on its left.
        mirror = torch.rand(len(view), generator=rng, device=device) < (0.0 if net in SILHOUETTES else 0.5)
        view = torch.where(mirror[:, None, None, None], view.flip(3), view)
        targets = [torch.where(mirror[:, None, None], t.flip(2), t) for t in targets]
        if net not in PARTS and net != "rim_refinement":
            over = torch.rand(len(view), generator=rng, device=device) < TURNED_SHARE
    # Looks have to contradict the side then.
    card_row = torch.where(over, h - 1 - card_row, card_row)
    view = torch.where(over[:, None, None, None], view.flip(2), view)
    targets = [torch.where(over[:, None, None], t.flip(1), t) for t in targets]
    extra = [(data["diameter"].float() / 50.0).reshape(n, 1, 1, 1).expand(n, 1, h, w)]
    if net in PARTS:
        u = (torch.arange(w, device=device) + 0.5) / w * 2 - 1
        extra.append(u.abs().reshape(1, 1, 1, w).expand(n, 1, h, w))
    if net == "part_segmentation":
        rows = torch.arange(h, device=device).float()[None, :] - card_row[:, None]
        extra.append((rows * ROW_MM / SIDE_UNIT_MM).clamp(-2, 2).reshape(n, 1, h, 1).expand(n, 1, h, w))
    if net == "rim_refinement":
        extra += rims.channels(data, (n, h, w))
    return torch.cat([view, *extra], dim=1), *targets


def with_card(
    data: dict[str, Tensor],
    view: Tensor,
    targets: list[Tensor],
    net: str,
    rng: torch.Generator,
    augment: bool,
) -> tuple[Tensor, list[Tensor], Tensor]:
    """Paint the card over in some views; say which (n,) to turn so that its arrow points to their first rows."""
    (label,) = targets
    n, device = len(label), label.device

    def drawn() -> Tensor:
        return torch.rand(n, generator=rng, device=device)

    card = label == CARD
    label = torch.where(card, 0, torch.where(label == UNKNOWN, label, label.clamp(max=6)))
    turned = data["turned"].float()
    if not augment:
        return view, [label], turned > 0.5
    painted = drawn() < PAINTED_SHARE[net]
    over = drawn() < turned
    if net == "part_segmentation":
        righted = over & (turned > 0.5) & (drawn() < RIGHTED_SHARE)
        painted, over = painted | righted, over & ~righted
    else:  # without the card a view has no side
        over = torch.where(painted, drawn() < 0.5, over)
    return torch.where(painted[:, None, None, None], without_card(view, card, rng), view), [label], over


def without_card(view: Tensor, card: Tensor, rng: torch.Generator) -> Tensor:
    """Paint over where the card is seen, bool (n, h, w), and its printed edge's blur.

    With the middle colour of what else lies beside the shaft, as the program does, with what lies on the other side of
    it, or with any colour.
    """
    n, _, _, w = view.shape
    device = view.device
    wide = functional.max_pool2d(card[:, None].float(), (5, 3), 1, (2, 1)) > 0
    u = ((torch.arange(w, device=device) + 0.5) / w * 2 - 1).abs() * VIEW_HALF_WIDTH_U
    beside = ~wide & (u > BESIDE_U)
    coarse = (slice(None), slice(None), slice(None, None, 8), slice(None, None, 2))
    seen = torch.where(beside, view, torch.nan)[coarse].flatten(2)
    colour = seen.nanmedian(dim=2).values.nan_to_num(0.5)
    which = torch.rand((n, 1, 1, 1), generator=rng, device=device)
    any_colour = torch.rand((n, 3, 1, 1), generator=rng, device=device)
    other = torch.where(wide.flip(3), any_colour, view.flip(3))
    paint = torch.where(which < 0.5, colour[:, :, None, None], torch.where(which < 0.85, other, any_colour))
    return torch.where(wide, paint, view)


def shares(label: Tensor) -> Tensor:
    """Shares (n, 3, h, w) of bare shaft, of what lies behind it, of all else, from the counts of four samples."""
    inside, behind = (label & 7).float() / 4, (label >> 3).float() / 4
    known = (label != UNKNOWN).float()  # all else, where no mark says what it is: no edge is counted there
    return torch.stack([inside * known, behind * known, 1 - (inside + behind) * known], dim=1)


def loss_of(scores: Tensor, targets: tuple[Tensor, ...], net: str, weights: Tensor | None) -> Tensor:
    """Cross entropy; for the parts, label borders along the shaft count four times."""
    if net == "shaft_segmentation":
        both = torch.stack([t.float() for t in targets], dim=1)
        entropy = functional.binary_cross_entropy_with_logits(scores, both)
        p = torch.sigmoid(scores)
        dice = 1 - (2 * (p * both).sum((2, 3)) + 20) / ((p + both).sum((2, 3)) + 20)
        return entropy + 0.5 * dice.mean()
    (label,) = targets
    if net == "rim_refinement":
        return rims.loss_of_rims(scores, label)
    if net in SILHOUETTES:
        p = shares(label)
        each = -(p * torch.log_softmax(scores, dim=1)).sum(dim=1)
        mixed = functional.max_pool2d((p[:, :2].prod(dim=1) > 0)[:, None].float(), (1, 5), 1, (0, 2))[:, 0]
        off, weight = whole_edges(scores, p)
        whole = functional.smooth_l1_loss(off, torch.zeros_like(off), reduction="none", beta=0.2)
        known = label != UNKNOWN
        return (each * (1 + 5 * mixed) * known).sum() / known.sum().clamp(min=1) + WHOLE_EDGE_WEIGHT * (
            whole * weight
        ).sum() / weight.sum().clamp(min=1)
    known = label != UNKNOWN
    border = torch.zeros(label.shape, device=label.device)
    border[:, 1:] = ((label[:, 1:] != label[:, :-1]) & known[:, 1:] & known[:, :-1]).float()
    border = functional.max_pool2d(border[:, None], (5, 1), stride=1, padding=(2, 0))[:, 0]
    border = torch.maximum(border, borders_across_gaps(label, known))
    each = functional.cross_entropy(scores, label, weight=weights, reduction="none", ignore_index=UNKNOWN)
    return (each * (1 + 3 * border)).sum() / known.sum().clamp(min=1)


def borders_across_gaps(label: Tensor, known: Tensor) -> Tensor:
    """Points (n, h, w), 1 or 0, on either side of what a hand's mark leaves unknown between two classes."""
    marked = (~known).flatten(1).any(dim=1)[:, None, None]
    pad = GAP_ROWS // 2
    high, low = (
        functional.max_pool2d(
            torch.where(known, sign * label, -99.0)[:, None].float(), (GAP_ROWS, 1), 1, (pad, 0)
        )[:, 0]
        for sign in (1.0, -1.0)
    )
    return ((high > -low) & known & marked).float()


def processes() -> tuple[int, int, str]:
    """Return this process's rank, the number of processes (`torchrun`, one GPU each), and its device."""
    rank, world = int(os.environ.get("RANK", "0")), int(os.environ.get("WORLD_SIZE", "1"))
    with_gpu = torch.cuda.is_available()
    if world > 1:
        torch.distributed.init_process_group("nccl" if with_gpu else "gloo")
    if with_gpu:
        torch.cuda.set_device(rank)
    return rank, world, f"cuda:{rank}" if with_gpu else "cpu"


def agree(model: torch.nn.Module, done: float, world: int) -> float:
    """Give all processes the mean of their gradients, and of how far they are, so that they stop together."""
    if world == 1:
        return done
    gradients = [p.grad for p in model.parameters()]
    flat = torch.cat([*(g.reshape(-1) for g in gradients), gradients[0].new_tensor([done])])
    torch.distributed.all_reduce(flat)
    flat /= world
    start = 0
    for g in gradients:
        g.copy_(flat[start : start + g.numel()].view_as(g))
        start += g.numel()
    return float(flat[-1])


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--data",
        action="append",
        required=True,
        help="a folder of shards; :SHARE of each batch; :MOST of its views",
    )
    parser.add_argument("--feed", action="store_true", help="take in shards that are rendered meanwhile")
    parser.add_argument("--most", type=int, default=100000, help="views of one folder, at the most")
    parser.add_argument("--last", type=float, default=0.0, help="share of the rate that is left in the end")
    parser.add_argument("--net", choices=tuple(MOST_NOISE), required=True)
    parser.add_argument("--minutes", type=float, default=4.0)
    parser.add_argument(
        "--until",
        type=Path,
        help="a file of the time, seconds since 1970, at which training ends; may be changed",
    )
    parser.add_argument("--batch", type=int, default=48)
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=Path, help="an exported network to go on from")
    parser.add_argument(
        "--encoder", type=Path, help="parts on an encoder trained by others: its weights' file"
    )
    parser.add_argument("--norms", action="store_true", help="with --start: batch norms count on, not kept")
    parser.add_argument("--state", type=Path, help="where training is kept, to be gone on with")
    parser.add_argument("--every", type=int, default=500, help="steps after which it is measured and kept")
    parser.add_argument("--out", type=Path, required=True)
    args = parser.parse_args()
    rank, world, device = processes()
    torch.manual_seed(args.seed)  # weights begin alike in all processes; what these draw differs (below)
    pool = Pool(args.data, args.net, (rank, world), device, args.most)
    if args.feed:
        pool.feed()
    model = pretrained.pretrained_parts(args.encoder) if args.encoder else getattr(networks, args.net)()
    kept = args.state is not None and args.state.is_file()
    if kept:
        model.load_state_dict(torch.load(args.state)["model"])
    elif args.start:
        networks.take_weights(model, args.start)
    model = model.to(device).to(memory_format=torch.channels_last)
    rng = torch.Generator(device=device).manual_seed(args.seed + rank)
    torch.manual_seed(args.seed + rank)
    weights = None
    if args.net in PARTS:
        # Markers are a few rows of a thousand: weigh classes by the inverse root of their share.
        labels = pool.draw(400)["label"].reshape(-1).long()
        labels = torch.where(labels == CARD, 0, labels)[labels != UNKNOWN]
        share = torch.bincount(labels, minlength=7).float() + 1e4
        if world > 1:
            torch.distributed.all_reduce(share)
        weights = (share.sum() / share).sqrt()
        weights = (weights / weights.mean()).clamp(0.3, 3.0)
        if args.start and not kept:
            networks.take_back(model, 1 / weights)  # exported, it answers without them
    fresh = args.start is None or args.norms
    if args.start and not kept and rank == 0:
        before = {
            f"folder {k}": evaluate(model, pool, k, args.net, rng, device) for k in range(len(pool.count))
        }
        print(json.dumps({"step": 0, "views": list(pool.count), **before}), flush=True)
    if args.start and args.norms and not kept:
        views = [batch(pool.draw(args.batch), args.net, rng, device, augment=False)[0] for _ in range(8)]
        networks.count_norms(model, views)
        for value in [*model.parameters(), *model.buffers()] if world > 1 else []:
            torch.distributed.broadcast(value.data, 0)  # each process counted its own share
    slow = list(model.encoder.parameters()) if args.encoder else []
    ids = {id(p) for p in slow}
    groups = [{"params": [p for p in model.parameters() if id(p) not in ids], "share": 1.0}]
    groups += [{"params": slow, "share": ENCODER_RATE}] if slow else []
    optimiser = torch.optim.AdamW(groups, lr=args.rate, weight_decay=0.02)
    networks.set_training(model, fresh)
    mean = copy.deepcopy(model)  # the running mean of the weights is what is measured and exported
    begun, step, done = time.time(), 0, 0.0
    while done < 1.0:
        rate = (
            args.rate
            * min(1.0, (step + 1) / 200)
            * (args.last + (1 - args.last) * 0.5 * (1 + np.cos(np.pi * done)))
        )
        for group in optimiser.param_groups:
            group["lr"] = rate * group["share"]
        x, *targets = batch(pool.draw(args.batch), args.net, rng, device, augment=True)
        with torch.autocast(device[:4], dtype=torch.bfloat16, enabled=device != "cpu"):
            scores = model(x.contiguous(memory_format=torch.channels_last))
        loss = loss_of(scores.float(), tuple(targets), args.net, weights)
        optimiser.zero_grad()
        loss.backward()
        done = agree(model, min((time.time() - begun) / seconds_of(args, begun), 1.0), world)
        torch.nn.utils.clip_grad_norm_(model.parameters(), 2.0)
        optimiser.step()
        step += 1
        follow(mean, model, min(KEEP_MEAN, step / (step + 10)))
        if step % args.every == 0 and rank == 0:
            entry: dict[str, object] = {
                "step": step,
                "loss": round(loss.item(), 4),
                "minutes": round((time.time() - begun) / 60, 2),
                "views": list(pool.count),
            }
            for k in range(len(pool.count)):
                entry[f"folder {k}"] = evaluate(mean, pool, k, args.net, rng, device)
            print(json.dumps(entry), flush=True)
            if args.state:
                keep(args.state, model, mean, weights)
    if rank > 0:
        return
    if args.state:
        keep(args.state, model, mean, weights)
    model = mean.eval().float().cpu()
    if weights is not None:
        networks.take_back(model, weights)
    export(model, args.net, args.out)
    print(json.dumps({"steps": step, "samples": sum(pool.count), "out": args.out.name}))


def seconds_of(args: argparse.Namespace, begun: float) -> float:
    """How long training lasts that began then."""
    if args.until is None:
        return float(60 * args.minutes)
    return max(float(args.until.read_text(encoding="utf-8")) - begun, 1.0)


def export(model: torch.nn.Module, net: str, path: Path) -> None:
    """Write a network as an ONNX file for any number of views and rows."""
    shape = {
        "finder": (1, 4, 216, 128), "reader": (1, 5 if net == "part_segmentation_b" else 6, 1024, 64),
        "edges": (1, 4, 256, 64), "rims": (1, 9, 96, 48),
    }[VIEW_OF[net].removeprefix("fine_")]  # fmt: skip
    torch.onnx.export(
        model.to(memory_format=torch.contiguous_format), torch.zeros(shape), str(path),
        input_names=["view"], output_names=["scores"], opset_version=13, dynamo=False,
    )  # fmt: skip
    open_shapes(path)


def follow(mean: torch.nn.Module, model: torch.nn.Module, share: float) -> None:
    """Move the running mean of the weights towards what they are now; statistics of batch norms are taken over."""
    with torch.no_grad():
        old, new = list(mean.parameters()), [p.detach() for p in model.parameters()]
        torch._foreach_lerp_(old, new, 1 - share)
        for a, b in zip(mean.buffers(), model.buffers(), strict=True):
            a.copy_(b)


def keep(path: Path, model: torch.nn.Module, mean: torch.nn.Module, weights: Tensor | None) -> None:
    """Write where training stands; `export.py` makes a network of it."""
    unfinished = path.with_suffix(".part")
    torch.save({"model": model.state_dict(), "mean": mean.state_dict(), "weights": weights}, unfinished)
    unfinished.rename(path)


def evaluate(
    model: torch.nn.Module, pool: Pool, k: int, net: str, rng: torch.Generator, device: str
) -> dict[str, float]:
    """Intersection over union of each class on scenes kept out of training."""
    model.eval()
    hits: dict[str, list[float]] = {}
    with torch.no_grad():
        for data in pool.measured(k):
            x, *targets = batch(data, net, rng, device, augment=False)
            scores = model(x).float()
            if net in SILHOUETTES:
                hits.setdefault("edge_off_columns", []).extend(edge_errors(scores, shares(targets[0])))
                pairs = [(scores.argmax(dim=1) == c, shares(targets[0]).argmax(dim=1) == c) for c in range(3)]
            elif net == "rim_refinement":
                off, known = rims.rims_off(scores, targets[0])
                hits.setdefault("edge_off_columns", []).extend(off[known > 0].abs().tolist())
                continue
            elif net == "shaft_segmentation":
                pairs = [(scores[:, i] > 0, t > 0) for i, t in enumerate(targets)]
            else:
                best = scores.argmax(dim=1)
                known = targets[0] != UNKNOWN
                pairs = [
                    ((best == c) & known, targets[0] == c) for c in range(7)
                ]  # then seals, far ends turned
            if net in PARTS:
                turned = data["turned"][:, None, None] > 0.5
                pairs += [(p & turned, t & turned) for p, t in (pairs[2], pairs[4])]
            for i, (p, t) in enumerate(pairs):
                hits.setdefault(f"iou{i}", []).append(float((p & t).sum()) / max(float((p | t).sum()), 1.0))
    off = np.array(hits.pop("edge_off_columns", []))
    far = {f"edge_off_{q}": round(float(np.percentile(off, q)), 3) for q in (50, 90, 95)} if len(off) else {}
    return {k: round(float(np.mean(v)), 4) for k, v in hits.items()} | far


def whole_edges(scores: Tensor, true: Tensor) -> tuple[Tensor, Tensor]:
    """Mean error of each edge, columns (n,), and 1 where it has enough rows, else 0."""
    p = torch.softmax(scores, dim=1)
    inside = p[:, 0] / (p[:, 0] + p[:, 1] + 1e-6)
    clean = (true[:, 2].amax(dim=2) == 0) & (true[:, 0].sum(dim=2) > 4) & (true[:, 1].sum(dim=2) > 4)
    rows = clean.sum(dim=1)
    off = (inside.sum(dim=2) - true[:, 0].sum(dim=2)) * clean
    return off.sum(dim=1) / rows.clamp(min=1), (rows >= 8).float()


def edge_errors(scores: Tensor, true: Tensor) -> list[float]:
    """Error, in columns, of each silhouette as a whole; over rows that show nothing but shaft and background."""
    off, known = whole_edges(scores, true)
    found: list[float] = off[known > 0].abs().tolist()
    return found


if __name__ == "__main__":
    main()
