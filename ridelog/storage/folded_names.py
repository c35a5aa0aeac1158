"""Names with case and spaces folded, each shown as it was first written; renames of load cases followed."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any


def fold(name: str) -> str:
    """Give a name with case, spaces and accents folded: "Solo", "solo" and "SOLO " are one.

    An accent that is a character of its own, as in the names of files on macOS, is the same as one that is not.

    >>> fold(" Two  UP ")
    'two up'
    """
    return unicodedata.normalize("NFC", " ".join(name.split()).casefold())


def current_names(rows: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    """Give the name that each load case has now, by its identifier, replaced or not.

    A case has the name of the row that took its place last. Of names that fold to the same, the one that was written
    first stands for all.

    Parameters
    ----------
    rows : iterable of mappings
        `id`, `name` and `replaces` of all load cases of one bike, in the order of insertion.
    """
    rows = list(rows)
    newer = {row["replaces"]: row for row in rows if row["replaces"] is not None}
    latest = {}
    for row in rows:
        last = row
        while last["id"] in newer:
            last = newer[last["id"]]
        latest[row["id"]] = " ".join(last["name"].split())
    first: dict[str, str] = {}
    for row in rows:
        name = latest[row["id"]]
        first.setdefault(fold(name), name)
    return {key: first[fold(name)] for key, name in latest.items()}
