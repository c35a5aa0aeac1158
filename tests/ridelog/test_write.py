"""Writing a bike's file: a new one that explains itself, and changes that keep the owner's comments."""

from __future__ import annotations

import pytest

from ridelog.bikes.file import parse_bike
from ridelog.bikes.write import (
    Section,
    bike_sections,
    leg_sections,
    new_bike,
    parse_key,
    set_values,
    toml_value,
)
from ridelog.errors import LogbookError
from ridelog.names import AdjusterKind, LegName
from suspension.springs.motion_ratio import MotionRatio
from tests.helpers.made_records import BIKE

LINES = BIKE.splitlines()


def test_a_new_file_is_right_and_explains_every_value() -> None:
    values = {
        ("name",): "Red one",
        ("leg", "front-left", "layout"): "fork",
        ("leg", "front-left", "adjuster", "preload", "kind"): "clicks",
        ("leg", "rear", "layout"): "shock",
        ("leg", "rear", "stroke"): "92 mm",
        ("leg", "rear", "extended"): "80 mm",
        ("leg", "rear", "adjuster", "preload", "kind"): "clicks",
    }
    sections = (*bike_sections(), *leg_sections(LegName.FRONT_LEFT), *leg_sections(LegName.REAR))
    text = new_bike(values, sections, {LegName.FRONT_RIGHT: LegName.FRONT_LEFT})
    file = parse_bike(text, "x.toml")
    assert file.bike.name == "Red one" and len(file.bike.legs) == 3
    assert file.bike.leg("rear").leg.stroke_mm is not None
    lines = text.splitlines()
    for number, line in enumerate(lines):
        if line and not line.startswith(("#", "[", "format")):
            assert lines[number - 1].startswith("# "), line
    # Every example is right where it stands: put in the place of what is not known.
    filled = "\n".join(_with_example(lines, n) for n in range(len(lines)))
    assert parse_bike(filled, "x.toml").not_known == ()


def _with_example(lines: list[str], number: int) -> str:
    line = lines[number]
    if line.endswith('"don\'t know"') and " For example " in lines[number - 1]:
        return line.split("=")[0] + "= " + lines[number - 1].split(" For example ")[1]
    return line


def test_changes_keep_comments_and_order() -> None:
    changed = set_values(
        BIKE,
        {
            parse_key("leg.front-left.stroke"): "118 mm",
            parse_key("rear.motion_ratio"): "0.55",
            parse_key("leg.rear.adjuster.rebound.kind"): "clicks",
            parse_key("leg.rear.has_spring"): "true",
        },
    )
    bike = parse_bike(changed, "x.toml").bike
    assert bike.leg("front-left").leg.stroke_mm is not None
    assert bike.rear.motion_ratio is not None and bike.rear.motion_ratio == MotionRatio.constant(0.55)
    assert bike.leg("rear").has_spring is True
    assert bike.leg("rear").adjuster("rebound").kind is AdjusterKind.CLICKS
    assert "# ours" in changed
    kept = [line for line in LINES if not line.startswith(('stroke = "120', "motion_ratio", "  [", "]"))]
    at = iter(changed.splitlines())
    assert all(any(line == other for other in at) for line in kept)
    with pytest.raises(LogbookError, match="is a value, not a table"):
        set_values(BIKE, {parse_key("leg.rear.layout.x"): "1"})
    with pytest.raises(LogbookError, match="no key"):
        parse_key("leg..x")


def test_what_is_typed_is_text_unless_toml_knows_it() -> None:
    assert toml_value("120 mm") == "120 mm" and toml_value("0.75") == 0.75 and toml_value("true") is True
    assert toml_value("don't know") == "don't know" and toml_value('[["0 mm", 0.8]]') == [["0 mm", 0.8]]


def keys(section: Section, layout: str | None = None) -> set[str]:
    return {one.key for one in section.asked(layout)}


def test_only_what_fits_is_asked() -> None:
    bike, front, rear = bike_sections()
    assert "motion_ratio" not in keys(front) and "rake" in keys(front)
    assert "rake" not in keys(rear) and "motion_ratio" in keys(rear)
    assert {"name", "wheelbase"} <= keys(bike)
    leg = leg_sections(LegName.REAR)[0]
    assert {"bumper_free", "bumper_crushed"} <= keys(leg, "shock")
    assert not {"bumper_free", "bumper_crushed"} & keys(leg, "fork")


def test_sections_stand_at_their_tables() -> None:
    assert [one.path for one in (*bike_sections(), *leg_sections(LegName.FRONT_LEFT))] == [
        (),
        ("front",),
        ("rear",),
        ("leg", "front-left"),
        ("leg", "front-left", "marker"),
        ("leg", "front-left", "spring"),
        ("leg", "front-left", "adjuster", "preload"),
    ]
