"""A copy of a logbook that is in use, through SQLite's own online backup: a state between two commits."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from pathlib import Path

from ridelog.errors import TransferError
from ridelog.regular_file import is_folder, is_there, read_regular, sync_folder

# Of a database's head, what counts changes, of the tables too, and versions of SQLite (its file format, 1.3.7, 1.3.9
# and 1.3.18): bytes. SQLite's backup may count one on.
_COUNTERS = ((24, 28), (40, 44), (92, 100))


def keep_copy(connection: sqlite3.Connection, target: Path) -> None:
    """Copy the database to a new file, unless it is there already, or another process makes it meanwhile.

    A file of the same name with other rows, of a logbook that went back to that version once, stays, and the copy
    gets a number: ``logbook.sqlite.version-4-2``.

    Raises
    ------
    TransferError
    """
    number, place = 1, target
    while place.exists() and not _is_copy(connection, place):
        number += 1
        place = target.with_name(f"{target.name}-{number}")
    if not place.exists():
        try:
            write_copy(connection, place, force=False)
        except TransferError:
            if not place.exists():
                raise


def _is_copy(connection: sqlite3.Connection, place: Path) -> bool:
    try:
        here = bytearray(connection.serialize())
        there = bytearray(read_regular(place, len(here)))  # which waits for no pipe
    except (OSError, sqlite3.Error):
        return False
    for start, stop in _COUNTERS:
        here[start:stop] = there[start:stop] = bytes(stop - start)
    return here == there


def refuse_itself(logbook: Path, target: Path) -> None:
    """Refuse to put a copy in the logbook's own place: another process may be writing to the file that would go.

    Raises
    ------
    TransferError
    """
    if is_there(target) and logbook.is_file() and target.samefile(logbook):
        raise TransferError(f"{target} is the logbook itself.", "Name another file.")


def write_copy(connection: sqlite3.Connection, target: Path, *, force: bool) -> None:
    """Copy the database to a file, whole or not at all, and sync it to the disk.

    Parameters
    ----------
    connection : sqlite3.Connection
    target : Path
    force : bool
        Replace what is there.

    Raises
    ------
    TransferError
        The target is there already, or cannot be written.
    """
    if is_folder(target):
        raise TransferError(f"{target} is a folder.", "Name a file.")
    if is_there(target) and not force:
        raise TransferError(f"{target} is there already and was left as it is.", "Add --force to replace it.")
    draft: Path | None = None
    try:
        refuse_itself(Path(connection.execute("PRAGMA database_list").fetchone()[2]), target)
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".strandline-", suffix=".part", dir=target.parent)
        os.close(handle)
        draft = Path(name)
        copy = sqlite3.connect(draft, isolation_level=None)
        try:
            copy.execute("PRAGMA synchronous = EXTRA")
            connection.backup(copy)
            if copy.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
                raise TransferError(
                    f"The copy of the logbook to {target} is damaged.", "Check the logbook and the disk."
                )
        finally:
            copy.close()
        draft.chmod(0o600)  # routes and dates are private
        _name(draft, target, force)
    except OSError as error:
        raise TransferError(
            f"{target} cannot be written: {error.strerror}.", "Name a file that you may write."
        ) from error
    except sqlite3.Error as error:
        raise TransferError(
            f"The copy to {target} failed ({error}).", "Run strandline logbook check."
        ) from error
    finally:
        if draft is not None:
            draft.unlink(missing_ok=True)


def _name(draft: Path, target: Path, force: bool) -> None:
    if force:
        draft.replace(target)
    else:
        try:
            target.hardlink_to(draft)
        except FileExistsError:
            raise TransferError(f"{target} appeared meanwhile.", "Name another file.") from None
        except OSError:  # memory sticks know no hard links
            draft.rename(target)
    sync_folder(target.parent)
