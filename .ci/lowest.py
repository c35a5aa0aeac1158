"""Write the lowest versions that pyproject allows, as pip constraints: ``python .ci/lowest.py > lowest.txt``."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path


def lowest(requirements: list[str]) -> list[str]:
    """Turn ``name>=1.2`` into ``name==1.2``; pip takes that for 1.2.0 too.

    Raises
    ------
    ValueError
        Where a requirement has no lower bound, or more than one.
    """
    found = set()
    for requirement in requirements:
        parts = re.fullmatch(r"([A-Za-z0-9._-]+)(\[[a-z,]+\])?>=([0-9][0-9.]*)", requirement)
        if parts is None:
            raise ValueError(f"{requirement!r} is not of the form name>=version")
        found.add(f"{parts[1]}=={parts[3]}")
    return sorted(found)


def main() -> None:
    """Print the constraints for the program and its tests."""
    project = tomllib.loads((Path(__file__).resolve().parents[1] / "pyproject.toml").read_text("utf-8"))[
        "project"
    ]
    print("\n".join(lowest(project["dependencies"] + project["optional-dependencies"]["dev"])))


if __name__ == "__main__":
    main()
