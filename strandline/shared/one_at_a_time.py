"""Changing a file that is read, changed and written whole: one process after the other, so that no change is lost."""

from __future__ import annotations

import contextlib
import hashlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

# A change takes some milliseconds; whoever waits longer goes on, for a lock that hangs must not end the work.
WAIT_S = 20.0


@contextmanager
def one_at_a_time(path: Path) -> Iterator[None]:
    """Let no other process of this program change the file meanwhile.

    The lock lies among the user's caches, not beside the file, whose folder is looked into; there are 256 at most,
    which files share. It is SQLite's, which is there on every system, and which the system frees however a process
    ends. Where there can be none, as in a home that can only be read, the change is made all the same.

    Parameters
    ----------
    path : Path
        It need not exist.
    """
    from platformdirs import user_cache_path

    name = hashlib.sha256(os.fsencode(path.resolve())).hexdigest()[:2]
    lock = None
    with contextlib.suppress(OSError, sqlite3.Error):
        folder = user_cache_path("strandline", appauthor=False) / "locks"
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        lock = sqlite3.connect(folder / name, timeout=WAIT_S, isolation_level=None)
        lock.execute("BEGIN EXCLUSIVE")
    try:
        yield
    finally:
        if lock is not None:
            lock.close()
