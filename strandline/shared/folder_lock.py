"""A lock on a folder, held by one process: the system frees it however that process ends."""

from __future__ import annotations

import sqlite3
from pathlib import Path


def take_lock(path: Path) -> sqlite3.Connection | None:
    """Take a lock; SQLite's are there on every system.

    Parameters
    ----------
    path : Path
        Of the lock's own file, which stays.

    Returns
    -------
    sqlite3.Connection or None
        Closing it frees the lock. None where another process holds it.

    Raises
    ------
    sqlite3.Error
        The file cannot be made.
    """
    lock = sqlite3.connect(path, timeout=0, isolation_level=None, check_same_thread=False)
    try:
        lock.execute("PRAGMA locking_mode = EXCLUSIVE")
        lock.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError as error:
        lock.close()
        if "locked" not in str(error):
            raise
        return None
    return lock
