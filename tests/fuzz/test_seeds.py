"""Every seed of the fuzzers, and every input that once made a parser end in anything but words, parsed again."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzz.targets import TARGETS

SEEDS = Path(__file__).parent / "seeds"


@pytest.mark.parametrize("name", TARGETS)
def test_seeds(name: str) -> None:
    seeds = sorted((SEEDS / name).iterdir())
    assert seeds
    for seed in seeds:
        try:
            TARGETS[name].attack(seed.read_bytes())
        except Exception as error:
            raise AssertionError(f"{name}/{seed.name}: {type(error).__name__}: {error}") from error


def test_what_is_fuzzed_has_seeds() -> None:
    assert {one.name for one in SEEDS.iterdir()} == set(TARGETS)
