"""Reading a bike's file: TOML that anyone can edit, checked value by value, every problem with its line."""

from __future__ import annotations

import difflib
import hashlib
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path as FilePath
from typing import Any

from ridelog.bikes.bike import Bike
from ridelog.bikes.build import build_bike, cross_checks, lay_over
from ridelog.bikes.field import Field
from ridelog.bikes.fields import BIKE, END, LEG
from ridelog.bikes.leg_parts import ADJUSTER, AIR, MARKER, SPRING
from ridelog.bikes.toml_document import toml_document
from ridelog.bikes.toml_lines import Path, key_lines
from ridelog.bikes.values import Count, unknown
from ridelog.errors import BikeFileError, LogbookError, Problem
from ridelog.names import End, LegName
from ridelog.regular_file import read_regular
from suspension.errors import SuspensionError
from suspension.quantities.declared import Amount

FORMAT = 1
# A bike's file is some 150 lines; what is larger is another file.
LARGEST_BYTES = 1_000_000
PARTS = {"marker": MARKER, "spring": SPRING, "air": AIR}


@dataclass(frozen=True)
class BikeFile:
    """A bike's file that is in order.

    Attributes
    ----------
    bike : Bike
    text : str
        As read.
    sha256 : str
        Of the text in UTF-8.
    unusual : tuple of Problem
        Values outside the figures of the trade, for the owner to check.
    not_known : tuple of str
        Keys that say "don't know".
    """

    bike: Bike
    text: str
    sha256: str
    unusual: tuple[Problem, ...]
    not_known: tuple[str, ...]


def read_bike(path: FilePath, *, inside: FilePath | None = None) -> BikeFile:
    """Read and check a bike's file.

    Parameters
    ----------
    path : Path
    inside : Path, optional
        The folder that it must lie in, links followed.

    Raises
    ------
    BikeFileError
        Everything that is wrong in it, with lines.
    LogbookError
        It cannot be opened.
    """
    try:
        content = read_regular(path, LARGEST_BYTES, inside=inside)
    except OSError as error:
        raise LogbookError(
            f"The bike's file {path} cannot be read: {error.strerror}.",
            "Name a file that exists, or make one with strandline bike new.",
        ) from error
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        problem = Problem(line, "", "The file is not UTF-8 text.", "Save it as UTF-8 in your editor.")
        raise BikeFileError(path.name, (problem,)) from error
    return parse_bike(text, path.name)


def parse_bike(text: str, name: str) -> BikeFile:
    """Check a bike's file that is read already.

    Parameters
    ----------
    text : str
    name : str
        Of the file, for messages.

    Raises
    ------
    BikeFileError
    """
    document = toml_document(text, name)
    reader = _Reader(text)
    values = reader.bike(document)
    if not reader.problems:
        bike = build_bike(values)
        for key, message, remedy in cross_checks(bike):
            reader.blame(tuple(key.split(".")), message, remedy)
    if reader.problems:
        raise BikeFileError(name, tuple(sorted(reader.problems, key=lambda p: (p.line or 0, p.key))))
    return BikeFile(
        bike,
        text,
        hashlib.sha256(text.encode("utf-8")).hexdigest(),
        tuple(reader.unusual),
        tuple(reader.not_known),
    )


@dataclass
class _Reader:
    """Gathers values and what is wrong with them."""

    text: str
    problems: list[Problem] = field(default_factory=list)
    unusual: list[Problem] = field(default_factory=list)
    not_known: list[str] = field(default_factory=list)

    def blame(self, path: Path, message: str, remedy: str) -> None:
        self.problems.append(Problem(self.line(path), ".".join(path), message, remedy))

    def line(self, path: Path) -> int | None:
        """Line of this key, or of the nearest table that holds it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)

    @cached_property
    def lines(self) -> dict[Path, int]:
        """Lines of all keys, which take a while to find and only a problem needs."""
        return key_lines(self.text)

    def bike(self, document: dict[str, Any]) -> dict[str, Any]:
        if document.get("format") != FORMAT:
            self.blame(
                ("format",),
                f"The file's format is {document.get('format', 'not given')}.",
                f"Write format = {FORMAT} in its first line.",
            )
        values = self.fields(document, BIKE, (), ("format", *End, "leg"))
        for end in End:
            values[end.value] = self.fields(self.table(document, (end.value,)), END, (end.value,))
        values["leg"] = {
            name: self.leg(raw, name)
            for name, raw in self.table(document, ("leg",)).items()
            if self.is_leg(name)
        }
        if "leg" not in document:
            self.blame(
                ("leg",), "No leg is described.", "Add a table such as [leg.front-left] or [leg.rear]."
            )
        self.same_as(values["leg"])
        return values

    def is_leg(self, name: str) -> bool:
        if name in set(LegName):
            return True
        self.blame(("leg", name), f"There is no leg called {name}.", _did_you_mean(name, list(LegName)))
        return False

    def leg(self, raw: Any, name: str) -> dict[str, Any]:
        path: Path = ("leg", name)
        if not isinstance(raw, dict):
            self.blame(path, f"leg.{name} is not a table.", f"Write [leg.{name}] on a line of its own.")
            return {}
        fields: tuple[Field, ...] = LEG
        if "same_as" in raw:
            fields = tuple(one for one in LEG if one.key != "layout" or "layout" in raw)
        values = self.fields(raw, fields, path, (*PARTS, "adjuster"))
        for part, its in PARTS.items():
            if part in raw:
                values[part] = self.fields(self.table(raw, (part,), path), its, (*path, part))
        if "adjuster" in raw:
            table = self.table(raw, ("adjuster",), path)
            values["adjuster"] = {
                key: self.fields(
                    self.table(table, (key,), (*path, "adjuster")), ADJUSTER, (*path, "adjuster", key)
                )
                for key in table
            }
            for key, its_values in values["adjuster"].items():
                self.same_steps(its_values, (*path, "adjuster", key))
        return values

    def same_steps(self, values: dict[str, Any], path: Path) -> None:
        """Refuse a range in clicks of an adjuster that is counted in turns."""
        kind = values.get("kind")
        for key in ("steps", "standard"):
            count = values.get(key)
            if kind is not None and isinstance(count, Count) and count.kind is not kind:
                right = f"{count.number:g} {kind.value}"
                self.blame(
                    (*path, key),
                    f"This adjuster is counted in {kind.value}, and {key} is given in {count.kind.value}.",
                    f'Write {key} = "{right}", or change kind.',
                )

    def same_as(self, legs: dict[str, dict[str, Any]]) -> None:
        """Fill a leg that is the same as another from that one."""
        for name, values in legs.items():
            other = values.get("same_as")
            if other is None:
                continue
            source = legs.get(str(other))
            if source is None or source is values or source.get("same_as") is not None:
                self.blame(
                    ("leg", name, "same_as"),
                    f"The leg {name} takes over from {other}, which is not described by itself.",
                    "Name a leg that has a table with a layout of its own.",
                )
                continue
            legs[name] = lay_over(source, values)

    def fields(
        self, raw: dict[str, Any], fields: tuple[Field, ...], path: Path, tables: tuple[str, ...] = ()
    ) -> dict[str, Any]:
        values: dict[str, Any] = {}
        by_key = {one.key: one for one in fields}
        for key in raw:
            if key not in by_key and key not in tables:
                self.blame((*path, key), f"{key} is not known here.", _did_you_mean(key, [*by_key, *tables]))
        for key, one in by_key.items():
            if key not in raw:
                if one.needed:
                    where = "" if not path else f" in [{'.'.join(path)}]"
                    self.blame(path, f"The {one.title} is missing{where}.", f"Add {key} = {one.example}.")
            elif unknown(raw[key]):
                self.not_known.append(".".join((*path, key)))
                values[key] = None  # takes precedence over what another leg would lend
                if one.needed:
                    self.blame(
                        (*path, key), f"The {one.title} must be known.", f"Write {key} = {one.example}."
                    )
            else:
                values[key] = self.value(raw[key], one, (*path, key))
        return values

    def value(self, raw: Any, one: Field, path: Path) -> Any:
        try:
            found = one.read(raw, one.title)
        except (LogbookError, SuspensionError) as error:
            self.blame(path, error.message, error.remedy)
            return None
        if one.usual is not None and isinstance(found, Amount):
            low, high = one.usual
            if not low <= found.value <= high:
                self.unusual.append(
                    Problem(
                        self.line(path),
                        ".".join(path),
                        f"A {one.title} of {found.as_written} is unusual: {low:g} to {high:g} {found.unit} is "
                        "common.",
                        "Check it, and leave it if it is right.",
                    )
                )
        return found

    def table(self, raw: dict[str, Any], key: Path, above: Path = ()) -> dict[str, Any]:
        found = raw.get(key[-1], {})
        if isinstance(found, dict):
            return found
        path = (*above, *key)
        self.blame(
            path, f"{'.'.join(path)} is not a table.", f"Write [{'.'.join(path)}] on a line of its own."
        )
        return {}


def _did_you_mean(word: str, known: list[str]) -> str:
    close = difflib.get_close_matches(word, known, 1)
    if close:
        return f"Did you mean {close[0]}?"
    return f"Known are {', '.join(known)}."
