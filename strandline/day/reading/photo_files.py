"""Photo files of a day's folder, and the hashes of their content."""

from __future__ import annotations

import hashlib
import os
import queue
import stat
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from calibration.photo_limits import MAX_BYTES
from ridelog.regular_file import is_regular
from strandline.day.errors import DayError

ENDINGS = frozenset((".jpg", ".jpeg", ".png", ".heic", ".heif", ".avif", ".tif", ".tiff", ".webp"))
"""What phones write, and what people turn it into; what else lies in the folder is left alone."""

_PIECE = 1 << 20
# Of one file, s: as much as reading the photo may take, whose worker has to fetch it again (`Limits.seconds`).
HASH_S = 60.0


@dataclass(frozen=True)
class FileStamp:
    """Size, times and number of a file, by which an unchanged one is recognised without reading it.

    The time of the last change of state (ctime) is set by the system alone, so that a file that was replaced by
    one of the same size and time is noticed all the same.
    """

    size: int
    mtime_ns: int
    ctime_ns: int
    inode: int


def find_photos(folder: Path, leave_out: Path) -> list[Path]:
    """Find all photos below a folder, by name.

    Parameters
    ----------
    folder : Path
    leave_out : Path
        The folder of results.

    Returns
    -------
    list of Path
        Below `folder`. Hidden files and folders are left out, and links to folders are not followed. Some may be
        no files: see `file_stamp`.

    Raises
    ------
    DayError
        If the folder cannot be listed.
    """

    def refuse(error: OSError) -> None:
        if error.filename is not None and Path(error.filename) == folder:
            raise DayError(
                f"The folder {folder} cannot be read: {error.strerror}.", "Name the folder of the day."
            ) from error

    skip = leave_out.resolve()
    found = []
    for place, folders, names in os.walk(folder, onerror=refuse):
        here = Path(place)
        folders[:] = [name for name in folders if name[0] != "." and (here / name).resolve() != skip]
        found += [
            here / name
            for name in names
            if name[0] != "." and os.path.splitext(name)[1].lower() in ENDINGS  # noqa: PTH122
        ]
    return sorted(found, key=os.fsencode)


def file_stamp(path: Path, inside: Path | None = None) -> FileStamp | None:
    """Take the system's record of a file.

    Parameters
    ----------
    path : Path
    inside : Path, optional
        The folder that the file must lie in, links followed: whoever may put a link into it shall not have other
        files of this machine read and shown.

    Returns
    -------
    FileStamp or None
        None where it is gone, no regular file, outside the folder, or too large for a photo: it is not to be opened.
    """
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    if not stat.S_ISREG(found.st_mode) or found.st_size > MAX_BYTES:
        return None
    if inside is not None and path.is_symlink() and not is_regular(path, inside=inside):
        return None
    return FileStamp(found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino)


def content_hash(path: Path) -> str | None:
    """SHA-256 of a file's bytes, hexadecimal; None where it cannot be read, or does not come within `HASH_S`.

    A folder kept on a network or in a cloud may list a file that it cannot fetch, and a read then waits for ever.
    """
    waiting = _waiting.get(path)
    if waiting is not None and waiting.is_alive():  # since an earlier pass over the folder
        return None
    said: queue.SimpleQueue[str | None] = queue.SimpleQueue()

    def read() -> None:
        found = hashlib.sha256()
        try:
            for piece in _pieces(path):
                found.update(piece)
        except OSError:
            said.put(None)
        else:
            said.put(found.hexdigest())

    # Nothing ends a thread that the system keeps waiting, but the program need not wait for it.
    reading = threading.Thread(target=read, daemon=True)
    reading.start()
    try:
        return said.get(timeout=HASH_S)
    except queue.Empty:
        _waiting[path] = reading
        return None


_waiting: dict[Path, threading.Thread] = {}
"""Reads that have not come back, by file."""


def _pieces(path: Path) -> Iterator[bytes]:
    # Opened without waiting, then asked again: a pipe may have taken the file's place.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb") as file:
        found = os.fstat(handle)
        if not stat.S_ISREG(found.st_mode):
            raise OSError
        left = found.st_size
        while piece := file.read(_PIECE):
            left -= len(piece)
            if left < 0:  # it is still being written, or never ends
                raise OSError
            yield piece


def display_name(path: Path, folder: Path) -> str:
    """Write a photo's name below the day's folder, as text that any file can hold; slashes between folders."""
    return os.fsencode(path.relative_to(folder).as_posix()).decode("utf-8", "backslashreplace")
