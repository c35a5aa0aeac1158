"""``strandline read --explain`` and ``--same``: what the person and the programs get."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from strandline.read.sources import HOW_TO_HALVE, SOURCE_NAMES, how_to_halve
from tests.helpers.made_observations import TRUE_RIMS_MM, Errors, made
from tests.helpers.made_readings import SHAFT, json_lines, made_in_full, photo, put_in_place, run
from vision.lengths.budget import Source, budgets
from vision.reading import Reading, Status


def solved(moved: dict[str, float] | None = None, card: int = 3) -> list[Reading]:
    """Two readings of one shaft, from real solves of made-up points; something may have moved in between."""
    from dataclasses import replace

    rng = np.random.default_rng(20)
    errors = Errors.drawn(rng)
    elsewhere = {name: place + (moved or {}).get(name, 0.0) for name, place in TRUE_RIMS_MM.items()}
    first, second = made(rng, errors=errors), made(rng, errors=errors, rims_mm=elsewhere)
    return [first.reading(), replace(second.reading(), card=card)]


def two_photos(tmp_path: Path) -> list[Path]:
    return [photo(tmp_path / "a.jpg", (64, 48)), photo(tmp_path / "b.jpg", (64, 40))]


def readings_in_turn(monkeypatch: pytest.MonkeyPatch, readings: list[Reading]) -> None:
    turn: Iterator[Reading] = iter(readings)
    put_in_place(monkeypatch, lambda photo, focal, inputs: next(turn))


def test_every_source_has_words_and_advice() -> None:
    codes = {source.value for source in Source}
    assert set(SOURCE_NAMES) == codes == set(HOW_TO_HALVE)
    assert "--focal-35mm" in how_to_halve(Source.FOCAL, "assumed")
    assert "--focal-35mm" not in how_to_halve(Source.FOCAL, "exif")


def test_of_a_hidden_marker_its_width_is_asked_for() -> None:
    assert "--marker-width" in how_to_halve(Source.MARKER, "exif", marker_hidden=True)
    assert "--marker-width" not in how_to_halve(Source.MARKER, "exif")
    hidden = Path(__file__).parents[2] / "vision" / "photos" / "hidden-edge.jpg"
    stated = ("--shaft", "11.51 mm", "--layout", "shock", "--print-scale", "1.000", "--explain", "--json")
    (line,) = json_lines(run("read", hidden, *stated))
    advice = {one["source"]: one["how_to_halve"] for one in line["budget"]["remaining_mm"]["sources"]}
    assert "--marker-width" in advice["marker"]


def test_budget_in_json_is_that_of_the_solve(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    reading = solved()[0]
    put_in_place(monkeypatch, reading)
    name = photo(tmp_path / "a.jpg")
    (line,) = json_lines(run("read", name, *SHAFT, "--layout", "fork", "--json", "--explain"))
    assert reading.joint is not None
    for budget in budgets(reading.joint):
        given = line["budget"][f"{budget.quantity}_mm"]
        assert given["u95"] == pytest.approx(line[f"{budget.quantity}_mm"]["u95"], abs=1e-6)
        assert np.sqrt(sum(one["u95"] ** 2 for one in given["sources"])) == pytest.approx(
            given["u95"], rel=1e-4
        )
        assert [one["source"] for one in given["sources"]] == [share.source.value for share in budget.shares]
        assert all(
            one["whole_if_halved"] < given["u95"] + 1e-6 and one["how_to_halve"] for one in given["sources"]
        )
        assert given["to_halve"] == [source.value for source in budget.to_halve]
    (plain,) = json_lines(run("read", name, *SHAFT, "--layout", "fork", "--json"))
    assert "budget" not in plain


@pytest.mark.parametrize(("units", "per_unit", "places"), [("mm", 1.0, 2), ("in", 25.4, 4)])
def test_budget_as_a_person_reads_it(
    units: str, per_unit: float, places: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    reading = solved()[0]
    put_in_place(monkeypatch, reading)
    result = run("read", photo(tmp_path / "a.jpg"), *SHAFT, "--layout", "fork", "--explain", "--units", units)
    assert result.exit_code == 0
    said = " ".join(result.output.split("Where the ± of a.jpg comes from")[1].split())
    assert reading.joint is not None
    exposed = budgets(reading.joint)[0]
    first = exposed.shares[0]
    halved = f"{first.whole_if_halved_mm / per_unit:.{places}f} {units}"
    assert f"Exposed: half the ± from the {SOURCE_NAMES[first.source.value]} turns ±" in said
    assert f"to ± {halved}" in said
    assert " ".join(HOW_TO_HALVE[exposed.to_halve[0].value].split()) in said
    columns = [f"{b.u95_mm / per_unit:.{places}f}" for b in budgets(reading.joint)]
    assert f"total {' '.join(columns)}" in said


def test_nothing_to_explain_where_nothing_was_solved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, made_in_full())
    result = run("read", photo(tmp_path / "a.jpg"), *SHAFT, "--layout", "fork", "--explain")
    assert result.exit_code == 0 and "comes from" not in result.output


def test_two_photos_that_agree(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pair = solved()
    readings_in_turn(monkeypatch, pair * 2)
    a, b = two_photos(tmp_path)
    words = [*SHAFT, "--layout", "fork", "--same", "--extended", "130mm", "--stroke", "100mm"]
    words += ["--state", "on-wheels"]
    result = run("read", a, b, *words, "--json")
    assert result.exit_code == 0, result.output
    *each, both = json_lines(result)
    assert [line["photo"] for line in each] == [str(a), str(b)]
    assert both["photo"] == "together" and both["status"] == "read"
    same = both["same"]
    assert same["verdict"] == "agree" and same["marker_moved"] is False and same["card_laid_anew"] is False
    assert same["photos"] == [str(a), str(b)]
    assert {d["quantity"] for d in same["differences"]} == {"exposed", "marker", "remaining"}
    assert both["marker_mm"]["u95"] < min(line["marker_mm"]["u95"] for line in each)
    # The rider's question is answered from the joint reading.
    assert both["stroke"]["used_mm"]["u95"] < each[0]["stroke"]["used_mm"]["u95"]
    table = run("read", a, b, *words)
    assert table.exit_code == 0
    assert "\ntogether" in table.output and "The photos agree" in table.output
    assert "do not average out" in " ".join(table.output.split())


def test_a_marker_that_moved_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    readings_in_turn(monkeypatch, solved({"marker": 3.0}) * 2)
    names = two_photos(tmp_path)
    result = run("read", *names, *SHAFT, "--layout", "fork", "--same", "--json")
    both = json_lines(result)[-1]
    assert both["same"]["marker_moved"] is True and both["status"] == "partial"
    assert both["exposed_mm"] is not None and both["marker_mm"] is None and both["remaining_mm"] is None
    assert {(r["code"], r["quantity"]) for r in both["reasons"]} == {
        ("marker_moved", "marker"),
        ("marker_moved", "remaining"),
    }
    said = " ".join(run("read", *names, *SHAFT, "--layout", "fork", "--same").output.split())
    assert "The marker moved between the photos" in said
    assert "more than their uncertainty" in said


def test_a_leg_that_moved_says_the_marker_did_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    readings_in_turn(monkeypatch, solved({"seal": 3.0}))
    both = json_lines(run("read", *two_photos(tmp_path), *SHAFT, "--layout", "fork", "--same", "--json"))[-1]
    assert both["same"]["verdict"] == "leg_moved" and both["same"]["marker_moved"] is False
    assert both["remaining_mm"] is not None and both["exposed_mm"] is None


def test_photos_that_do_not_belong_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    a, b = two_photos(tmp_path)
    one = run("read", a, *SHAFT, "--layout", "fork", "--same")
    assert one.exit_code == 2 and "--same" in one.output
    readings_in_turn(monkeypatch, solved(card=4))
    other = run("read", a, b, *SHAFT, "--layout", "fork", "--same", "--json")
    assert other.exit_code == 1 and "different cards" in other.stderr
    assert len(json_lines(other)) == 2  # each is reported all the same
    readings_in_turn(monkeypatch, [solved()[0], Reading(Status.REFUSED)])
    refused = run("read", a, b, *SHAFT, "--layout", "fork", "--same")
    assert refused.exit_code == 1 and "Fewer than two" in refused.stderr
    copy = tmp_path / "copy.jpg"
    copy.write_bytes(a.read_bytes())
    readings_in_turn(monkeypatch, solved())
    twice = run("read", a, copy, *SHAFT, "--layout", "fork", "--same")
    assert twice.exit_code == 1 and "is a copy of" in twice.stderr
