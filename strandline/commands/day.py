"""``strandline day``: a tech day from a folder of photos to results for every bike."""

from __future__ import annotations

import click

from strandline.lazy_group import Subcommands

_LINES = {
    "run": "Read a day's folder; what “strandline day FOLDER” does.",
    "new": "Make a day's folder with roster and printed cards.",
}


class _Day(Subcommands):
    """A group that takes a folder in place of a command's name."""

    lines = _LINES

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the folder where no command is named."""
        if args and args[0] not in (*_LINES, "-h", "--help"):
            args = ["run", *args]
        return super().parse_args(ctx, args)


command = _Day(
    "day",
    help="Turn a folder of photos from a tech day into results for every bike, and a list of what could not be "
    "told.\n\n“strandline day FOLDER” reads the folder; “strandline day run --help” tells its options. A folder "
    "named new or run is written ./new or ./run.",
    short_help="Read a whole tech day: many photos of many bikes.",
    epilog="Example: strandline day new spring-day --entrants names.txt; then strandline day spring-day",
    no_args_is_help=True,
)
