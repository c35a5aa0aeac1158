"""A bike's file: what it says, and that every problem names its line and what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from ridelog.bikes.bike import Adjuster
from ridelog.bikes.file import parse_bike, read_bike
from ridelog.errors import AmountError, BikeFileError, LogbookError, Problem
from ridelog.names import CountedFrom, End, LegName
from suspension.springs.motion_ratio import MotionRatio
from suspension.stroke.leg import Layout
from suspension.stroke.marker import MarkerKind
from tests.helpers.made_records import BIKE

LINES = BIKE.splitlines()


def line_of(start: str, nth: int = 1) -> int:
    """Line of the nth line that starts so: found by eye's own way, not by the program's."""
    found = [number for number, line in enumerate(LINES, start=1) if line.startswith(start)]
    return found[nth - 1]


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(BikeFileError) as caught:
        parse_bike(text, "x.toml")
    return caught.value.problems


def test_values() -> None:
    bike = parse_bike(BIKE, "x.toml").bike
    left, right, rear = bike.leg("front-left"), bike.leg("front-right"), bike.leg("rear")
    assert bike.name == "Grey twin" and bike.wheelbase is not None and bike.wheelbase.value == 1460
    assert left.layout is Layout.FORK and left.marker_kind is MarkerKind.O_RING
    assert left.leg.extended_mm is not None and left.leg.extended_mm.value == 205
    assert left.leg.stroke_mm is not None and left.leg.stroke_mm.value == 120
    assert right.leg == left.leg and right.marker == left.marker and right.adjusters == left.adjusters
    assert left.bumper_stroke_mm is None
    assert rear.bumper_stroke_mm == rear.leg.extended_mm  # a shock meets its bumper at its extended length
    assert bike.rear.motion_ratio == MotionRatio((0.0, 40.0), (0.80, 0.74))
    assert bike.front.rake is not None and bike.front.rake.value == 25
    assert [leg.name for leg in bike.legs_of("front")] == [LegName.FRONT_LEFT, LegName.FRONT_RIGHT]
    assert bike.end(End.REAR).limit is not None
    preload, rebound = left.adjusters
    assert preload.counted_from is CountedFrom.SOFT and rebound.counted_from is CountedFrom.HARD
    assert preload.range == (0, 6)


def test_preload_that_a_count_adds() -> None:
    bike = parse_bike(BIKE, "x.toml").bike
    rear = bike.leg("rear").adjuster("preload")
    assert rear.added_mm(0) == 0 and rear.added_mm(4) == pytest.approx(4)
    from_hard = Adjuster("preload", rear.kind, CountedFrom.HARD, rear.steps, rear.step)
    assert from_hard.added_mm(4) == pytest.approx(11) and from_hard.added_mm(15) == 0
    text = BIKE.replace(
        'kind = "clicks"\nsteps = "15 clicks"\nstep = "1.0 mm"',
        'kind = "positions"\npositions = ["2 mm", "6 mm", "9 mm"]',
    )
    ramp = parse_bike(text, "x.toml").bike.leg("rear").adjuster("preload")
    assert ramp.range == (1, 3)
    assert [ramp.added_mm(n) for n in (1, 2, 3)] == [0, 4, 7]
    for count in (0, 4, 1.5):
        with pytest.raises(AmountError):
            ramp.check(count)
    ramp.check(3)
    bike.leg("front-left").adjuster("preload").check(2.5)


@pytest.mark.parametrize(
    ("right", "wrong", "line", "message", "remedy"),
    [
        ('stroke = "120 mm"', "stroke = 120", line_of("stroke"), "has no unit", '"120 mm"'),
        ('stroke = "120 mm"', 'stroke = "120"', line_of("stroke"), "has no unit", "120 mm"),
        ('stroke = "120 mm"', 'stroke = "120 kg"', line_of("stroke"), "cannot be in", "120 mm"),
        ('stroke = "120 mm"', 'stroke = "220 mm"', line_of("stroke"), "15.0 mm longer than the shaft", "Measure"),
        ('stroke = "120 mm"', "stroke = 120 mm", line_of("stroke"), "not TOML", "quotation marks"),
        ("stroke =", "stoke =", line_of("stroke"), "stoke is not known", "Did you mean stroke?"),
        ('rake = "25 deg"', 'rake = "25"', line_of("rake"), "no unit", "25 deg"),
        ("0.74", "1.35", None, None, None),
        ('rake = "25 deg"', 'rake = "65 deg"', line_of("rake"), "outside 15 to 40", "rake of 25"),
        ("0.80", "1.80", line_of("motion_ratio"), "stroke over vertical wheel travel", "write 0.556"),
        ('["40 mm", 0.74]', '["0 mm", 0.74]', line_of("motion_ratio"), "does not run up", "strokes rising"),
        ('layout = "shock"', 'layout = "shok"', line_of("layout", 2), "cannot be “shok”", "upside-down-fork"),
        ('layout = "shock"', 'layout = "don\'t know"', line_of("layout", 2), "must be known", "layout ="),
        ('layout = "shock"\n', "", line_of("[leg.rear]"), "layout is missing in [leg.rear]", "Add layout ="),
        ('steps = "6 turns"', "steps = 6", line_of("steps"), "does not say what is counted", "6.5 turns"),
        ('steps = "6 turns"', 'steps = "6 clicks"', line_of("steps"), "counted in turns", '"6 turns"'),
        ('bumper_free = "20 mm"\n', "", line_of("bumper_free"), "without the free one", "bumper_free"),
        ('"8 mm"', '"28 mm"', line_of("[leg.rear]"), "longer crushed than free", "free length"),
        ('limit = "160 kg"', 'limit = "460 kg"', line_of("limit"), "more than the total limit", "plate"),
        ("[leg.rear]", "[leg.back]", line_of("[leg.rear]"), "no leg called back", "front-left"),
        ("same_as = \"front-left\"", 'same_as = "rear-left"', line_of("same_as"), "not described", "Name a leg"),
        ("format = 1", "format = 2", 1, "format is 2", "format = 1"),
        ('name = "Grey twin" ', 'name = "" ', 2, "must be known", "name ="),
        ("[leg.rear.marker]", "[leg.rear.marker", line_of("[leg.rear.marker]"), "not TOML", "key ="),
    ],
)  # fmt: skip
def test_a_problem_names_its_line_and_what_would_be_right(
    right: str, wrong: str, line: int | None, message: str | None, remedy: str | None
) -> None:
    assert right in BIKE
    text = BIKE.replace(right, wrong, 1)
    if message is None:
        parse_bike(text, "x.toml")
        return
    (first, *_) = found = problems(text)
    assert first.line == line, found
    assert message in first.message
    assert remedy is not None and remedy in first.remedy
    assert f"line {line}: {first.message}" in first.text


def test_all_problems_are_told_in_the_order_of_their_lines() -> None:
    text = BIKE.replace('"120 mm"', "120").replace('"25 deg"', "25").replace('"1460 mm"', "1460")
    found = problems(text)
    assert [one.key for one in found] == ["wheelbase", "front.rake", "leg.front-left.stroke"]
    assert [one.line for one in found] == sorted(one.line or 0 for one in found)


def test_a_shock_and_its_stops() -> None:
    text = BIKE.replace('bumper_free = "20 mm"', 'stroke = "70 mm"\nbumper_free = "20 mm"')
    (one,) = problems(text)
    assert one.key == "leg.rear.stroke" and "10.0 mm before the bumper is met" in one.message
    text = BIKE.replace('bumper_free = "20 mm"', 'bumper_contact = "90 mm"\nbumper_free = "20 mm"')
    (one,) = problems(text)
    assert one.key == "leg.rear.bumper_contact" and "10.0 mm" in one.message
    text = BIKE.replace('stroke = "120 mm"', 'stroke = "120 mm"\nbumper_free = "20 mm"')
    assert {one.key for one in problems(text)} == {
        "leg.front-left.bumper_free",
        "leg.front-right.bumper_free",
    }


def test_one_leg_in_the_middle_or_two_at_the_sides() -> None:
    text = BIKE + '\n[leg.rear-left]\nsame_as = "rear"\n'
    assert "has one leg in the middle" in problems(text)[0].message


def test_dont_know_is_known_to_be_not_known_and_beats_the_other_side() -> None:
    text = BIKE.replace('same_as = "front-left"', 'same_as = "front-left"\nextended = "don\'t know"')
    file = parse_bike(text, "x.toml")
    assert file.bike.leg("front-right").extended is None
    assert file.bike.leg("front-right").stroke is not None
    assert file.not_known == ("leg.front-right.extended",)


def test_unusual_values_are_pointed_out_and_taken() -> None:
    file = parse_bike(BIKE.replace('"1460 mm"', '"1000 mm"'), "x.toml")
    (one,) = file.unusual
    assert one.line == line_of("wheelbase") and "1200 to 1800 mm is common" in one.message


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(LogbookError, match="cannot be read"):
        read_bike(tmp_path / "none.toml")
    path = tmp_path / "a.toml"
    path.write_bytes(b'format = 1\nname = "Gr\xfcn"\n')
    with pytest.raises(BikeFileError, match="line 2: The file is not UTF-8"):
        read_bike(path)
    path.write_bytes(b"#" * 1_000_001)
    with pytest.raises(LogbookError, match="too large"):
        read_bike(path)
    path.write_bytes(
        b"\xef\xbb\xbf" + BIKE.replace("\n", "\r\n").encode()
    )  # as an editor on Windows saves it
    assert read_bike(path).bike == parse_bike(BIKE, "x").bike
