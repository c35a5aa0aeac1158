"""Between the frozen records and the rows of the tables: one rule for each type of field."""

from __future__ import annotations

import dataclasses
import datetime as dt
import sqlite3
import types
import typing
from enum import StrEnum
from typing import Any, TypeVar

from ridelog.errors import RecordError
from ridelog.storage import records
from ridelog.storage.records import Provenance
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity

R = TypeVar("R")

TABLES: dict[type, str] = {
    records.Provenance: "provenance",
    records.StoredBike: "bike",
    records.BikeVersion: "bike_version",
    records.LoadCase: "load_case",
    records.LoadItem: "load_item",
    records.AxleLoad: "axle_load",
    records.RideEntry: "ride_entry",
    records.Setting: "setting",
    records.Reading: "reading",
    records.SagSession: "sag_session",
    records.SagMeasurement: "sag_measurement",
    records.SagSetting: "sag_setting",
}
"""The table of each record; the fields of a record are its columns."""


_KINDS: dict[type, dict[str, type]] = {}  # worked out once for each record


def columns(record: Any) -> dict[str, Any]:
    """Give a record's row: lengths as value and u95, enums as words; parts in other tables are left out."""
    row: dict[str, Any] = {}
    for name, kind in _kinds(type(record)).items():
        value = getattr(record, name)
        if kind is Quantity:
            row[name] = None if value is None else value.value
            row[_u95_column(name)] = None if value is None else value.u95
        elif kind is Provenance:
            row[f"{name}_id"] = value.id
        elif kind is not tuple:
            row[name] = _plain(value)
    return row


def record(kind: type[R], row: sqlite3.Row, **parts: Any) -> R:
    """Build a record from its row.

    Parameters
    ----------
    kind : type
        A record's class.
    row : sqlite3.Row
        Found by `select_with_provenance`, where the record has one.
    **parts
        Fields that stand in other tables.

    Raises
    ------
    RecordError
        The row holds what the schema takes and no record can be built from.
    """
    try:
        return _built(kind, row, parts)
    except (ValueError, TypeError, OverflowError, SuspensionError) as error:
        said = error.message if isinstance(error, SuspensionError) else str(error)
        raise RecordError(
            f"{TABLES.get(kind, 'a row')} {row['id']} in the logbook cannot be read ({said}).",
            "Run strandline logbook check, and strandline logbook repair for a sound copy.",
        ) from error


def _built(kind: type[R], row: sqlite3.Row, parts: dict[str, Any]) -> R:
    values: dict[str, Any] = dict(parts)
    for name, its in _kinds(kind).items():
        if name in values or its is tuple:
            continue
        if its is Quantity:
            value, u95 = row[name], row[_u95_column(name)]
            values[name] = None if value is None or u95 is None else Quantity.from_u95(value, u95)
        elif its is Provenance:
            values[name] = Provenance(
                **{field: _value(row[f"from_{field}"], what) for field, what in _kinds(Provenance).items()}
            )
        else:
            values[name] = _value(row[name], its)
    return kind(**values)


def _value(stored: Any, kind: type) -> Any:
    """Give a field's value for what its column holds."""
    if stored is None:
        return None
    if kind is bool:
        return bool(stored)
    if kind is dt.date:
        return dt.date.fromisoformat(stored)
    return kind(stored) if issubclass(kind, StrEnum) else stored


def select_with_provenance(kind: type, where: str) -> str:
    """Give the query for a record's rows and their provenance's columns, which begin with ``from_``.

    Parameters
    ----------
    kind : type
        A record's class.
    where : str
        The condition; columns called id are written with their table's name.

    Returns
    -------
    str
        In the order of insertion. One query, however many rows there are.
    """
    table = TABLES[kind]
    origin = ", ".join(f"origin.{name} AS from_{name}" for name in _kinds(Provenance))
    return (
        f"SELECT {table}.*, {origin} FROM {table} JOIN provenance AS origin "
        f"ON origin.id = {table}.provenance_id WHERE {where} ORDER BY {table}.rowid"
    )


def insert(connection: sqlite3.Connection, table: str, row: dict[str, Any]) -> None:
    """Insert a row; names come from the dataclasses, values are bound."""
    names = ", ".join(row)
    marks = ", ".join(f":{name}" for name in row)
    connection.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", row)


def _u95_column(name: str) -> str:
    """Name the column of a quantity's expanded uncertainty: `exposed_u95_mm` beside `exposed_mm`."""
    what, _, unit = name.rpartition("_")
    return f"{what}_u95_{unit}"


def _plain(value: Any) -> Any:
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    return value.value if isinstance(value, StrEnum) else value


def _kinds(kind: type) -> dict[str, type]:
    """Find the type of each field, without its None; tuple for parts that stand in another table."""
    if kind not in _KINDS:
        hints = typing.get_type_hints(kind)
        _KINDS[kind] = {field.name: _bare(hints[field.name]) for field in dataclasses.fields(kind)}
    return _KINDS[kind]


def _bare(hint: Any) -> type:
    if isinstance(hint, types.UnionType):
        (hint,) = (one for one in typing.get_args(hint) if one is not type(None))
    bare: type = typing.get_origin(hint) or hint
    return bare
