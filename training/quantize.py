"""Make networks of 8-bit integers of trained ones: ``python training/quantize.py [NAME ...]``.

Integer products take two fifths of the time of 32-bit floats on processors that have them (VNNI, Arm's dot product) and
no longer elsewhere. Weights, and what one layer hands to the next, become integers; the first layer, which sees the
photo, and the last one, which answers, stay as trained. The ranges of what layers hand on are those that they have in
views of photos in this repository.

Only networks that classify views of a shaft already found are made so: the same done to the one that finds it, or to
those of its silhouettes, moves lengths by more than a tenth of their uncertainty (docs/measured.md, "Networks of
integers").
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

ROOT = Path(__file__).parents[1]
TRAINED, USED = ROOT / "training" / "trained", ROOT / "vision" / "networks"
PHOTOS = ROOT / "tests" / "vision" / "photos"
# Views by which the ranges are found [judgement].
VIEWS = 24
# A network is asked only where others leave something open: its ranges are found in the views of another one.
_SAME_VIEWS = {
    "part_segmentation_b": "part_segmentation",
    "part_segmentation_c": "part_segmentation",
    "part_segmentation_d": "part_segmentation",
    "rim_refinement_b": "rim_refinement_a",
}


def views_of_photos() -> dict[str, list[np.ndarray]]:
    """Read the photos, and keep what each network is shown, float32 of shape (n, channels, rows, columns)."""
    from bench.score import load_truths, read_photos
    from vision.networks import run

    shown: dict[str, list[np.ndarray]] = {}
    asked = run._run

    def remembered(name: str, channels: np.ndarray) -> np.ndarray:
        shown.setdefault(name, []).append(channels)
        return asked(name, channels)

    run._run = remembered
    try:
        list(read_photos(load_truths(PHOTOS)))
    finally:
        run._run = asked
    return shown


def quantize(trained: Path, out: Path, views: list[np.ndarray]) -> None:
    """Write a network of integers.

    Parameters
    ----------
    trained, out : Path
        ONNX files.
    views : list of ndarray of float32, shape (n, channels, rows, columns)
        More channels than the network has are left out.
    """
    import onnx
    from onnxruntime.quantization import CalibrationDataReader, QuantFormat, QuantType, quantize_static

    graph = onnx.load(str(trained)).graph
    channels = graph.input[0].type.tensor_type.shape.dim[1].dim_value
    layers = [node.name for node in graph.node if node.op_type == "Conv"]

    class Views(CalibrationDataReader):  # type: ignore[misc]
        left: Iterator[np.ndarray] = iter(views)

        def get_next(self) -> dict[str, np.ndarray] | None:
            view = next(self.left, None)
            return None if view is None else {graph.input[0].name: view[:, :channels]}

    quantize_static(
        str(trained),
        str(out),
        Views(),
        quant_format=QuantFormat.QDQ,
        activation_type=QuantType.QUInt8,
        weight_type=QuantType.QInt8,
        per_channel=True,
        # Weights of 7 bits: where a processor adds two products in 16 bits, their sum still fits.
        reduce_range=True,
        nodes_to_exclude=[layers[0], layers[-1]],
    )


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split(":")[0])
    parser.add_argument("networks", nargs="*", help="names without .onnx; all of them where none is given")
    parser.add_argument("--out", type=Path, default=USED)
    args = parser.parse_args()
    names = args.networks or sorted(path.stem for path in TRAINED.glob("*.onnx"))
    shown = views_of_photos()
    for name in names:
        views = shown[_SAME_VIEWS.get(name, name)]
        some = random.Random(1).sample(views, min(VIEWS, len(views)))
        with TemporaryDirectory() as folder:
            made = Path(folder) / f"{name}.onnx"
            quantize(TRAINED / f"{name}.onnx", made, some)
            (args.out / f"{name}.onnx").write_bytes(made.read_bytes())
        print(name)


if __name__ == "__main__":
    main()
