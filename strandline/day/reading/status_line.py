"""One line that says how a watched day stands, written over in place; lines of their own for a pipe."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.status import Status


class StatusLine:
    """The line.

    Parameters
    ----------
    live : Status or None
        rich's, in a terminal; None where lines are written one after the other.
    quiet : bool
        Write nothing but what `say` says.
    """

    def __init__(self, live: Status | None, *, quiet: bool) -> None:
        self.live, self.quiet = live, quiet
        self.last = ""

    def reading(self, done: int, total: int) -> None:
        """Say how many photos are being read; only in a terminal."""
        if self.live is not None and done < total:
            self.live.update(_safe(f"Reading {done + 1} of {total}. {self.last}"))

    def show(self, text: str) -> None:
        """Say how the day stands."""
        import datetime as dt

        text = f"{text}, {dt.datetime.now():%H:%M}."
        if self.live is not None:
            self.live.update(_safe(text))
        elif not self.quiet and text != self.last:
            print(text, flush=True)
        self.last = text

    def say(self, text: str) -> None:
        """Write a line that stays."""
        if self.live is not None:
            self.live.console.print(_safe(text), highlight=False, soft_wrap=True)
        else:
            print(text, file=sys.stderr, flush=True)


@contextmanager
def status_line(*, quiet: bool) -> Iterator[StatusLine]:
    """Show the line on standard error while in the block.

    Parameters
    ----------
    quiet : bool
    """
    if quiet or not sys.stderr.isatty():
        yield StatusLine(None, quiet=quiet)
        return
    from rich.console import Console

    with Console(stderr=True).status("Looking for photos.", spinner="line") as live:
        yield StatusLine(live, quiet=False)


def _safe(text: str) -> str:
    from rich.markup import escape

    return escape(text)
