"""All that a bike's file may hold: every field has a place in a bike, an example and a usual range that fit."""

from __future__ import annotations

import dataclasses
import tomllib

import pytest

from ridelog.bikes.bike import Adjuster, Air, Bike, BikeEnd, BikeLeg, Spring
from ridelog.bikes.field import Field
from ridelog.bikes.fields import BIKE, END, LEG
from ridelog.bikes.leg_parts import ADJUSTER, AIR, MARKER, SPRING
from suspension.quantities.declared import Amount

# The dataclass that holds each group, and what else it has that stands in tables of their own.
HOLDERS: dict[str, tuple[tuple[Field, ...], type, set[str]]] = {
    "bike": (BIKE, Bike, {"legs", "front", "rear"}),
    "end": (END, BikeEnd, set()),
    "spring": (SPRING, Spring, set()),
    "air": (AIR, Air, set()),
    "adjuster": (ADJUSTER, Adjuster, {"name"}),
}
ALL = [(group, one) for group, (fields, _, _) in HOLDERS.items() for one in fields]
ALL += [("leg", one) for one in LEG] + [("marker", one) for one in MARKER]


def attributes(holder: type) -> set[str]:
    return {one.name for one in dataclasses.fields(holder)}


@pytest.mark.parametrize("group", HOLDERS)
def test_a_group_has_the_fields_of_what_holds_it(group: str) -> None:
    fields, holder, others = HOLDERS[group]
    assert {one.key for one in fields} == attributes(holder) - others


def test_a_leg_and_its_marker() -> None:
    its = {one.key for one in LEG if one.key != "same_as"} | {f"marker_{one.key}" for one in MARKER}
    assert its == attributes(BikeLeg) - {"name", "spring", "air", "adjusters"}


@pytest.mark.parametrize(("group", "one"), ALL, ids=lambda x: x.key if isinstance(x, Field) else x)
def test_an_example_is_right_and_usual(group: str, one: Field) -> None:
    found = one.read(tomllib.loads(f"value = {one.example}")["value"], one.title)
    assert found is not None
    if one.usual is not None:
        assert isinstance(found, Amount)
        assert one.usual[0] <= found.value <= one.usual[1]
    assert one.where.endswith(".") and one.title


def test_what_is_needed_is_asked_for() -> None:
    assert all(one.asked for _, one in ALL if one.needed)
    assert {(group, one.key) for group, one in ALL if one.needed} == {
        ("bike", "name"),
        ("leg", "layout"),
        ("adjuster", "kind"),
    }
