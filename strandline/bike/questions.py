"""The questions of ``strandline bike new``; they go to standard error, so that --json stays clean."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from typing import Any

import click

from ridelog.bikes.amounts import DONT_KNOW, is_dont_know
from ridelog.bikes.field import Field
from ridelog.bikes.toml_lines import Path
from ridelog.bikes.values import Count
from ridelog.bikes.write import Section, bike_sections, leg_sections, new_bike, toml_value
from ridelog.errors import LogbookError
from ridelog.names import LegName
from strandline.shared.messages import printable
from strandline.shared.option_kinds import WholeNumber
from suspension.errors import SuspensionError

# Names that Windows keeps for devices, with any ending (Microsoft, "Naming Files, Paths, and Namespaces").
_DEVICES = {
    "con",
    "prn",
    "aux",
    "nul",
    *(f"{port}{number}" for port in ("com", "lpt") for number in range(10)),
}


# With its endings and those of files beside it, well below what a name may have (255 bytes; limits.h, NAME_MAX).
_LONGEST_STEM = 120


def file_name(name: str) -> str:
    """Make a file name from a bike's name: letters, digits and dashes."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    stem = re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:_LONGEST_STEM].strip("-") or "bike"
    return f"{stem}-bike.toml" if stem in _DEVICES else f"{stem}.toml"


class Interview:
    """Asks for a bike, value by value; what was answered so far can be written at any time.

    Attributes
    ----------
    name : str or None
        None until it is known.
    """

    def __init__(self, *, blank: bool) -> None:
        self.blank = blank
        self.name: str | None = None
        self.values: dict[Path, Any] = {}
        self.sections: list[Section] = []
        self.same: dict[LegName, LegName] = {}

    def text(self) -> str:
        """Write the file with what was answered so far."""
        return new_bike(self.values, tuple(self.sections), self.same)

    def ask(self, name: str | None, shocks: int | None, check_name: Callable[[str], None]) -> None:
        """Ask everything.

        Raises
        ------
        click.Abort
            The person stopped.
        LogbookError
            The name is taken.
        """
        bike, *ends = bike_sections()
        name = name or str(click.prompt("Name of the bike", err=True))
        check_name(name)
        self.name = self.values["name",] = name
        if not self.blank:
            _say(
                'Enter alone means "don\'t know". Write each number with its unit: 41.0 mm, 25 deg, 9 N/mm, 36 psi.'
            )
        self.section(bike)
        for end in ends:
            self.section(end)
        self.leg(LegName.FRONT_LEFT, "fork")
        self.other_side(LegName.FRONT_RIGHT, LegName.FRONT_LEFT, "fork")
        if shocks is None:
            shocks = (
                1
                if self.blank
                else click.prompt("Shocks at the rear", type=WholeNumber(1, 2), default=1, err=True)
            )
        if shocks == 1:
            self.leg(LegName.REAR, "shock")
        else:
            self.leg(LegName.REAR_LEFT, "shock")
            self.other_side(LegName.REAR_RIGHT, LegName.REAR_LEFT, "shock")

    def leg(self, name: LegName, usual: str) -> None:
        """Ask for a leg and its parts."""
        self.values["leg", name.value, "layout"] = usual
        for section in leg_sections(name):
            if section.path[2:3] == ("adjuster",) and not self.has_adjuster(section):
                continue
            self.section(section)

    def other_side(self, name: LegName, other: LegName, usual: str) -> None:
        """Ask whether the other side is the same."""
        if self.blank or click.confirm(f"Is {name.value} the same as {other.value}?", default=True, err=True):
            self.same[name] = other
        else:
            self.leg(name, usual)

    def has_adjuster(self, section: Section) -> bool:
        """Ask how preload is adjusted; without an answer the adjuster is left out."""
        kind = section.fields[0]
        path = (*section.path, kind.key)
        if self.blank:
            self.values[path] = "turns" if "front" in section.path[1] else "clicks"
            return True
        _say(f"\n{section.title}. Press Enter alone if it has none, or if you don't know.")
        self.value(kind, path, section)
        return path in self.values

    def section(self, section: Section) -> None:
        """Ask for the values of one table."""
        self.sections.append(section)
        if self.blank:
            return
        if section.path[2:3] != ("adjuster",):
            _say(f"\n{section.title}")
        for one in section.asked():
            path = (*section.path, one.key)
            if path in self.values and one.key != "layout":
                continue
            if one in section.asked(str(self.values.get((*section.path, "layout"), "")) or None):
                self.value(one, path, section)

    def value(self, one: Field, path: Path, section: Section) -> None:
        """Ask for one value until it is right or not known."""
        _say(f"  {one.where} For example {one.example.strip(chr(34))}")
        default = self.values.get(path, DONT_KNOW)
        while True:
            answer = str(click.prompt(f"  {one.title}", default=default, err=True)).strip()
            if is_dont_know(answer):
                if not one.needed or section.path[2:3] == ("adjuster",):
                    return
                _say(f"    The {one.title} is needed.")
                continue
            try:
                found = one.read(toml_value(answer), one.title)
                self.fits(found, section)
            except (LogbookError, SuspensionError) as error:
                # a file needs quotes round a number with its unit, an answer does not
                _say(f"    {error.message} {error.remedy.replace(' in quotes', '')}")
                continue
            self.values[path] = toml_value(answer)
            return

    def fits(self, found: Any, section: Section) -> None:
        """Refuse a count of another kind than the adjuster's."""
        kind = self.values.get((*section.path, "kind"))
        if isinstance(found, Count) and kind is not None and found.kind.value != kind:
            raise LogbookError(
                f"This adjuster is counted in {kind}.", f"Write, for example, {found.number:g} {kind}."
            )


def _say(text: str) -> None:
    click.echo("\n".join(printable(line) for line in text.split("\n")), err=True)
