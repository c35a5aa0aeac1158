"""Standard output that takes nothing: full, closed, or of an encoding that lacks letters."""

from __future__ import annotations

import errno
import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import click

# What writing to a stream fails with: a full or broken disk, a quota, a closed pipe, no open file.
_STREAM_ERRORS = (errno.ENOSPC, errno.EIO, errno.EDQUOT, errno.EFBIG, errno.EPIPE, errno.EBADF)


class _Closed(io.TextIOBase):
    """Stands for a standard output that was closed before the program began."""

    encoding = "utf-8"

    def write(self, text: str) -> int:
        """Refuse, as a closed file does."""
        raise OSError(errno.EBADF, "it is closed")


def prepare_streams() -> None:
    """Make standard output and error fit to be written to.

    Letters that the encoding lacks are written as escapes. The numbers of closed streams are taken up, or else the
    next file that is opened gets them, and what a library prints goes into it.
    """
    while (handle := os.open(os.devnull, os.O_RDWR)) <= 2:
        pass
    os.close(handle)
    if sys.stdin is None:  # questions then find the end of the input, as with </dev/null
        sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: PTH123, SIM115
    if sys.stdout is None:
        sys.stdout = _Closed()
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def is_gone(error: OSError) -> bool:
    """Whether an error comes from writing to a stream: those of files carry a name, or became messages before."""
    return error.filename is None and error.errno in _STREAM_ERRORS


def give_up_output() -> None:
    """Send what is still to be written nowhere, so that the end of the program does not fail on it again."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def words_for(error: OSError) -> str:
    """Say that the output is gone."""
    return f"Standard output cannot be written: {error.strerror or error}."


@contextmanager
def after_it_is_done(what: str) -> Iterator[None]:
    """Show a result of something that stays done; where it cannot be shown, say so on standard error, and go on.

    Parameters
    ----------
    what : str
        A sentence: what was done.
    """
    try:
        yield
        sys.stdout.flush()
    except OSError as error:
        if not is_gone(error):
            raise
        give_up_output()
        click.echo(f"{what} {words_for(error)}", err=True)


def folder_is_gone() -> bool:
    """Whether the folder that the program was started in has been deleted: then no path can be completed."""
    try:
        Path.cwd()
    except OSError:
        return True
    return False
