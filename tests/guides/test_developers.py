"""DEVELOPERS.md against the repository: its map, its size, the paths that it names."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from docs.folder_map import GUIDE, ROOT, drawn, import_graph, with_map

# The size that the guide was given when it replaced one of 37 kB, two thirds of it copied docstrings;
# a thousand more for the folders that came with the garage's pages.
LARGEST_BYTES = 13_000

GUIDES = [
    "DEVELOPERS.md",
    "README.md",
    *(f"docs/{path.name}" for path in sorted((ROOT / "docs").glob("*.md"))),
]
# Made by a command that the guides describe, or a pattern.
MADE_LATER = {
    "training/data/",
    "demo/index.html",
    "demo/setup.html",
    "ridelog/storage/migrations/version_N.sql",
}

_TOP = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} | {".ci", "docs"}


def test_the_map_is_the_one_that_the_imports_give() -> None:
    text = GUIDE.read_text("utf-8")
    assert text == with_map(text, drawn(import_graph())), "run python -m docs.folder_map"


def test_the_guide_stays_short() -> None:
    assert len(GUIDE.read_bytes()) <= LARGEST_BYTES


@pytest.mark.parametrize("name", GUIDES)
def test_every_path_in_the_guides_exists(name: str) -> None:
    beside = (ROOT / name).parent
    found = set(paths_in((ROOT / name).read_text("utf-8"))) - MADE_LATER
    assert not [path for path in found if not (ROOT / path).exists() and not (beside / path).exists()]


def test_paths_are_recognised() -> None:
    text = "`vision/read.py` and [a](docs/b.md#c), `.ci/run`; not `make test`, `a/b`, http://x/docs/y"
    assert paths_in(text) == ["vision/read.py", "docs/b.md", ".ci/run"]


def paths_in(text: str) -> list[str]:
    """Paths in code spans and links that begin with a folder or name a file of the repository."""
    found = re.findall(r"`([^`\s]+)`|\]\(([^)#\s]+)", text)
    spans = [code or link for code, link in found]
    return [s for s in spans if _is_path(s)]


def _is_path(span: str) -> bool:
    if re.search(r"[*{}<>:]|^-|^/", span):
        return False
    first = Path(span).parts[0]
    return ("/" in span and first in _TOP) or bool(re.fullmatch(r"[A-Z][A-Z.a-z]*\.(md|cff|txt|toml)", span))
