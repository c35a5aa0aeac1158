"""How errors show themselves: as JSON where the answer was to be JSON, in lines where a terminal shows them."""

from __future__ import annotations

import json
from typing import IO, Any

import click

from strandline.shared.wrapped import wrapped

# What click writes before a message.
_BEFORE = "Error: "


def shown_as_json(error: click.ClickException) -> None:
    """Let an error show itself as a JSON object on standard error, in a line of its own.

    Parameters
    ----------
    error : click.ClickException
        Its message is whole: what is wrong and what to do.
    """

    def show(file: IO[Any] | None = None) -> None:
        fields = {"error": {"message": error.format_message(), "exit_status": error.exit_code}}
        click.echo(json.dumps(fields, ensure_ascii=False), file=file, err=file is None)

    error.show = show  # type: ignore[method-assign]


def shown_in_lines(error: click.ClickException) -> None:
    """Let an error break its message between words, at 80 columns; once is enough.

    Parameters
    ----------
    error : click.ClickException
    """
    if "format_message" in vars(error):
        return
    whole = error.format_message

    def format_message() -> str:
        first, *others = whole().split("\n")
        lines = list(wrapped(_BEFORE + first, "", "  "))
        for line in others:
            indent = line[: len(line) - len(line.lstrip())]
            lines += list(wrapped(line.strip(), indent)) or [""]
        return "\n".join(lines).removeprefix(_BEFORE)

    error.format_message = format_message  # type: ignore[method-assign]
