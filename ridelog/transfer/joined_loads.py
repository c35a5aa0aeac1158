"""Load cases of the same name in two logbooks: one case, whose history has both."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ridelog.storage.folded_names import fold

Row = dict[str, Any]

PARTS = ("load_item", "axle_load")
NAMING = ("ride_entry", "sag_session")
"""Tables whose rows name a load case."""


@dataclass(frozen=True)
class JoinedLoads:
    """The rows to put in, and what was joined.

    Attributes
    ----------
    tables : dict of str to list of rows
    names : tuple of str
        Of the load cases that were joined.
    changed : frozenset of str
        Rows that name another load case, or another row that they replace, than in the document.
    """

    tables: dict[str, list[Row]]
    names: tuple[str, ...] = ()
    changed: frozenset[str] = field(default=frozenset())


def join_loads(tables: Mapping[str, list[Row]], here: Sequence[Mapping[str, Any]]) -> JoinedLoads:
    """Join load cases that are called the same, case and spaces folded, to those that are here.

    One of which only the name is known becomes the case here. One with masses is put in as a correction of the case
    here: rides keep the case that they were recorded with, and the logbook goes by the imported masses.

    Parameters
    ----------
    tables : mapping of str to list of rows
        All rows of a document.
    here : sequence of mappings
        All rows of load cases of the logbook.
    """
    ours = {str(row["id"]) for row in here}
    last_here = {(row["bike_id"], fold(row["name"])): row for row in _tails(here) if not row["withdrawn"]}
    known_parts = {row["load_case_id"] for table in PARTS for row in tables.get(table, ())}
    renamed: dict[str, str] = {}
    corrects: dict[str, str] = {}
    names, again = [], set()
    for chain in _chains(tables.get("load_case", [])):
        last = chain[-1]
        same = last_here.get((last["bike_id"], fold(last["name"])))
        if chain[0]["id"] in ours:
            again.add(chain[0]["id"])  # perhaps joined by an earlier import
        if same is None or last["withdrawn"] or any(row["id"] in ours for row in chain):
            continue
        names.append(" ".join(str(same["name"]).split()))
        if any(row["id"] in known_parts for row in chain):
            corrects[chain[0]["id"]] = same["id"]
        else:
            renamed |= {row["id"]: same["id"] for row in chain}
    return _joined(tables, renamed, corrects, JoinedLoads({}, tuple(names), frozenset(again)))


def _joined(
    tables: Mapping[str, list[Row]], renamed: dict[str, str], corrects: dict[str, str], joined: JoinedLoads
) -> JoinedLoads:
    found, changed = dict(tables), {*corrects, *joined.changed}
    found["load_case"] = [
        {**row, "replaces": corrects.get(row["id"], row["replaces"])}
        for row in tables.get("load_case", ())
        if row["id"] not in renamed
    ]
    for table in NAMING:
        rows = tables.get(table, [])
        changed |= {row["id"] for row in rows if row["load_case_id"] in renamed}
        found[table] = [
            {**row, "load_case_id": renamed.get(row["load_case_id"], row["load_case_id"])} for row in rows
        ]
    return JoinedLoads(found, joined.names, frozenset(changed))


def _chains(rows: Sequence[Row]) -> list[list[Row]]:
    """Sort rows into cases, each with its corrections in order."""
    newer = {row["replaces"]: row for row in rows if row["replaces"] is not None}
    known = {row["id"] for row in rows}
    found = []
    for row in rows:
        if row["replaces"] in known:
            continue
        chain = [row]
        while chain[-1]["id"] in newer:
            chain.append(newer[chain[-1]["id"]])
        found.append(chain)
    return found


def _tails(rows: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """List the rows that no other row replaces."""
    replaced = {row["replaces"] for row in rows}
    return [row for row in rows if row["id"] not in replaced]
