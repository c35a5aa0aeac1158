"""A disk on which one operation fails, or all from one on: below SQLite, and where files are written and named."""

from __future__ import annotations

import errno
import os
import random
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import apsw
import pytest

from tests.helpers.apsw_connection import Connection
from tests.helpers.lost_writes import Disk, disk


class FailingDisk:
    """Counts operations, and fails at one of them.

    Attributes
    ----------
    at : int or None
        The number of the operation that fails, from 1; None for a sound disk.
    goes_on : bool
        All that follow fail, too.
    error : int
        errno.EIO or errno.ENOSPC; a full disk fails at writing alone, and a write may be short.
    failed : int
        How many have failed.
    """

    def __init__(self) -> None:
        self.at: int | None = None
        self.goes_on = False
        self.error = errno.EIO
        self.failed = self.count = 0

    def set(self, chance: random.Random | None, most: int = 150) -> None:
        """Choose what fails next; None repairs the disk."""
        self.count = self.failed = 0
        self.at = None if chance is None else chance.randrange(1, most)
        if chance is not None:
            self.goes_on = chance.random() < 0.3
            self.error = chance.choice((errno.EIO, errno.ENOSPC))

    def fails(self, *, writes: bool) -> bool:
        """Count an operation, and say whether it fails."""
        if self.error == errno.ENOSPC and not writes:
            return False
        self.count += 1
        found = self.at is not None and (self.count == self.at or (self.goes_on and self.count > self.at))
        self.failed += found
        return found

    def below_sqlite(self, kind: str, name: str, half: Callable[[], None]) -> None:
        """Fail an operation of SQLite's."""
        if self.fails(writes=kind == "write"):
            if kind == "write":
                half()
            raise apsw.FullError(name) if self.error == errno.ENOSPC else apsw.IOError(name)

    def of_files(self, name: str, *, writes: bool = False) -> None:
        """Fail an operation on a file."""
        if self.fails(writes=writes):
            raise OSError(self.error, os.strerror(self.error), name)


class _File:
    """A file that may be cut short."""

    def __init__(self, file: Any, failing: FailingDisk) -> None:
        self._file, self._failing = file, failing

    def write(self, content: Any) -> Any:
        """Write all, or half of it and fail."""
        if self._failing.fails(writes=True):
            self._file.write(content[: len(content) // 2])
            raise OSError(self._failing.error, os.strerror(self._failing.error))
        return self._file.write(content)

    def __enter__(self) -> _File:
        self._file.__enter__()
        return self

    def __exit__(self, *error: Any) -> Any:
        return self._file.__exit__(*error)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


@contextmanager
def failing_disk(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[FailingDisk, Disk]]:
    """Put everything that the program writes on a disk that can fail."""
    failing = FailingDisk()
    with disk("failing") as made:
        made.fail = failing.below_sqlite
        fdopen = os.fdopen

        def opened(handle: int, mode: str = "r", *rest: Any, **more: Any) -> Any:
            file = fdopen(handle, mode, *rest, **more)
            return _File(file, failing) if "w" in mode else file

        def checked(name: str) -> None:
            real = getattr(os, name)

            def call(*values: Any, **more: Any) -> Any:
                failing.of_files(name)
                return real(*values, **more)

            monkeypatch.setattr(os, name, call)

        for name in ("fsync", "replace", "link"):
            checked(name)
        monkeypatch.setattr(os, "fdopen", opened)
        monkeypatch.setattr(sqlite3, "connect", lambda name, **_: Connection(name, made.name))
        yield failing, made
