"""The tables of a document: all of the schema's, each after those that it names."""

from __future__ import annotations

from contextlib import closing

from ridelog.storage.connection import migrate, open_raw
from ridelog.transfer.document import TABLES


def test_the_tables_are_the_schemas_and_each_follows_what_it_names() -> None:
    with closing(open_raw(":memory:")) as connection:
        migrate(connection)
        there = connection.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        )
        assert {row["name"] for row in there} == set(TABLES)
        for place, table in enumerate(TABLES):
            named = {row["table"] for row in connection.execute(f"PRAGMA foreign_key_list({table})")}
            assert named - {table} <= set(TABLES[:place]), table
