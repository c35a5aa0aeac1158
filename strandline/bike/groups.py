"""What ``strandline bike more`` asks, in groups, each with what it buys."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ridelog.bikes.amounts import is_dont_know
from ridelog.bikes.field import Field
from ridelog.bikes.fields import BIKE, END, LEG
from ridelog.bikes.leg_parts import ADJUSTER, MARKER, SPRING
from ridelog.bikes.toml_lines import Path

_FIELDS: dict[str, dict[str, Field]] = {
    name: {one.key: one for one in fields}
    for name, fields in (
        ("bike", BIKE),
        ("end", END),
        ("leg", LEG),
        ("marker", MARKER),
        ("spring", SPRING),
        ("preload", ADJUSTER),
    )
}

Wanted = tuple[str, Path, str, str]
"""Whose it is, its table, the name of the table's fields, and the key."""


@dataclass(frozen=True)
class Open:
    """A value that the bike's file does not give yet.

    Attributes
    ----------
    path : tuple of str
        In the file.
    field : Field
    of : str
        Whose it is: "front", "rear-left", or "" for the bike.
    """

    path: Path
    field: Field
    of: str


@dataclass(frozen=True)
class Group:
    """Questions that are answered together.

    Attributes
    ----------
    name : str
    buys : str
        What the answers are good for.
    open : tuple of Open
    end : str
        "front" or "rear" where this whole end is not described yet, else "".
    """

    name: str
    buys: str
    open: tuple[Open, ...] = ()
    end: str = ""


def open_groups(text: str) -> tuple[Group, ...]:
    """Give the groups in which something is open.

    Parameters
    ----------
    text : str
        Of the bike's file, in order.
    """
    document = tomllib.loads(text)
    legs = document.get("leg", {})
    own = [name for name, leg in legs.items() if "same_as" not in leg]
    ends = [end for end in ("front", "rear") if any(name.startswith(end) for name in legs)]
    groups = [Group(end, f"advice on the {end} too", end=end) for end in ("front", "rear") if end not in ends]
    basics: list[Wanted] = [
        *((name, ("leg", name), "leg", key) for name in own for key in ("shaft", "extended", "stroke")),
        *((name, ("leg", name, "marker"), "marker", key) for name in own for key in ("kind", "width")),
    ]
    adjuster: list[Wanted] = [
        (name, ("leg", name, "adjuster", "preload"), "preload", key)
        for name in own
        for key in ("kind", "steps", "step")
    ]
    springs: list[Wanted] = [
        *(
            (name, ("leg", name, "spring"), "spring", key)
            for name in own
            for key in ("rate", "preload_at_soft")
        ),
        *((end, (end,), "end", "wheel_travel") for end in ends),
        *((end, (end,), "end", "rake") for end in ends if end == "front"),
        *((end, (end,), "end", "motion_ratio") for end in ends if end == "rear"),
    ]
    weights: list[Wanted] = [
        *(("", (), "bike", key) for key in ("mass", "wheelbase")),
        *((end, (end,), "end", "wheel_load") for end in ("front", "rear")),
    ]
    plate: list[Wanted] = [
        ("", (), "bike", "total_limit"),
        *((end, (end,), "end", "limit") for end in ("front", "rear")),
    ]
    maker: list[Wanted] = [
        *((name, ("leg", name, "adjuster", "preload"), "preload", "standard") for name in own),
        *((end, (end,), "end", key) for end in ("front", "rear") for key in ("tyre_solo", "tyre_loaded")),
    ]
    use: list[Wanted] = [("", (), "bike", "use")]
    named = (
        ("basics", "a smaller ±, and what is left of the stroke", basics),
        ("adjuster", "advice as a count, and what a step does", adjuster),
        ("use", "the usual ranges of sag", use),
        ("weights", "predictions for two-up and luggage", weights),
        ("plate", "a warning where a load is over what the plate permits", plate),
        ("springs", "whether they suit you, and where a new load begins", springs),
        ("maker's", "the maker's setting and tyre pressures to go back to", maker),
    )
    groups += [Group(name, buys, tuple(_open(document, wanted))) for name, buys, wanted in named]
    return tuple(one for one in groups if one.open or one.end)


def _open(document: dict[str, Any], wanted: list[Wanted]) -> Iterator[Open]:
    for of, path, fields, key in wanted:
        value: Any = document
        for part in (*path, key):
            value = value.get(part) if isinstance(value, dict) else None
        if value is None or (isinstance(value, str) and is_dont_know(value)):
            yield Open((*path, key), _FIELDS[fields][key], of)
