"""Sentences broken into lines of a terminal, between words."""

from __future__ import annotations

import re
import sys
import textwrap
from collections.abc import Iterator

import click

from strandline.shared.messages import printable

WIDTH = 80
"""Characters of a line: a terminal that nobody has widened."""


# "143.6 ± 0.4 mm" stays on one line: textwrap breaks at no such space.
_NO_BREAK = "\N{NO-BREAK SPACE}"
_TOGETHER = re.compile(r"(?<=\d) (?=±|%|mm\b|in\b|kg\b|lb\b|kPa\b|bar\b|psi\b)|(?<=±) (?=\d)")


def wrapped(words: str, indent: str = "", hanging: str = "  ") -> Iterator[str]:
    """Break a sentence into lines; a word that is longer than a line, such as a path, stays whole.

    Parameters
    ----------
    words : str
    indent : str
        Before the first line.
    hanging : str
        Added before the lines after it.
    """
    if not words:
        return
    for line in textwrap.wrap(
        _TOGETHER.sub(_NO_BREAK, printable(words)),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + hanging,
        break_long_words=False,
        break_on_hyphens=False,
    ):
        yield line.replace(_NO_BREAK, " ")


def say_lines(*lines: str) -> None:
    """Print lines; on a terminal those that are too long for it break between words, under their own indent.

    Parameters
    ----------
    *lines : str
        Each with the spaces it begins with.
    """
    on_terminal = sys.stdout.isatty()
    for line in lines:
        rest = line.lstrip(" ")
        if on_terminal and len(line) > WIDTH:
            click.echo("\n".join(wrapped(rest, " " * (len(line) - len(rest)))))
        else:
            click.echo(printable(line))
