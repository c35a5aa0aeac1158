"""Reading one value of a bike's file: from what TOML holds to what a bike holds, or why not."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, TypeVar

from ridelog.bikes.amounts import is_dont_know
from ridelog.errors import AmountError
from ridelog.names import AdjusterKind
from suspension.errors import SuspensionError
from suspension.quantities.declared import RULE_U95_MM, Amount, Expected, amount, by_rule
from suspension.quantities.grammar import quote, read_term, tidy
from suspension.springs.motion_ratio import MotionRatio
from suspension.springs.springs import ForceTable

E = TypeVar("E", bound=StrEnum)
Reader = Callable[[Any, str], Any]

# Stroke over vertical wheel travel: shocks 0.35 to 0.95, forks 1/cos e, up to 1.3 at 40 degrees. Outside, the
# number is most likely wheel travel over stroke [common practice, no source].
MOTION_RATIO_RANGE = (0.2, 1.35)

_COUNT = re.compile(r"(?P<number>[0-9]+(?:[.,][0-9]+)?)\s*(?P<unit>[a-z]*)", re.IGNORECASE)
_COUNT_WORDS = {
    **dict.fromkeys(("turn", "turns"), AdjusterKind.TURNS),
    **dict.fromkeys(("click", "clicks"), AdjusterKind.CLICKS),
    **dict.fromkeys(("position", "positions"), AdjusterKind.POSITIONS),
}


@dataclass(frozen=True)
class Count:
    """So many turns, clicks or ramp positions."""

    number: float
    kind: AdjusterKind

    @property
    def text(self) -> str:
        """As a person writes it; ramp positions have a number, and are not so many."""
        if self.kind is AdjusterKind.POSITIONS:
            return f"position {self.number:g}"
        return self.kind.some(self.number)


def unknown(raw: object) -> bool:
    """Whether the value says that it is not known."""
    return isinstance(raw, str) and is_dont_know(raw)


def as_text(raw: Any, name: str) -> str:
    """Take text without control characters."""
    if not isinstance(raw, str) or not raw.strip():
        raise AmountError(f"The {name} must be text in quotation marks.", 'For example "Grey twin".')
    if any(not c.isprintable() and c not in "\n\t" for c in raw):
        raise AmountError(
            f"The {name} {quote(raw)} holds a character that cannot be printed.", "Leave it out."
        )
    return raw.strip()


def as_yes_no(raw: Any, name: str) -> bool:
    """Take true or false, as TOML writes them or as a person says them."""
    if isinstance(raw, bool):
        return raw
    words = {"yes": True, "true": True, "y": True, "no": False, "false": False, "n": False}
    if isinstance(raw, str) and raw.strip().lower() in words:
        return words[raw.strip().lower()]
    raise AmountError(f"{name.capitalize()} is answered with {_shown(raw)}.", "Write true or false.")


def choice(words: type[E], leave_out: tuple[str, ...] = ()) -> Reader:
    """Take one of an enum's words."""
    known = [word.value for word in words if word.value not in leave_out]

    def read(raw: Any, name: str) -> E:
        if isinstance(raw, str) and raw.strip().lower() in known:
            return words(raw.strip().lower())
        raise AmountError(f"The {name} cannot be {_shown(raw)}.", f'Write one of "{_listed(known)}".')

    return read


def in_dimension(dimension: Expected) -> Reader:
    """Take a number with a unit of this dimension."""

    def read(raw: Any, name: str) -> Amount:
        return amount(dimension, _with_unit(raw, name, dimension.example), name=name)

    return read


def length(understand: Callable[[str], Amount], example: str) -> Reader:
    """Take a length, understood by this function."""

    def read(raw: Any, name: str) -> Amount:
        return understand(_with_unit(raw, name, example))

    return read


def length_in(
    range_mm: tuple[float, float], example: str, *, allow_zero: bool = False, u95_mm: float = RULE_U95_MM
) -> Reader:
    """Take a length within a range, mm; without ± its 95 % half-width is that of a ruler, or `u95_mm`."""
    low, high = range_mm

    def read(raw: Any, name: str) -> Amount:
        text = _with_unit(raw, name, example)
        found = by_rule(text, name=name, allow_zero=allow_zero, u95_mm=u95_mm)
        if not low <= found.value <= high:
            raise AmountError(
                f"A {name} of {quote(found.as_written)} is {found.value:.4g} mm; {low:g} to {high:g} mm is "
                "taken.",
                f"Check the number and its unit, for example {example}.",
            )
        return found

    return read


def as_count(raw: Any, name: str) -> Count:
    """Take a count with what is counted: ``15 clicks``, ``position 3``."""
    example = 'Write, for example, "15 clicks", "6.5 turns" or "5 positions".'
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        raise AmountError(f"The {name} {raw:g} does not say what is counted.", example)
    if not isinstance(raw, str):
        raise AmountError(f"The {name} cannot be {_shown(raw)}.", example)
    text = tidy(raw).lower()
    swapped = re.fullmatch(r"position ([0-9]+)", text)
    found = _COUNT.fullmatch(f"{swapped[1]} positions" if swapped else text)
    # No adjuster has a million steps, and more digits than a double holds would be infinity.
    if found is None or len(found["number"]) > 12 or (found["unit"] and found["unit"] not in _COUNT_WORDS):
        raise AmountError(f"The {name} {quote(raw)} is no count.", example)
    if not found["unit"]:
        raise AmountError(f"The {name} {quote(raw)} does not say what is counted.", example)
    return Count(float(found["number"].replace(",", ".")), _COUNT_WORDS[found["unit"]])


def plain_number(low: float, high: float, example: str, *words: str) -> Reader:
    """Take a number that has no unit, from low to high; these words may follow it."""

    def read(raw: Any, name: str) -> float:
        value = _plain(raw, name, words, example)
        if not low <= value <= high:
            raise AmountError(
                f"A {name} of {value:g} is outside {low:g} to {high:g}.", f"Write, for example, {example}."
            )
        return value

    return read


def whole_number(low: int, high: int, example: str) -> Reader:
    """Take a whole number that has no unit."""
    read_any = plain_number(low, high, example)

    def read(raw: Any, name: str) -> int:
        value: float = read_any(raw, name)
        if value != int(value):
            raise AmountError(
                f"The {name} {value:g} is not a whole number.", f"Write, for example, {example}."
            )
        return int(value)

    return read


def as_motion_ratio(raw: Any, name: str) -> MotionRatio:
    """Take one ratio, or a table of stroke and ratio with rising strokes."""
    example = 'Write 0.75, or a table over the shock\'s stroke: [["0 mm", 0.80], ["40 mm", 0.74]].'
    if not isinstance(raw, list):
        return MotionRatio.constant(_ratio(_plain(raw, name, (), example), name))
    points = []
    for row in raw:
        if not isinstance(row, list) or len(row) != 2:
            raise AmountError(f"A row of the {name}'s table is {_shown(row)}, not two values.", example)
        at = by_rule(
            _with_unit(row[0], f"stroke in the {name}'s table", "40 mm"), name="stroke", allow_zero=True
        )
        points.append((at.value, _ratio(_plain(row[1], name, (), example), name)))
    try:
        return MotionRatio(tuple(at for at, _ in points), tuple(ratio for _, ratio in points))
    except SuspensionError as error:
        raise AmountError(error.message, f"{error.remedy} {example}") from error


def force_table(length_reader: Reader, force_reader: Reader) -> Reader:
    """Take a table of compression and force, both rising."""
    example = 'Write, for example, [["0 mm", "0 N"], ["20 mm", "150 N"], ["60 mm", "560 N"]].'

    def read(raw: Any, name: str) -> tuple[tuple[Amount, Amount], ...]:
        if not isinstance(raw, list) or any(not isinstance(row, list) or len(row) != 2 for row in raw):
            raise AmountError(f"The {name} must be rows of two values.", example)
        rows = tuple((length_reader(x, name), force_reader(f, f"force in the {name}")) for x, f in raw)
        try:
            ForceTable(tuple(x.value for x, _ in rows), tuple(force.value for _, force in rows))
        except SuspensionError as error:
            raise AmountError(error.message, f"{error.remedy} {example}") from error
        return rows

    return read


def list_of(reader: Reader, example: str) -> Reader:
    """Take a list of values that rise."""

    def read(raw: Any, name: str) -> tuple[Amount, ...]:
        if not isinstance(raw, list) or len(raw) < 2:
            raise AmountError(f"The {name} must be a list of two values or more.", f"Write {example}.")
        found = tuple(reader(one, name) for one in raw)
        if any(b.value <= a.value for a, b in itertools.pairwise(found)):
            raise AmountError(f"The {name} must rise from the softest to the hardest.", f"Write {example}.")
        return found

    return read


def _with_unit(raw: Any, name: str, example: str) -> str:
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        raise AmountError(
            f"The {name} {raw:g} has no unit.", f'Write it with its unit in quotes, for example "{example}".'
        )
    if not isinstance(raw, str):
        raise AmountError(f"The {name} cannot be {_shown(raw)}.", f'Write, for example, "{example}".')
    return raw


def _plain(raw: Any, name: str, words: tuple[str, ...], example: str) -> float:
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        return float(raw)
    if not isinstance(raw, str):
        raise AmountError(f"The {name} cannot be {_shown(raw)}.", example)
    term = read_term(tidy(raw), name=name, remedy=example)
    if term.unit not in ("", *words):
        raise AmountError(f"The {name} has no unit, but {quote(raw)} has one.", example)
    return float(term.number.value)


def _ratio(value: float, name: str) -> float:
    low, high = MOTION_RATIO_RANGE
    if low <= value <= high:
        return value
    hint = f" If this is wheel travel over stroke, write {1 / value:.3g}." if value > high else ""
    raise AmountError(
        f"A {name} of {value:g} is outside {low:g} to {high:g}; it is stroke over vertical wheel travel.",
        "Write stroke divided by wheel travel, for example 0.75." + hint,
    )


def _shown(raw: object) -> str:
    return quote(str(raw))


def _listed(words: list[str]) -> str:
    return '", "'.join(words)
