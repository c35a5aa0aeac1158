"""Answers kept beside a bike's file until all are there, so that the next call goes on."""

from __future__ import annotations

import json
from pathlib import Path

from strandline.bike.asking import Answers
from strandline.shared.files import make_folder, read_own, write_new

SUFFIX = ".answers"


def draft_of(target: Path) -> Path:
    """Name the file of the answers to a bike's file."""
    return target.with_suffix(SUFFIX)


def drafts_in(folder: Path) -> list[str]:
    """List the names of the bikes of which only answers are kept."""
    found = sorted(folder.glob(f"*{SUFFIX}")) if folder.is_dir() else []
    return [name for name, _ in map(load, found) if name]


def load(path: Path) -> tuple[str, Answers]:
    """Read the bike's name and the answers; empty where there are none, or the file is not as it was written."""
    try:
        kept = json.loads(read_own(path))
        return str(kept["name"]), {str(key): str(value) for key, value in kept["answers"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return "", {}


def save(path: Path, name: str, answers: Answers) -> None:
    """Keep the answers, whole or as they were before."""
    make_folder(path.parent, private=True)
    text = json.dumps({"name": name, "answers": answers}, ensure_ascii=False, indent=1)
    write_new(path, text.encode("utf-8"), force=True, private=True)
