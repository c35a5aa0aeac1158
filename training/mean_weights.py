"""The mean of two exported networks' weights: ``python training/mean_weights.py A.onnx B.onnx --out MEAN.onnx``.

Of a network that was trained on from another: photographs unlike its scenes are often read best half way between.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np


def mean_weights(one: Path, other: Path, out: Path) -> None:
    """Write the mean of two networks of the same shape."""
    import onnx
    from onnx import numpy_helper

    model, second = onnx.load(str(one)), onnx.load(str(other))
    weights = {i.name: numpy_helper.to_array(i) for i in second.graph.initializer}
    for stored in model.graph.initializer:
        value = numpy_helper.to_array(stored)
        if np.issubdtype(value.dtype, np.floating):
            mean = (value + weights[stored.name]) / 2
            stored.CopyFrom(numpy_helper.from_array(mean.astype(value.dtype), stored.name))
    onnx.save(model, str(out))


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split(":")[0])
    parser.add_argument("networks", type=Path, nargs=2)
    parser.add_argument("--out", type=Path, required=True)
    args = parser.parse_args()
    one, other = args.networks
    mean_weights(one, other, args.out)


if __name__ == "__main__":
    main()
