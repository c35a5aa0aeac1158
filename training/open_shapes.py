"""Open the number of views and rows of exported networks: ``python training/open_shapes.py FILE...``.

An export states the one size that the network was traced with. A network of convolutions knows no length: it is given
as many rows as a shaft needs, and as many patches as there are rims.
"""

from __future__ import annotations

import sys
from pathlib import Path

import onnx

# Names of the sizes that are open, as ONNX's `dim_param` has them.
VIEWS, ROWS = "views", "rows"
# Key of the model's metadata under which the size that it was trained on is kept.
TRAINED_ON = "trained_on"


def open_shapes(path: Path) -> None:
    """Open the first and third size of input and scores, and keep what they were in the model's metadata.

    Sizes of what lies between are left out: they follow. A file whose sizes are open already stays as it is.
    """
    model = onnx.load(path)
    (view,) = model.graph.input
    trained_on = [one.dim_value for one in view.type.tensor_type.shape.dim]
    if not all(trained_on):
        return
    for value in (view, *model.graph.output):
        sizes = value.type.tensor_type.shape.dim
        sizes[0].dim_param, sizes[2].dim_param = VIEWS, ROWS
    del model.graph.value_info[:]
    onnx.helper.set_model_props(model, {TRAINED_ON: " x ".join(map(str, trained_on))})
    onnx.save(model, path)


if __name__ == "__main__":
    for name in sys.argv[1:]:
        open_shapes(Path(name))
