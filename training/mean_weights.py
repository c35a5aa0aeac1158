"""The mean of two networks' weights: ``python training/mean_weights.py A.onnx B.onnx --share 0.3 --out MEAN.onnx``.

Of a network that was trained on from another: photographs unlike its scenes are often read best half way between.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any


def mean_weights(one: Path, other: Path, out: Path, share: float = 0.5) -> None:
    """Write the mean of two networks of the same shape, `share` of it the other's."""
    import onnx
    from onnx import numpy_helper

    model, second = onnx.load(str(one)), onnx.load(str(other))
    # In the order of the layers: exporters name weights as they please.
    for stored, more in zip(_weights(model), _weights(second), strict=True):
        a, b = numpy_helper.to_array(stored), numpy_helper.to_array(more)
        mean = (1 - share) * a + share * b
        stored.CopyFrom(numpy_helper.from_array(mean.astype(a.dtype), stored.name))
    onnx.save(model, str(out))


def _weights(model: Any) -> list[Any]:
    """Weights and biases of the convolutions: all that such a network has."""
    stored = {i.name: i for i in model.graph.initializer}
    layers = [node for node in model.graph.node if node.op_type == "Conv"]
    return [stored[name] for layer in layers for name in layer.input[1:3]]


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split(":")[0])
    parser.add_argument("networks", type=Path, nargs=2)
    parser.add_argument("--share", type=float, default=0.5, help="of the second network")
    parser.add_argument("--out", type=Path, required=True)
    args = parser.parse_args()
    one, other = args.networks
    mean_weights(one, other, args.out, args.share)


if __name__ == "__main__":
    main()
