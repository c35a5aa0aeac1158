"""What the set-up installs: each file pinned by version and hash, and the same versions everywhere.

Names are compared as PEP 503 has it.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LOCKS = ("build", "run", "dev", "tools", "fuzz")


def normal(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def locked(name: str) -> dict[str, tuple[str, int]]:
    """Version and number of hashes of each package in a file of requirements/."""
    found: dict[str, tuple[str, int]] = {}
    text = (ROOT / "requirements" / f"{name}.txt").read_text("utf-8").replace("\\\n", " ")
    for line in text.splitlines():
        match = re.match(r"([A-Za-z0-9._-]+)==([^ ;]+)", line)
        assert match, line
        found[normal(match[1])] = (match[2], len(re.findall(r"--hash=sha256:[0-9a-f]{64}\b", line)))
    return found


def constrained() -> dict[str, str]:
    lines = (ROOT / "constraints.txt").read_text("utf-8").splitlines()
    pairs = (line.split("==") for line in lines if line and not line.startswith("#"))
    return {normal(name): version for name, version in pairs}


def named(*extras: str) -> set[str]:
    """Names that pyproject.toml asks for."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    asked = [*project["dependencies"]]
    for extra in extras:
        asked += project["optional-dependencies"][extra]
    return {normal(re.split(r"[\[>=<~!; ]", line)[0]) for line in asked}


@pytest.mark.parametrize("name", LOCKS)
def test_each_file_has_its_hash_and_the_usual_version(name: str) -> None:
    versions = constrained()
    for package, (version, hashes) in locked(name).items():
        assert hashes >= 1, package
        assert versions.get(package, version) == version, f"{package}: run `make lock`"


@pytest.mark.parametrize(
    ("name", "extras"),
    [
        ("run", ()),
        ("dev", ("dev",)),
        ("tools", ("docs", "mutants", "supply", "cluster")),
        ("fuzz", ("fuzz",)),
    ],
)
def test_what_the_project_asks_for_is_locked(name: str, extras: tuple[str, ...]) -> None:
    assert named(*extras) <= set(locked(name)), "run `make lock`"


def test_what_builds_the_package_is_locked() -> None:
    build = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["build-system"]["requires"]
    assert {normal(re.split(r"[>=<]", line)[0]) for line in build} <= set(locked("build"))


@pytest.mark.parametrize("name", LOCKS)
def test_no_place_on_the_network_is_named(name: str) -> None:
    assert "://" not in (ROOT / "requirements" / f"{name}.txt").read_text("utf-8")


def test_the_set_up_checks_hashes() -> None:
    makefile = (ROOT / "Makefile").read_text("utf-8")
    assert makefile.count("$(LOCKED) -r requirements/") == 5
    assert "LOCKED = $(PIP) --require-hashes" in makefile
