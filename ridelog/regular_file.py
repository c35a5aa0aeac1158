"""Reading a file whole that somebody else may have put there, if it is regular and not too large; syncing a folder."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

_PIECE = 1 << 20


def read_regular(path: Path, largest_bytes: int, *, inside: Path | None = None) -> bytes:
    """Read a file whole, and never wait for it: pipes and devices are refused, not opened for reading.

    Parameters
    ----------
    path : Path
    largest_bytes : int
        What is larger is refused before it is read.
    inside : Path, optional
        The folder that the file must lie in, links followed.

    Returns
    -------
    bytes

    Raises
    ------
    OSError
        It cannot be read; `strerror` says why in words for a person.
    """
    try:
        place, flags = path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        if inside is not None:
            # What the link led to is opened, and no link that takes its place meanwhile.
            place, flags = path.resolve(), flags | getattr(os, "O_NOFOLLOW", 0)
            if not place.is_relative_to(inside.resolve()):
                raise OSError(errno.EACCES, "it lies outside the folder", str(path))
        # Asked before opening, too: opening a device may already do something.
        _refuse(place.stat(), largest_bytes, path)
        # O_NONBLOCK: a pipe that took the file's place meanwhile is opened at once, and then refused.
        handle = os.open(place, flags)
    except (ValueError, RuntimeError) as error:  # a NUL in the name; links in a circle
        raise OSError(errno.EINVAL, "no file can have this name", str(path)) from error
    with os.fdopen(handle, "rb") as file:
        _refuse(os.fstat(handle), largest_bytes, path)
        found = bytearray()
        # Not one read of so many bytes, which would set the memory aside for a file that only claims to be long.
        while piece := file.read(_PIECE):
            found += piece
            if len(found) > largest_bytes:  # it grew meanwhile, or is one of the system's, which say 0 bytes
                raise _too_large(largest_bytes, path)
    return bytes(found)


def is_regular(path: Path, *, inside: Path | None = None) -> bool:
    """Whether this is a regular file, links followed, that lies in the folder; no file is opened."""
    try:
        return stat.S_ISREG(path.stat().st_mode) and (
            inside is None or path.resolve().is_relative_to(inside.resolve())
        )
    except (OSError, ValueError, RuntimeError):
        return False


def is_there(path: Path) -> bool:
    """Whether there is something of this name; a name that no file can have, being too long, is that of none."""
    try:
        path.stat()
    except (OSError, ValueError):
        return False
    return True


def is_folder(path: Path) -> bool:
    """Whether this is a folder, links followed; a name that no file can have is that of none."""
    return is_there(path) and path.is_dir()


def sync_folder(folder: Path) -> None:
    """Make a new name in a folder outlast a power cut, where the system lets a folder be synced.

    Raises
    ------
    OSError
        The disk fails; a folder that can only be written to, and one of a system that syncs none, are passed over.
    """
    if os.name == "nt":
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as error:
        if error.errno not in (
            errno.EACCES,
            errno.EPERM,
            errno.EINVAL,
            errno.ENOTSUP,
            errno.EBADF,
            errno.EISDIR,
        ):
            raise


def _refuse(found: os.stat_result, largest_bytes: int, path: Path) -> None:
    if stat.S_ISDIR(found.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not stat.S_ISREG(found.st_mode):
        raise OSError(errno.EINVAL, "it is a device or a pipe, not a file", str(path))
    if found.st_size > largest_bytes:
        raise _too_large(largest_bytes, path)


def _too_large(largest_bytes: int, path: Path) -> OSError:
    return OSError(errno.EFBIG, f"it is too large (more than {largest_bytes / 1e6:g} MB)", str(path))
