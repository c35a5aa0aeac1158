"""One rendered photo of each special case, read end to end: never a wrong length, and the right refusals.

The truth is the renderer's (scenes/special.py). What a photo must be refused for is what the person
would have to change. One test a photo, so that each is read once.
"""

from __future__ import annotations

import json

import cv2
import pytest

from tests.helpers.expected_readings import EXPECTED, Expected
from tests.helpers.special_photos import (
    NAMES,
    PHOTOS,
    case,
    lengths,
    reading_of,
    truth,
    typed,
    wrong_lengths,
)
from vision.reading import Reading, Status
from vision.reasons import Reason


def _complaints(found: Reading, expected: Expected) -> list[str]:
    """In words, all that is not as it must be."""
    out = []
    there = lengths(found)
    missing = [q for q, length in there.items() if length is None]
    rightly = Status.READ if not missing else Status.REFUSED if len(missing) == 3 else Status.PARTIAL
    if found.status is not rightly:
        out.append(f"called {found.status} with {missing} missing")
    if missing and found.reason is None:
        out.append(f"no reason why {missing} are missing")
    if found.status not in expected.statuses:
        out.append(f"{found.status}")
    given = [note.reason for note in found.notes]
    # A refusal has its cause as first reason; in a partial reading any reason may be first.
    weighty = given[:1] if found.status is Status.REFUSED else given
    if expected.reasons and not set(weighty) & set(expected.reasons):
        out.append(f"reasons {[str(r) for r in given]}")
    out += [f"no {q}" for q in expected.answered if there[q] is None]
    out += [f"{q} answered" for q in expected.hidden if there[q] is not None]
    if found.marker_at_stop not in expected.at_stop:
        out.append(f"marker_at_stop {found.marker_at_stop}")
    if found.card not in (None, 3):
        out.append(f"card {found.card}")
    return out


def test_every_photo_is_expected_to_be_something() -> None:
    assert set(NAMES) == set(EXPECTED)


@pytest.mark.parametrize("name", NAMES)
def test_special_case(name: str) -> None:
    found = reading_of(name)
    assert wrong_lengths(name, found) + _complaints(found, EXPECTED[name]) == []


@pytest.mark.parametrize("threads", [1, 2])
def test_a_second_shaft_is_seen_with_however_many_threads(threads: int) -> None:
    usual = cv2.getNumThreads()
    cv2.setNumThreads(threads)
    try:
        found = case("two-shafts").read()
    finally:
        cv2.setNumThreads(usual)
    assert [note.reason for note in found.notes] == [Reason.TWO_SHAFTS]


def test_the_hidden_seal_is_hidden() -> None:
    assert truth("hidden-seal")["seal_visible"] < 0.1


def _rims(name: str) -> str:
    """Return the true rims as a user sets them: three points on each, to the pixel."""
    words = []
    for option, rim in (("seal", "seal_rim_px"), ("marker", "marker_rim_px"), ("far", "far_rim_px")):
        points = [truth(name)[rim][i] for i in (2, 4, 6)]
        words.append(f"{option}=" + ";".join(f"{x:.0f},{y:.0f}" for x, y in points))
    return " ".join(words)


@pytest.mark.parametrize("name", ["gaiter", "seal-left"])
def test_rims_set_by_hand_give_lengths_through_the_command(name: str) -> None:
    from click.testing import CliRunner

    from strandline.__main__ import cli

    t = typed(name)
    words = ["read", str(PHOTOS / f"{name}.jpg"), "--json", "--shaft", t.shaft, "--layout", t.layout]
    words += ["--print-scale", str(t.print_scale), "--marker-width", str(t.marker_width)]
    result = CliRunner().invoke(cli, [*words, "--rims", _rims(name)])
    assert result.exit_code == 0, result.output
    (line,) = [json.loads(x) for x in result.stdout.splitlines()]
    assert line["status"] == "read", line["reasons"]
    for q in ("exposed_mm", "marker_mm", "remaining_mm"):
        assert abs(line[q]["value"] - truth(name)[q]) < max(1.0, line[q]["u95"]), q
