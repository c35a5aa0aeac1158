"""Writing a bike's file: a new one with a line on each value, and changes that keep the owner's comments."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import Any

import tomlkit
from tomlkit.items import Table

from ridelog.bikes.amounts import DONT_KNOW
from ridelog.bikes.field import Field
from ridelog.bikes.fields import BIKE, END, LEG
from ridelog.bikes.file import FORMAT
from ridelog.bikes.leg_parts import ADJUSTER, AIR, MARKER, SPRING
from ridelog.bikes.toml_lines import Path
from ridelog.errors import LogbookError
from ridelog.names import LegName

HEAD = (
    "A motorcycle. Edit it with any editor; # begins a comment.",
    "Units wherever a number is: mm or in, kg or lb, N/mm or lbf/in, bar or psi.",
    "An uncertainty may follow: 41.0 mm ± 0.1 mm.",
    f'"{DONT_KNOW}" is an answer too: it costs what needs the value, and nothing else.',
)


@dataclass(frozen=True)
class Section:
    """A table of a bike's file.

    Attributes
    ----------
    path : tuple of str
        () for the bike itself.
    title : str
        As a heading over its questions.
    fields : tuple of Field
    """

    path: Path
    title: str
    fields: tuple[Field, ...]

    def asked(self, layout: str | None = None) -> tuple[Field, ...]:
        """Fields that are worth asking for, a fork's without a shock's bumper."""
        left_out = set() if layout in (None, "shock") else {"bumper_free", "bumper_crushed"}
        if self.path == ("front",):
            left_out |= {"motion_ratio"}
        if self.path == ("rear",):
            left_out |= {"rake", "wheel_radius", "fork_offset"}
        return tuple(one for one in self.fields if one.asked and one.key not in left_out)


def bike_sections() -> tuple[Section, ...]:
    """Give the sections of the bike and its ends."""
    return (
        Section((), "The bike", BIKE),
        Section(("front",), "Front", END),
        Section(("rear",), "Rear", END),
    )


def leg_sections(leg: LegName) -> tuple[Section, ...]:
    """Give the sections of a leg, its marker, its spring and its preload adjuster."""
    path = ("leg", leg.value)
    return (
        Section(path, f"Leg {leg.value}", LEG),
        Section((*path, "marker"), f"Marker, {leg.value}", MARKER),
        Section((*path, "spring"), f"Spring, {leg.value}", SPRING),
        Section((*path, "adjuster", "preload"), f"Preload adjuster, {leg.value}", ADJUSTER),
    )


def new_bike(values: dict[Path, Any], sections: tuple[Section, ...], same: dict[LegName, LegName]) -> str:
    """Write a new bike's file.

    Parameters
    ----------
    values : dict of path to value
        Text, numbers or lists as TOML holds them; what is missing is written as not known.
    sections : tuple of Section
    same : dict of LegName to LegName
        Legs that take over from another.

    Returns
    -------
    str
        TOML.
    """
    document = tomlkit.document()
    for line in HEAD:
        document.add(tomlkit.comment(line))
    document.add("format", tomlkit.item(FORMAT))
    for section in sections:
        table: Any = document if not section.path else _table_at(document, section.path)
        layout = values.get((*section.path[:2], "layout")) if section.path[:1] == ("leg",) else None
        _fill(table, section, values, None if layout is None else str(layout))
    for leg, other in same.items():
        table = _table_at(document, ("leg", leg.value))
        table.add(tomlkit.comment("All as on the other side; what is written here takes precedence."))
        table.add("same_as", other.value)
    return tomlkit.dumps(document)


def _fill(table: Any, section: Section, values: dict[Path, Any], layout: str | None) -> None:
    asked = section.asked(layout)
    for one in section.fields:
        path = (*section.path, one.key)
        if path in values or one in asked:
            table.add(tomlkit.comment(f"{one.where} For example {one.example}"))
            table.add(one.key, tomlkit.item(values.get(path, DONT_KNOW)))
        elif not one.asked and one.key != "same_as":
            table.add(tomlkit.comment(f"{one.where}"))
            table.add(tomlkit.comment(f"{one.key} = {one.example}"))
    if section.path[:1] == ("leg",) and section.path[2:] == ("spring",):
        air = ", ".join(one.key for one in AIR)
        table.add(
            tomlkit.comment(f"A leg with an air spring may have a table [leg.{section.path[1]}.air]: {air}.")
        )
    if section.path[2:3] == ("adjuster",):
        leg = section.path[1]
        table.add(
            tomlkit.comment(
                f"Damping, if you keep it: [leg.{leg}.adjuster.rebound], [leg.{leg}.adjuster.compression], with kind,"
            )
        )
        table.add(
            tomlkit.comment(
                'steps and standard; counted from "hard", fully closed, unless counted_from says else.'
            )
        )
    table.add(tomlkit.nl())


def set_values(text: str, changes: dict[Path, str]) -> str:
    """Change values in a bike's file; comments and order stay.

    Parameters
    ----------
    text : str
        TOML.
    changes : dict of path to text
        As a person types them: ``120 mm``, ``0.75``, ``true``, ``[["0 mm", 0.8], ["40 mm", 0.74]]``.

    Raises
    ------
    LogbookError
        A key that runs through a value.
    """
    document = tomlkit.parse(text)
    for path, written in changes.items():
        table = _table_at(document, path[:-1]) if len(path) > 1 else document
        table[path[-1]] = toml_value(written)
    return tomlkit.dumps(document)


def toml_value(written: str) -> Any:
    """Convert what a person types to what TOML holds: numbers, lists and true or false, or else text."""
    try:
        return tomllib.loads(f"value = {written}")["value"]
    except (ValueError, RecursionError):  # no TOML, or brackets without end
        return written


def parse_key(key: str) -> Path:
    """Split a dotted key.

    Raises
    ------
    LogbookError
    """
    path = tuple(part.strip() for part in key.split("."))
    if not all(path):
        raise LogbookError(f"{key} is no key of a bike's file.", "Write, for example, leg.rear.stroke.")
    return path


def _table_at(document: Any, path: Path) -> Table:
    table = document
    for depth, part in enumerate(path, start=1):
        if part not in table:
            # "leg" and "adjuster" hold tables alone and need no header of their own.
            holder = path[:depth] == ("leg",) or (part == "adjuster" and depth == 3)
            table.add(part, tomlkit.table(is_super_table=holder))
        table = table[part]
        if not hasattr(table, "add"):
            raise LogbookError(f"{'.'.join(path[:depth])} is a value, not a table.", "Name another key.")
    found: Table = table
    return found
