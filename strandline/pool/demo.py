"""``strandline pool demo``: invented settings to try the pool with."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import force_option, json_option, output_option


@click.command(
    "demo",
    epilog="Example: strandline pool demo -o invented.csv",
    short_help="Write invented settings of eight owners to try this with.",
)
@output_option("The CSV file to write.", "invented.csv")
@force_option("a file that is there already")
@json_option
def command(output: Path, force: bool, as_json: bool) -> None:
    """Write settings that nobody rode, each row marked as invented."""
    from strandline.pool.file import to_csv
    from strandline.pool.invented import demo_rows
    from strandline.shared.files import write_new
    from strandline.shared.messages import errors_as_messages

    rows = demo_rows()
    with errors_as_messages():
        write_new(output, to_csv(rows).encode("utf-8"), force=force)
    if as_json:
        click.echo(json.dumps({"file": str(output), "rows": len(rows), "invented": True}))
    else:
        click.echo(f"{output}: {len(rows)} invented settings. Try strandline pool show {output}.")
