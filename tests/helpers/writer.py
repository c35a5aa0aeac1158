"""Writes rides into a logbook until it is killed, and says each time what the logbook has acknowledged.

Run as ``python writer.py LOGBOOK WHO [COUNT]``: one line "WHO NUMBER ROUTE" for each ride that was recorded. With
COUNT it says when it is ready, and waits for a line before it writes.
"""

from __future__ import annotations

import itertools
import sys
from pathlib import Path

from ridelog.storage.store import Logbook
from tests.helpers.made_records import entry, fork_reading, put_bike, rear_preload


def main() -> None:
    path, who = Path(sys.argv[1]), sys.argv[2]
    turns = itertools.count() if len(sys.argv) < 4 else range(int(sys.argv[3]))
    with Logbook.open(path) as book:
        known = book.connection.execute("SELECT id FROM bike_version").fetchone()
        if len(sys.argv) == 4:
            print("ready", flush=True)
            sys.stdin.readline()
        version = put_bike(book) if known is None else book.bikes.version(known[0])
        for turn in turns:
            route = f"{who}-{turn}"
            ride = book.rides.add(
                version.bike_id, entry(version, route=route), [rear_preload()], [fork_reading()]
            )
            print(who, ride.number, route, flush=True)


if __name__ == "__main__":
    main()
