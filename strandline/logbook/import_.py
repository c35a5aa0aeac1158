"""``strandline logbook import``: what was exported, in again."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import json_option, logbook_option
from strandline.shared.storage import opened


@click.command(
    "import",
    epilog="Example: strandline logbook import season.json --logbook new.sqlite",
    short_help="Add what was exported.",
)
@click.argument("source", type=click.Path(path_type=Path))
@logbook_option
@json_option
def command(source: Path, logbook_path: Path | None, as_json: bool) -> None:
    """Add what SOURCE holds (a JSON file or a folder of CSV files) to the logbook: all of it, or nothing.

    What the logbook already has is left as it is. A ride whose number is taken gets the next free number.
    """
    from ridelog.transfer.transfer import import_, read_document
    from strandline.shared.messages import errors_as_messages, printable
    from strandline.shared.output_gone import after_it_is_done

    with errors_as_messages():
        document = read_document(source)
    with opened(logbook_path, create=True) as logbook:
        done = import_(logbook, document)
    with after_it_is_done(f"{done.added} rows were added."):
        if as_json:
            click.echo(
                json.dumps(
                    {
                        "added": done.added,
                        "known": done.known,
                        "renumbered": [list(one) for one in done.renumbered],
                        "joined_loads": list(done.joined_loads),
                    }
                )
            )
            return
        click.echo(f"{done.added} rows added, {done.known} were there already.")
        for theirs, ours in done.renumbered:
            click.echo(f"Ride {theirs} is ride {ours} here.")
        for name in done.joined_loads:
            click.echo(printable(f"The load {name} was here already: both are one now, with one history."))
