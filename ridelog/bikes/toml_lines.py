"""Where in a TOML text each key stands, found with the TOML parser itself.

A text cut after any line is either TOML or stops within a value. The first cut that is TOML and holds a key ends
the lines of that key's value; they begin after the longest cut before it that is TOML too.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

Path = tuple[str, ...]


def key_lines(text: str) -> dict[Path, int]:
    """Give the line, counted from 1, on which each key's value begins.

    Parameters
    ----------
    text : str
        TOML without errors.

    Returns
    -------
    dict of tuple of str to int
        Tables too, by their first header or key.
    """
    lines = text.replace("\r\n", "\n").split("\n")
    found: dict[Path, int] = {}
    last_whole = 0
    for count in range(1, len(lines) + 1):
        # Blank lines and comments add no key, and parsing is what takes the time.
        stripped = lines[count - 1].strip()
        if (not stripped or stripped.startswith("#")) and last_whole == count - 1:
            last_whole = count
            continue
        try:
            document = tomllib.loads("\n".join(lines[:count]))
        except tomllib.TOMLDecodeError:
            continue
        for path in _paths(document, ()):
            found.setdefault(path, last_whole + 1)
        last_whole = count
    return found


def _paths(value: dict[str, Any], above: Path) -> Iterator[Path]:
    for key, inner in value.items():
        yield (*above, key)
        if isinstance(inner, dict):
            yield from _paths(inner, (*above, key))
