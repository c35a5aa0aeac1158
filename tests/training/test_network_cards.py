"""The cards of docs/networks.md against the networks' files: checksum by hashlib, input's shape by onnx."""

from __future__ import annotations

import hashlib
import math
import re
from pathlib import Path

import onnx
import pytest

ROOT = Path(__file__).parents[2]
FILES = sorted((ROOT / "vision" / "networks").glob("*.onnx"))
# What networks of integers were made of.
TRAINED = {path.stem: path for path in (ROOT / "training" / "trained").glob("*.onnx")}
ROWS = (
    "Task",
    "Input",
    "Output",
    "Architecture",
    "Training data",
    "Training",
    "Quality",
    "Limits",
    "SHA-256",
)


def cards() -> dict[str, dict[str, str]]:
    """Parse each card: its rows by name."""
    found = {}
    for section in (ROOT / "docs" / "networks.md").read_text(encoding="utf-8").split("\n## ")[1:]:
        name, _, body = section.partition("\n")
        rows = dict(re.findall(r"^\| ([^|]+?) \| (.+) \|$", body, flags=re.MULTILINE))
        rows.pop("---", None)
        if re.fullmatch("[a-z_]+", name.strip()):  # other sections have tables, too
            found[name.strip()] = rows
    return found


def test_every_network_has_a_card_and_every_card_a_network() -> None:
    assert set(cards()) == {path.stem for path in FILES} and len(FILES) == 9


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_card_is_that_of_the_file(path: Path) -> None:
    card = cards()[path.stem]
    assert tuple(card) == ROWS
    trained = TRAINED.get(path.stem, path)
    sums = [f"`{hashlib.sha256(file.read_bytes()).hexdigest()}`" for file in dict.fromkeys((trained, path))]
    assert card["SHA-256"] == "; of integers ".join(sums)
    model = onnx.load(str(trained))
    graph = model.graph
    (trained_on,) = (kept.value for kept in model.metadata_props if kept.key == "trained_on")
    assert card["Input"].startswith(f"`{trained_on}`")
    parameters = sum(math.prod(stored.dims) for stored in graph.initializer)
    assert f"{parameters:,} parameters" in card["Architecture"]
    (outputs,) = (dim.dim_value for dim in graph.output[0].type.tensor_type.shape.dim[1:2])
    assert int(card["Output"].split()[0]) == outputs


@pytest.mark.parametrize("name", sorted(cards()))
def test_source_of_a_card_s_figures_is_in_the_log_of_measurements(name: str) -> None:
    quality = cards()[name]["Quality"]
    source = re.search(r'\(source: \[measured\.md\]\(measured\.md\), "([^"]+)"', quality)
    assert source is not None
    log = (ROOT / "docs" / "measured.md").read_text(encoding="utf-8")
    (section,) = (text for text in re.split(r"\n## ", log) if text.startswith(source[1] + "\n"))
    # Figures with a decimal point, as they stand in the log.
    figures = re.findall(r"-?\d+\.\d+", quality[: source.start()])
    assert figures and [one for one in figures if one not in section] == []
