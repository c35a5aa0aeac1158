"""A logbook as a document: all rows of all tables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

# The tables in an order in which each follows those that it names; a new version adds to the end.
TABLES = (
    *("provenance", "bike", "bike_version", "load_case", "ride", "ride_entry", "setting", "reading"),
    *("felt", "load_item", "axle_load", "sag_session", "sag_measurement"),
    *("felt_end", "event", "sag_setting"),
)

LARGEST_BYTES = 200_000_000
"""Of a file to import: a ride with its settings and readings takes some 5 kB as JSON, so 40,000 rides fit."""

Row = dict[str, Any]


@dataclass(frozen=True)
class Document:
    """All that a logbook holds.

    Attributes
    ----------
    version : int
        Schema version.
    tables : dict of str to list of rows
        In the order of insertion; a row maps each column to text, a number or None.
    """

    version: int
    tables: dict[str, list[Row]]
