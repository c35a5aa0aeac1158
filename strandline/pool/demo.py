"""``strandline pool demo``: invented settings to try the pool with."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.storage import json_option


@click.command(
    "demo",
    epilog="Example: strandline pool demo -o invented.csv",
    short_help="Write invented settings of eight owners to try it with.",
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    default=Path("invented.csv"),
    show_default=True,
    help="The CSV to write.",
)
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
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
