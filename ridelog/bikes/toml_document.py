"""The text of a bike's file as TOML: what costs too much to parse is refused, and what is no TOML."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from ridelog.errors import BikeFileError, Problem

# The time to find a key's line grows with the square of the lines: 1,000 take some seconds.
MOST_LINES = 1_000
LONGEST_LINE = 5_000
# leg.rear.adjuster.preload.count is five deep.
DEEPEST = 20

_AT = re.compile(r" ?\(at (?:line (?P<line>\d+), column \d+|end of document)\)$")


def toml_document(text: str, name: str) -> dict[str, Any]:
    """Parse the text of a bike's file.

    Parameters
    ----------
    text : str
    name : str
        Of the file, for messages.

    Raises
    ------
    BikeFileError
    """
    _refuse_monstrous(text, name)
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BikeFileError(name, (_not_toml(str(error), text),)) from error
    except (RecursionError, ValueError) as error:  # brackets without end; an integer of 5,000 digits
        raise _too_deep(name) from error
    if _depth(document) > DEEPEST:
        raise _too_deep(name)
    # TOML's integers have 64 bits, as the specification asks; Python's have no end.
    if _largest(document) >= 2**63:
        what = "A number in it has too many digits."
        raise BikeFileError(name, (Problem(None, "", what, "Write it as measured, with its unit."),))
    return document


def _refuse_monstrous(text: str, name: str) -> None:
    """Refuse what would take the parser minutes."""
    lines = text.split("\n")
    long = next((number for number, line in enumerate(lines, start=1) if len(line) > LONGEST_LINE), None)
    if long is None and len(lines) <= MOST_LINES:
        return _refuse_half_characters(lines, name)
    what = f"The file has {len(lines)} lines." if long is None else "The line is too long."
    remedy = f"A bike's file has at most {MOST_LINES} lines of at most {LONGEST_LINE} characters."
    raise BikeFileError(name, (Problem(long, "", what, remedy),))


def _refuse_half_characters(lines: list[str], name: str) -> None:
    """Refuse half of a surrogate pair, which JSON can hold and UTF-8 cannot, in a comment too."""
    for number, line in enumerate(lines, start=1):
        if any("\ud800" <= one <= "\udfff" for one in line):
            what = "A character in it cannot be written as UTF-8."
            raise BikeFileError(name, (Problem(number, "", what, "Delete it, or type it anew."),))


def _too_deep(name: str) -> BikeFileError:
    problem = Problem(
        None, "", "Its brackets or keys are nested too deep.", "Write each value as strandline bike new does."
    )
    return BikeFileError(name, (problem,))


def _depth(document: dict[str, Any]) -> int:
    """How deep tables and lists lie within each other; without recursion, for they may lie deep."""
    depth = 0
    level: list[dict[str, Any] | list[Any]] = [document]
    while level:
        depth += 1
        inner = [value for one in level for value in (one.values() if isinstance(one, dict) else one)]
        level = [value for value in inner if isinstance(value, dict | list)]
    return depth


def _largest(value: object) -> int:
    """Find the integer farthest from zero; what is given is not nested deep."""
    if isinstance(value, dict | list):
        return max(map(_largest, value.values() if isinstance(value, dict) else value), default=0)
    return abs(value) if isinstance(value, int) else 0


def _not_toml(said: str, text: str) -> Problem:
    """Give the line at which a text is not TOML, and what would be right."""
    found = _AT.search(said)
    line = int(found["line"]) if found and found["line"] else text.count("\n") + 1
    return Problem(
        line,
        "",
        "This is not TOML.",
        'Each line is: key = "value", the value in quotation marks, for example stroke = "120 mm" or '
        'stroke = "don\'t know"; # begins a comment.',
    )
