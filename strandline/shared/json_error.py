"""Errors as JSON, where the answer was to be JSON."""

from __future__ import annotations

import json
from typing import IO, Any

import click


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
