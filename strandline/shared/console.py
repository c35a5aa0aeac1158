"""Where tables for a person are printed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import PurePath
from typing import TYPE_CHECKING, TextIO

from strandline.shared.messages import printable

if TYPE_CHECKING:
    from rich.console import Console

# Width of what goes into a file or a pipe, where no terminal says how wide it is: all columns fit.
PIPE_COLUMNS = 130


def console_for(out: TextIO) -> Console:
    """Make a console that neither colours nor folds what goes into a pipe."""
    from rich.console import Console

    width = None if out.isatty() else PIPE_COLUMNS
    return Console(file=out, width=width, highlight=False, soft_wrap=False)


def short_names(names: Sequence[str]) -> list[str]:
    """Shorten file names to those without folders, if they stay different."""
    base = [PurePath(name).name or name for name in names]
    count = Counter(base)
    return [printable(b if count[b] == 1 else name) for b, name in zip(base, names, strict=True)]
