"""``strandline bike edit``: change a bike's file, by hand or value by value."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import partial
from pathlib import Path

import click

from strandline.shared.options import json_option, logbook_option
from strandline.shared.storage import bike_path


@click.command(
    "edit",
    epilog='Example: strandline bike edit grey-twin --set leg.rear.stroke="60 mm" --set rear.motion_ratio=0.55',
    short_help="Change a bike's file.",
)
@click.argument("bike", default="")
@click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="KEY=VALUE",
    help="Change one value; the key is as in the file: leg.rear.extended='80 mm'. \"don't know\" is a value too.",
)
@logbook_option
@json_option
def command(bike: str, changes: tuple[str, ...], logbook_path: Path | None, as_json: bool) -> None:
    """Change BIKE's file: value by value with --set, otherwise in your editor ($VISUAL, $EDITOR).

    Comments and order stay. Errors are shown with their line, and the file is written only when there are none.
    """
    from strandline.shared.messages import errors_as_messages

    with errors_as_messages():
        path = bike_path(logbook_path, bike)
        changed = change(path, partial(_set, path, changes)) if changes else _edited_in(path)
    if as_json:
        click.echo(json.dumps({"file": str(path), "changed": changed}))
    else:
        click.echo(f"{path}: {'written' if changed else 'left as it was'}.")


def change(path: Path, changed: Callable[[str], str]) -> bool:
    """Change a bike's file as it is by now, one process after the other.

    Parameters
    ----------
    path : Path
    changed : callable
        Makes the new text of the one that is there.

    Returns
    -------
    bool
        Whether that changed it.

    Raises
    ------
    ridelog.errors.LogbookError
    strandline.shared.files.OutputError
    """
    from strandline.shared.files import write_new
    from strandline.shared.one_at_a_time import one_at_a_time

    with one_at_a_time(path):
        before = text_of(path)
        after = changed(before)
        if after != before:
            write_new(path, after.encode("utf-8"), force=True)
    return after != before


def _edited_in(path: Path) -> bool:
    """Let the person edit the file; whether that changed it."""
    from strandline.shared.files import OutputError, write_new
    from strandline.shared.one_at_a_time import one_at_a_time

    before = text_of(path)
    after = _edited(path, before)
    if after == before:
        return False
    with one_at_a_time(path):
        if text_of(path) == before:
            write_new(path, after.encode("utf-8"), force=True)
            return True
    draft = _keep_draft(path, after)
    raise OutputError(
        f"{path} was changed meanwhile and was left as it is. What you wrote is kept in {draft}."
    )


def _keep_draft(path: Path, text: str) -> Path:
    from strandline.shared.files import write_new

    draft = path.with_name(path.name + ".draft")
    write_new(draft, text.encode("utf-8"), force=True)
    return draft


def text_of(path: Path) -> str:
    """Read a bike's file, to be changed.

    Raises
    ------
    ridelog.errors.LogbookError
    """
    from ridelog.bikes.file import LARGEST_BYTES
    from ridelog.errors import LogbookError
    from ridelog.regular_file import read_regular

    try:
        return read_regular(path, LARGEST_BYTES).decode("utf-8-sig").replace("\r\n", "\n")
    except OSError as error:
        raise LogbookError(f"{path} cannot be read: {error.strerror}.", "Name a bike's file.") from error
    except UnicodeDecodeError as error:
        raise LogbookError(f"{path} is not UTF-8 text.", "Save it as UTF-8 in your editor.") from error


def _set(path: Path, changes: tuple[str, ...], before: str) -> str:
    from ridelog.bikes.file import parse_bike
    from ridelog.bikes.write import parse_key, set_values

    wanted = {}
    for change in changes:
        key, sign, value = change.partition("=")
        if not sign or not value.strip():
            raise click.BadParameter(
                f"{change} is not KEY=VALUE, such as leg.rear.stroke='60 mm'.", param_hint="--set"
            )
        wanted[parse_key(key)] = value.strip()
    after = set_values(before, wanted)
    parse_bike(after, path.name)
    return after


def _edited(path: Path, before: str) -> str:
    """Let the person edit until all is right, or until they give up; then the file stays as it was."""
    from ridelog.bikes.file import parse_bike
    from ridelog.errors import BikeFileError
    from strandline.shared.messages import printable_lines

    text = before
    while True:
        found = click.edit(text, extension=".toml")
        if found is None:
            return before
        text = found
        try:
            parse_bike(text, path.name)
        except BikeFileError as error:
            click.echo(printable_lines(error.message), err=True)
            if click.confirm("Edit again?", default=True, err=True):
                continue
            draft = _keep_draft(path, text)
            click.echo(f"What you wrote is kept in {printable_lines(str(draft))}.", err=True)
            return before
        return text
