"""What a roster says of legs: to a table and back, alone, and beside a bike's file, which only adds."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from ridelog.names import End
from strandline.day.identify.gaps import gaps
from strandline.day.identify.roster_file import read_roster
from strandline.day.identify.roster_line import RosterLine
from strandline.day.identify.roster_table import roster_csv, roster_lines
from strandline.day.identify.window import Window
from strandline.day.pipeline import DayRequest
from suspension.quantities.declared import extended_length, marker_width, shaft_diameter, stroke_length
from suspension.quantities.print_scale import print_scale
from suspension.stroke.leg import Layout, State
from suspension.stroke.marker import MarkerKind
from tests.helpers.made_day import FORK, Inline, MadeDay, codes, legs, run

HEAD = "card,label,kind,shaft_mm,hanging_mm,stroke_mm,marker,bike\n"
ALONE = HEAD + "3,Anna,fork,41.0,205,120,o-ring,\n3,Anna,shock,14.0,80,,o-ring,\n4,Béla,shock,,,,,\n"
FULL = RosterLine(
    7,
    "Anna, the first",
    Layout.UPSIDE_DOWN_FORK,
    shaft_diameter("1 5/8 in"),
    extended_length("205 mm ± 0.3 mm"),
    stroke_length("120 mm"),
    End.FRONT,
    "left",
    MarkerKind.O_RING,
    "red",
    marker_width("2.4 mm"),
    print_scale("0.996 x 0.998"),
    State.ON_WHEELS,
    Window(dt.date(2026, 5, 9), dt.time(9), dt.time(12, 30, 10)),
    "bikes/anna.toml",
    "a note",
    2,
)


def lines_of(text: str) -> tuple[RosterLine, ...]:
    return roster_lines(text.encode("utf-8"), "roster")


@pytest.mark.parametrize("line", [FULL, RosterLine(None, "Béla", number=2)])
def test_a_line_goes_to_a_table_and_back(line: RosterLine) -> None:
    text = roster_csv([line])
    assert roster_lines(text.encode("utf-8-sig"), "roster", needed=("label",)) == (line,)
    # A spreadsheet where the comma is the decimal mark writes semicolons, and some a line that says so.
    (back,) = roster_lines(
        ("sep=;\r\n" + roster_csv([RosterLine(3, "A")]).replace(",", ";")).encode(), "roster"
    )
    assert back == RosterLine(3, "A", number=3)


def test_a_spreadsheet_may_drop_the_last_nought_of_a_caliper() -> None:
    """41 is taken as 41.0, which a caliper shows: within half its last digit (JCGM 100, 4.3.7, as everywhere here)."""
    whole, tenth, hundredth = lines_of("card,label,diameter\n1,A,41\n2,B,41.0\n3,C,41.02\n")
    assert whole.shaft is not None and tenth.shaft is not None and hundredth.shaft is not None
    assert whole.shaft.quantity == tenth.shaft.quantity
    assert [one.shaft.quantity.u95 for one in (whole, hundredth) if one.shaft] == pytest.approx([0.05, 0.04])


def test_a_roster_alone_reads_both_ends_and_either_side(tmp_path: Path) -> None:
    day = MadeDay(tmp_path / "day", ALONE)
    day.put("fl before.jpg")
    day.put("front after.jpg", marker=61.0)
    day.put("b rear before.jpg", exposed=70.0, marker=40.0)
    day.put("anyone after.jpg", exposed=70.0, marker=41.0, diameter=14.0)
    day.put("c.jpg", card=4)
    day.put("d left.jpg", diameter=41.0, marker=62.0)
    results = day.run()
    # u = E0 - gn, by the roster's hanging lengths: 205 - (170 - 60), 80 - (70 - 40).
    assert legs(results) == {
        ("Anna", "front-left", "before"): 95.0,
        ("Anna", "front-left", ""): 97.0,
        ("Anna", "front", "after"): 96.0,
        ("Anna", "rear", "before"): 50.0,
        ("Anna", "rear", "after"): 51.0,
    }
    assert codes(results)["c.jpg"] == "roster_gap"
    (gap,) = [one for one in results.exceptions if one.code == "roster_gap"]
    assert (
        "the shaft's diameter for Béla, rear (line 4)" in gap.what and "need not be taken again" in gap.advice
    )
    anna = results.bikes[0]
    assert anna.about == "fork 41 mm, shock 14 mm"
    assert [leg.value for leg in anna.all_legs] == ["front", "front-left", "front-right", "rear"]


def test_a_bikes_file_only_adds(tmp_path: Path) -> None:
    roster = (
        HEAD + "3,Anna,fork,41.0,205,,o-ring,bikes/few.toml\n3,Anna,shock,14.0,80,,o-ring,bikes/few.toml\n"
    )
    day = MadeDay(tmp_path / "day", roster)
    few = day.folder / "bikes" / "few.toml"
    day.put("fl.jpg")
    day.put("rear.jpg", exposed=70.0, marker=40.0)
    alone = day.run()
    assert alone.read == 2 and "bikes/few.toml is missing" in alone.bikes[0].remarks[0]
    assert alone.bikes[0].legs[0].counted.percent is None
    # The file knows the stroke, not the hanging length; of the shock it knows nothing.
    leg = FORK.format(name="front-left", shaft="41.0 mm").replace('extended = "205 mm"\n', "")
    few.write_text(f'format = 1\nname = "Grey"\n{leg}', encoding="utf-8")
    with_file = day.run()
    assert legs(with_file) == {("Anna", "front-left", ""): 95.0, ("Anna", "rear", ""): 50.0}
    share = with_file.bikes[0].legs[0].counted.percent
    assert share is not None and share.value == pytest.approx(100 * 95 / 120)
    few.write_text(few.read_text(encoding="utf-8").replace("41.0 mm", "43.0 mm"), encoding="utf-8")
    assert codes(day.run()) == {"fl.jpg": "bike_file"}
    (what,) = [one.what for one in day.run().exceptions]
    assert "fork 41.0 mm" in what and "fork 43.0 mm" in what and "correct one of them" in what


def test_bikes_without_a_file_are_left_out_of_the_logbook(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    roster = HEAD + "3,Anna,fork,41.0,205,120,o-ring,\n4,Béla,,,,,,bikes/single.toml\n"
    day = MadeDay(tmp_path / "day", roster)
    monkeypatch.setattr(DayRequest, "engine", lambda self: Inline())
    day.put("fl.jpg")
    day.put("b fl.jpg", card=4)
    result = run("day", day.folder, "--logbook", tmp_path / "book.sqlite")
    assert "1 new reading recorded" in result.stderr
    assert "Not recorded, for a ride needs a bike's file: Anna." in result.stderr


def test_what_is_missing_is_listed_with_its_cost(tmp_path: Path) -> None:
    lines = lines_of(ALONE)
    assert [(one.column, one.lines, one.of) for one in gaps(lines)] == [
        ("shaft_mm", 1, 3),
        ("hanging_mm", 1, 3),
        ("print_scale", 3, 3),
    ]
    assert not [one for one in gaps(lines, scale_given=True) if one.column == "print_scale"]
    (tmp_path / "roster.csv").write_text(ALONE, encoding="utf-8")
    scale = read_roster(tmp_path / "roster.csv", print_scale="0.98").entries[0].legs[0].inputs
    assert scale is not None and scale.print.along == 0.98
