"""Several photos are read in a process that can die: what it takes along is one photo."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from strandline.__main__ import cli
from strandline.read import apart
from strandline.read.apart import ReadJob, read_jobs
from strandline.read.inputs import ReadInputs
from strandline.read.parse import ReadOptions, parse_options
from strandline.shared.worker import Limits
from tests.helpers import stub_read

SAMPLES = Path(__file__).parents[3] / "sample-images"


@pytest.fixture
def inputs() -> ReadInputs:
    return parse_options(ReadOptions("41 mm", "fork"))


def test_a_crash_a_photo_that_hangs_and_one_too_large_cost_themselves(
    inputs: ReadInputs, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(apart, "READER", stub_read.READER)
    monkeypatch.setattr(apart, "LIMITS", Limits(seconds=6.0))
    names = ["a.jpg", "dies.jpg", "b.jpg", "hangs.jpg", "greedy.jpg", "c.jpg"]
    answers = list(read_jobs([ReadJob(name, inputs) for name in names]))
    assert [one.outcome.name for one in answers] == names
    assert [one.outcome.code for one in answers] == [
        None,
        "lost_died",
        None,
        "lost_time",
        "lost_memory",
        None,
    ]
    assert [one.outcome.refused for one in answers] == [False, True, False, True, True, False]
    assert "signal SIGABRT" in answers[1].outcome.messages[0].what


def test_lengths_are_those_of_this_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Against the same reading without a process of its own, to the last digit."""
    photos = [str(SAMPLES / name) for name in ("coil-over-black-o-ring.jpg", "fork-without-card.jpg")]
    words = ["read", "--shaft", "13.97 mm", "--layout", "shock", "--json", *photos, "gone.jpg"]
    said = []
    for at_least in (3, 99):
        monkeypatch.setattr(apart, "AT_LEAST", at_least)
        said.append(CliRunner().invoke(cli, words).stdout)
    assert said[0] == said[1]
    lines = [json.loads(line) for line in said[0].splitlines()]
    assert [line["status"] for line in lines] == ["read", "refused", "refused"]
    # Source: the scene, sample-images/README.md.
    assert lines[0]["exposed_mm"]["value"] == pytest.approx(68.31, abs=0.7)
