"""The small networks as PyTorch modules. Only training needs them; reading runs the exported ONNX files.

`shaft_segmentation` marks the exposed shaft, hidden or not, in the card-plane view. `part_segmentation` classifies each
point of the view along the shaft. `silhouette_coarse` and `silhouette_fine` locate the silhouettes in views of either
resolution, `rim_refinement` locates one rim. All are plain encoder-decoders with skips.
"""

from __future__ import annotations

import itertools
from pathlib import Path

import torch
from torch import Tensor, nn
from torch.nn import functional


class Block(nn.Module):
    """Two convolutions with batch norm, the second of 3x3 points; an optional dilation widens its view.

    The first has 3x3 points or 1: what comes up from below and what was kept on the way down is mixed point by point.
    """

    def __init__(self, inputs: int, outputs: int, dilation: int = 1, first: int = 3) -> None:
        super().__init__()
        self.layers = nn.Sequential(
            nn.Conv2d(inputs, outputs, first, padding=first // 2, bias=False),
            nn.BatchNorm2d(outputs),
            nn.ReLU(inplace=True),
            nn.Conv2d(outputs, outputs, 3, padding=dilation, dilation=dilation, bias=False),
            nn.BatchNorm2d(outputs),
            nn.ReLU(inplace=True),
        )

    def forward(self, x: Tensor) -> Tensor:
        return self.layers(x)


class EncoderDecoder(nn.Module):
    """A U-shaped network that answers for every point of its view.

    It works on squares of two by two points and answers for the four of each in channels of their own: the finest
    level, which costs most, has a quarter of the places, and nothing of the view's fineness is lost.

    Parameters
    ----------
    inputs, outputs : int
        Channels.
    widths : tuple of int
        Channels at each level, finest first.
    strides : tuple of (int, int)
        Step (rows, columns) from each level to the next.
    """

    def __init__(
        self, inputs: int, outputs: int, widths: tuple[int, ...], strides: tuple[tuple[int, int], ...]
    ) -> None:
        super().__init__()
        self.stem = nn.Sequential(
            nn.Conv2d(inputs, widths[0], 5, stride=2, padding=2, bias=False),
            nn.BatchNorm2d(widths[0]),
            nn.ReLU(inplace=True),
        )
        self.strides = strides
        self.down = nn.ModuleList()
        for i, width in enumerate(widths):
            self.down.append(Block(widths[max(i - 1, 0)], width, dilation=2 if i == len(widths) - 1 else 1))
        self.bottom = Block(widths[-1], widths[-1], dilation=4)
        self.up = nn.ModuleList()
        for i in range(len(widths) - 1, 0, -1):
            self.up.append(Block(widths[i] + widths[i - 1], widths[i - 1], first=1))
        self.head = nn.Conv2d(widths[0], 4 * outputs, 1)

    def forward(self, x: Tensor) -> Tensor:
        x = self.stem(x)
        skips = []
        for i, block in enumerate(self.down):
            x = block(x)
            if i < len(self.down) - 1:
                skips.append(x)
                x = functional.max_pool2d(x, self.strides[i])
        x = x + self.bottom(x)
        for i, block in enumerate(self.up):
            step = self.strides[len(self.strides) - 1 - i]
            x = functional.interpolate(x, scale_factor=(float(step[0]), float(step[1])), mode="nearest")
            x = block(torch.cat([x, skips[len(skips) - 1 - i]], dim=1))
        return functional.pixel_shuffle(self.head(x), 2)


def shaft_segmentation() -> EncoderDecoder:
    """216 x 128 view, RGB and diameter: exposed shaft (hidden or not), visible shaft."""
    return EncoderDecoder(4, 2, (24, 40, 64, 96), ((2, 2), (2, 2), (1, 1)))


def part_segmentation() -> EncoderDecoder:
    """1024 x 64 view, RGB, diameter, lateral place and place along the card: seven classes."""
    return _parts(6)


def part_segmentation_b() -> EncoderDecoder:
    """Build the same network without the place along the card."""
    return _parts(5)


def _parts(channels: int) -> EncoderDecoder:
    return EncoderDecoder(channels, 7, (40, 64, 96, 128, 128), ((2, 2), (2, 2), (2, 2), (2, 1)))


def silhouette_coarse() -> EncoderDecoder:
    """256 x 64 view of one silhouette, RGB and diameter: bare shaft, what lies behind it, else."""
    return EncoderDecoder(4, 3, (32, 48, 64, 64), ((2, 2), (2, 2), (2, 2)))


def silhouette_fine() -> EncoderDecoder:
    """Build the same network for views of half a photo's pixel per column."""
    return silhouette_coarse()


def rim_refinement() -> EncoderDecoder:
    """96 x 48 patch of the shaft's surface round a rim, RGB, diameter, slant, lateral place, kind of rim: its side."""
    return EncoderDecoder(9, 1, (32, 48, 64, 64), ((2, 2), (2, 2), (2, 2)))


def take_weights(model: EncoderDecoder, path: Path) -> None:
    """Load an exported network, in which every batch norm is folded into the convolution before it.

    The batch norms become scale and shift only: `set_training` then keeps them from counting statistics. Channels that
    the exported network does not take are added last, and change nothing at first.
    """
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(str(path)).graph
    stored = {i.name: numpy_helper.to_array(i) for i in graph.initializer}
    exported = [n for n in graph.node if n.op_type == "Conv"]
    order: list[nn.Conv2d] = []
    hooks = [
        m.register_forward_hook(lambda module, _inputs, _output: order.append(module))
        for m in model.modules()
        if isinstance(m, nn.Conv2d)
    ]
    model.eval()
    with torch.no_grad():
        model(torch.zeros(1, model.stem[0].in_channels, 256, 64))
    for hook in hooks:
        hook.remove()
    norm_after: dict[nn.Module, nn.Module] = {}
    for sequence in model.modules():
        if isinstance(sequence, nn.Sequential):
            pairs = itertools.pairwise(sequence)
            norm_after |= {a: b for a, b in pairs if isinstance(b, nn.BatchNorm2d)}
    for conv, node in zip(order, exported, strict=True):
        weight, bias = (torch.from_numpy(stored[name].copy()) for name in node.input[1:3])
        missing = conv.in_channels - weight.shape[1]
        if missing > 0:
            weight = functional.pad(weight, (0, 0, 0, 0, 0, missing))
        conv.weight.data = weight
        norm = norm_after.get(conv)
        if norm is None:
            conv.bias.data = bias
        else:
            norm.running_mean.zero_()
            norm.running_var.fill_(1.0)
            norm.weight.data.fill_((1.0 + norm.eps) ** 0.5)
            norm.bias.data = bias


def count_norms(model: EncoderDecoder, batches: list[Tensor]) -> None:
    """Give a network that goes on from exported weights batch norms that count: the same answers, by real statistics.

    Parameters
    ----------
    model : EncoderDecoder
        As `take_weights` leaves it.
    batches : list of Tensor, each of shape (n, channels, h, w)
        Views like those that it is trained on next.
    """
    sums: dict[nn.BatchNorm2d, list[Tensor]] = {}

    def count(norm: nn.Module, inputs: tuple[Tensor, ...], _output: Tensor) -> None:
        assert isinstance(norm, nn.BatchNorm2d)
        x = inputs[0].double()
        each = [x.new_tensor(x.numel() / x.shape[1]), x.sum((0, 2, 3)), (x * x).sum((0, 2, 3))]
        sums[norm] = [a + b for a, b in zip(sums[norm], each, strict=True)] if norm in sums else each

    norms = [m for m in model.modules() if isinstance(m, nn.BatchNorm2d)]
    hooks = [norm.register_forward_hook(count) for norm in norms]
    model.eval()
    with torch.no_grad():
        for batch in batches:
            model(batch)
        for hook in hooks:
            hook.remove()
        for norm, (number, total, squares) in sums.items():
            mean = total / number
            variance = (squares / number - mean**2).clamp(min=1e-6)
            gain = norm.weight.double() / (norm.running_var.double() + norm.eps).sqrt()
            shift = norm.bias.double() - gain * norm.running_mean.double()
            norm.running_mean.copy_(mean)
            norm.running_var.copy_(variance)
            norm.weight.copy_(gain * (variance + norm.eps).sqrt())
            norm.bias.copy_(shift + gain * mean)


def take_back(model: EncoderDecoder, weights: Tensor) -> None:
    """Undo the weights of the classes in a trained network's answers, before it is exported.

    A class that counts w times as much in the loss is answered as if it were w times as common, and every border with
    it lies too far out: markers came out a quarter of a millimetre too wide.
    """
    shift = torch.log(weights.float()).to(model.head.bias.device)
    # Four channels of the head for each class: one for each point of a square.
    model.head.bias.data -= (shift - shift.mean()).repeat_interleave(4)


def set_training(model: nn.Module, fresh: bool) -> None:
    """Training mode; a network that goes on from exported weights keeps its batch norms as they are."""
    model.train()
    if not fresh:
        for m in model.modules():
            if isinstance(m, nn.BatchNorm2d):
                m.eval()
