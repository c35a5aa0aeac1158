"""The examples in docstrings give what they show."""

from __future__ import annotations

import doctest
import importlib

import pytest

from docs.folder_map import ROOT

_ROOMS = ("calibration", "vision", "suspension", "ridelog", "strandline", "scenes", "bench", "docs")
_MODULES = [
    ".".join(path.relative_to(ROOT).with_suffix("").parts)
    for room in _ROOMS
    for path in sorted((ROOT / room).rglob("*.py"))
    if ">>> " in path.read_text("utf-8")
]


def test_there_are_examples() -> None:
    assert _MODULES


@pytest.mark.parametrize("module", _MODULES)
def test_examples_give_what_they_show(module: str) -> None:
    found = doctest.testmod(importlib.import_module(module))
    assert found.attempted and not found.failed
