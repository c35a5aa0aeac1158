"""Progress of a run: a bar with a rate and an end time for a person, nothing for a pipe."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress(*, quiet: bool) -> Iterator[Callable[[int, int], None]]:
    """Show progress on standard error while in the block.

    Parameters
    ----------
    quiet : bool
        Show nothing; so it is too where standard error is no terminal.

    Yields
    ------
    function of (int, int)
        Takes the number of photos done, and of all.
    """
    if quiet or not sys.stderr.isatty():
        yield lambda done, total: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    with Progress(
        TextColumn("Reading"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[rate]}"),
        console=Console(stderr=True),
        transient=True,
    ) as bar:
        task = bar.add_task("", total=None, rate="")

        def show(done: int, total: int) -> None:
            bar.update(
                task, completed=done, total=total, rate=_rate(bar.tasks[0].elapsed or 0.0, done, total)
            )

        yield show


def _rate(elapsed_s: float, done: int, total: int) -> str:
    """Photos a minute so far, and when the last will be done at that rate."""
    import datetime as dt

    if not done or elapsed_s <= 0:
        return ""
    left_s = elapsed_s / done * (total - done)
    end = dt.datetime.now() + dt.timedelta(seconds=left_s)
    return f"{60 * done / elapsed_s:.0f} photos/min, done about {end:%H:%M:%S}"
