"""Photos that this call has read, so that recording them reads none a second time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import click

from strandline.read.one_photo import Outcome


@dataclass(frozen=True)
class AlreadyRead:
    """What a command hands to the one that it calls, as click's object.

    Attributes
    ----------
    outcomes : mapping
        By the photo's name as it is given to that command.
    """

    outcomes: Mapping[str, Outcome]


def already_read() -> AlreadyRead | None:
    """Give what the calling command has read; None where a person called."""
    context = click.get_current_context(silent=True)
    return None if context is None else context.find_object(AlreadyRead)
