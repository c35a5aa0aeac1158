"""`logbook repair`: what was bad is listed, and the copy is sound; a bad bike's file costs that bike alone."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from tests.helpers.made_day import ROSTER, MadeDay, json_lines, run
from tests.helpers.made_records import BIKE, new_logbook, put_ride


def test_repair_lists_what_it_leaves_out(tmp_path: Path) -> None:
    """A date that an older program let in."""
    with new_logbook(tmp_path) as book:
        put_ride(book)
        put_ride(book, day=2)
        path = book.path
    connection = sqlite3.connect(path)
    connection.execute("DROP TRIGGER ride_entry_no_update")
    (trigger,) = ("ride_entry_no_update",)
    connection.execute("UPDATE ride_entry SET date = '0000-01-01' WHERE rowid = 1")
    connection.execute(
        f"CREATE TRIGGER {trigger} BEFORE UPDATE ON ride_entry\n"
        "BEGIN SELECT RAISE(ABORT, 'append-only: ride_entry is corrected by a new row'); END"
    )
    connection.commit()
    connection.close()
    before = path.read_bytes()
    listed = run("ride", "list", "--logbook", path)
    assert (listed.exit_code, "logbook repair" in listed.output) == (1, True)
    assert "year 0" in run("logbook", "check", "--logbook", path).output
    result = run("logbook", "repair", "-o", tmp_path / "sound.sqlite", "--logbook", path)
    assert result.exit_code == 0, result.output
    assert "left out: ride_entry" in result.output
    assert path.read_bytes() == before
    assert run("logbook", "check", "--logbook", tmp_path / "sound.sqlite").exit_code == 0
    assert run("ride", "list", "--logbook", tmp_path / "sound.sqlite").exit_code == 0


def test_deep_toml_costs_its_bike_alone(tmp_path: Path) -> None:
    """`bike list` and the day go on with the others."""
    bikes = tmp_path / "bikes"
    bikes.mkdir()
    (bikes / "good.toml").write_text(BIKE, encoding="utf-8")
    (bikes / "deep.toml").write_text("a = " + "[" * 5_000, encoding="utf-8")
    result = run("bike", "list", "--json", "--logbook", tmp_path / "logbook.sqlite")
    found = {one["name"]: one["problem"] for one in json_lines(result)[0]["bikes"]}
    assert found["Grey twin"] is None
    assert "deep" in found["deep"]
    day = MadeDay(tmp_path / "day", ROSTER)
    (day.folder / "bikes" / "single.toml").write_text("a = " + "[" * 5_000, encoding="utf-8")
    problems = [one.problem for one in day.request.read_roster().entries]
    assert [bool(one) for one in problems] == [False, True]
