"""Scoring of readings: cases worked out by hand from the rules in bench/scoring.py; no outside source."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from bench.score import PHOTOS, load_truths, main
from bench.scoring import Expected, Result, Truth, failure, score, summary

TRUE_MM = {"exposed_mm": 100.0, "marker_mm": 40.0, "remaining_mm": 60.0}
CLEAR = {"seal_visible": 1.0, "marker_visible": 1.0, "far_visible": 1.0}


def truth(trap: str | None = None, **fields: Any) -> Truth:
    declared = {"card": 3, "marker_width_mm": 4.0}
    given = {"split": "plain", "trap": trap, "declared": declared, **TRUE_MM, **CLEAR, **fields}
    return Truth(Path("photo.jpg"), given)


def reading(u95: Any = 0.5, status: str = "read", **errors_mm: float) -> dict[str, Any]:
    lengths = {
        name: {"value": value + errors_mm.get(name, 0.0), "u95": u95} for name, value in TRUE_MM.items()
    }
    return {"photo": "photo.jpg", "status": status, "card": 3, "marker_at_stop": False, **lengths}


def results(photo: Truth, read: dict[str, Any] | None) -> list[Result]:
    return [one.result for one in score(photo, read)]


def test_an_error_is_wrong_beyond_a_millimetre_and_beyond_its_u95() -> None:
    assert results(truth(), reading(0.5, exposed_mm=1.0, marker_mm=-1.01)) == [
        Result.RIGHT,
        Result.WRONG,
        Result.RIGHT,
    ]
    assert results(truth(), reading(2.0, exposed_mm=2.0, marker_mm=-2.01))[:2] == [Result.RIGHT, Result.WRONG]
    # The error of a truth that a person marked comes on top.
    assert results(truth(marking_error_mm=0.5), reading(0.5, exposed_mm=1.5, marker_mm=1.51))[:2] == [
        Result.RIGHT,
        Result.WRONG,
    ]


@pytest.mark.parametrize("u95", [None, 0.0, -1.0, 3.01, float("nan"), float("inf"), True, "0.5"])
def test_an_answer_without_a_usable_uncertainty_is_none(u95: object) -> None:
    assert results(truth(), reading(u95)) == [Result.SILENT] * 3


def test_a_refused_or_missing_reading_is_silent() -> None:
    assert results(truth(), reading(status="refused")) == [Result.SILENT] * 3
    assert results(truth(), None) == [Result.SILENT] * 3
    assert failure(truth(), reading(status="refused")) is None
    assert failure(truth(), None) == "no reading"


def test_a_hidden_edge_need_not_be_answered() -> None:
    hidden = truth(far_visible=0.34)
    assert [hidden.expected(name) for name in TRUE_MM] == [Expected.EITHER, Expected.ANSWER, Expected.EITHER]
    assert truth(far_visible=0.35).expected("exposed_mm") is Expected.ANSWER


def test_traps() -> None:
    # Where the card cannot give the scale, a right length is luck.
    assert results(truth("wrong_card_scale"), reading(marker_mm=5.0)) == [
        Result.LUCKY,
        Result.WRONG,
        Result.LUCKY,
    ]
    # Without a marker the exposed length alone can be right.
    bare = truth("no_marker", marker_mm=None, remaining_mm=None)
    assert results(bare, reading()) == [Result.RIGHT, Result.WRONG, Result.WRONG]
    # A marker in the bumper is a lower bound, which has to be said.
    assert results(truth("marker_in_bumper"), reading()) == [Result.RIGHT, Result.WRONG, Result.WRONG]
    said = reading() | {"marker_at_stop": True}
    assert results(truth("marker_in_bumper"), said) == [Result.RIGHT] * 3


def test_failures_of_a_reading_as_a_whole() -> None:
    assert failure(truth(), reading()) is None
    assert failure(truth(), reading() | {"card": 4}) == "card 4 instead of 3"
    assert failure(truth(), reading() | {"card": None}) is None
    assert failure(truth(), reading(status="crashed")) is not None
    at_stop = reading() | {"marker_at_stop": True}
    assert failure(truth(), at_stop) is not None
    # Free length 6.0 mm less the band's 4.0 mm: 2 mm, which may be touching.
    assert failure(truth(remaining_mm=6.0), at_stop) is None


def test_counts_over_several_photos() -> None:
    photos = [truth(), truth(seal_visible=0.2), truth("no_marker", marker_mm=None, remaining_mm=None)]
    read = [reading(exposed_mm=0.48, marker_mm=1.5), reading(exposed_mm=0.6), reading()]
    scored = [one for photo, what in zip(photos, read, strict=True) for one in score(photo, what)]
    found = summary(scored, {"photo.jpg": "no reading"})
    exposed = found["lengths"]["plain exposed_mm"]
    assert (exposed["answerable"], exposed["answered"], exposed["wrong"]) == (1, 1, 0)
    assert exposed["median_mm"] == pytest.approx(0.48) and exposed["largest_mm"] == pytest.approx(0.6)
    assert found["lengths"]["plain marker_mm"]["wrong"] == 2
    # Errors 0.48, 1.5, 0 of the first photo; 0.6, 0, 0 of the second; 0 of the third: two of seven are over 0.5.
    assert found["coverage"]["plain"]["answers"] == 7
    assert found["coverage"]["plain"]["within_u95"] == pytest.approx(5 / 7)
    assert found["traps"] == {"photos": 1, "wrong": 2, "lucky": 0}
    assert (found["wrong"], found["failures"]) == (3, 1)


def test_two_photos_are_read_and_scored(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("plain", "curled-card"):
        for ending in (".jpg", ".json"):
            shutil.copy(PHOTOS / f"{name}{ending}", tmp_path)
    assert main([str(tmp_path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    for length in ("exposed_mm", "marker_mm", "remaining_mm"):
        row = found["lengths"][f"tough {length}"]
        assert (row["answerable"], row["answered"], row["wrong"]) == (1, 1, 0)
    assert found["traps"] == {"photos": 1, "wrong": 0, "lucky": 0}
    assert (found["wrong"], found["failures"]) == (0, 0)


def test_wrong_readings_are_listed_and_fail(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for ending in (".jpg", ".json"):
        shutil.copy(PHOTOS / f"plain{ending}", tmp_path)
    (photo,) = load_truths(tmp_path)
    line = {"photo": "plain.jpg", "status": "partial", "exposed_mm": {"value": 110.0, "u95": 0.5}}
    (tmp_path / "readings.jsonl").write_text(json.dumps(line) + "\n")
    assert main([str(tmp_path), "--readings", str(tmp_path / "readings.jsonl")]) == 1
    out = capsys.readouterr().out
    error_mm = 110.0 - photo.fields["exposed_mm"]
    assert f"plain.jpg: exposed_mm wrong {error_mm:+.2f} ± 0.50 mm" in out
    assert "plain.jpg: marker_mm silent" in out
