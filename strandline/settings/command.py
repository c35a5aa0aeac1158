"""``strandline settings``: show the defaults, change them, say where they lie."""

from __future__ import annotations

import json

import click

from strandline.shared.options import json_option


@click.command(
    "settings",
    epilog="Example: strandline settings units=in paper=letter",
    short_help="Show and change the defaults, such as units and paper.",
)
@click.argument("changes", metavar="[NAME=VALUE]...", nargs=-1)
@click.option("--edit", is_flag=True, help="Open the file in your editor.")
@json_option
def command(changes: tuple[str, ...], edit: bool, as_json: bool) -> None:
    """Show the settings and where their file lies; NAME=VALUE sets one, NAME= removes it.

    Names: bike, load, by (who measured), units, paper. The print scales of cards are there, too: strandline card
    --check measures one, print_scale.0= removes card 0's. What is typed with a command goes before all of these.
    """
    from strandline.shared.messages import errors_as_messages, printable
    from strandline.shared.settings import NAMES, read_settings, set_values, settings_path

    wanted = dict(_change(one) for one in changes)
    with errors_as_messages():
        if edit:
            _edit()
        found = set_values(wanted) if wanted else read_settings()
    path = settings_path()
    if as_json:
        scales = {str(card): scale for card, scale in sorted(found.scales.items())}
        click.echo(
            json.dumps({"file": str(path), **{n: found.values.get(n) for n in NAMES}, "print_scale": scales})
        )
        return
    click.echo(printable(f"{path}{'' if path.exists() else ' (not there yet)'}"))
    for name, what in NAMES.items():
        click.echo(printable(f"  {name:<7}{found.values.get(name) or '–':<17} {what}"))
    for card, scale in sorted(found.scales.items()):
        click.echo(printable(f"  print_scale.{card} = {scale}"))
    if not found.scales:
        click.echo("  No card is measured yet: strandline card --check")
    click.echo("Change one: strandline settings units=in. Remove one: strandline settings units=")


def _change(text: str) -> tuple[str, str]:
    from ridelog.errors import FileError
    from strandline.shared.messages import printable
    from strandline.shared.settings import check_setting

    name, sign, value = text.partition("=")
    name, value = name.strip().replace("-", "_"), value.strip()
    if not sign:
        raise click.UsageError(printable(f"“{text}” is not NAME=VALUE, such as units=in."))
    try:
        check_setting(name, value)
    except FileError as error:
        raise click.UsageError(printable(f"{error.message} {error.remedy}")) from error
    return name, value


def _edit() -> None:
    """Let the person edit until the file is right, or until they give up; then it stays as it was."""
    from ridelog.errors import FileError
    from strandline.shared.messages import printable_lines
    from strandline.shared.one_at_a_time import one_at_a_time
    from strandline.shared.settings import parse_settings, settings_path, settings_text, write_settings

    text = before = settings_text()
    while True:
        found = click.edit(text, extension=".toml")
        if found is None:
            return
        text = found
        try:
            parse_settings(text)
        except FileError as error:
            click.echo(printable_lines(f"{error.message} {error.remedy}"), err=True)
            if not click.confirm("Edit again?", default=True, err=True):
                return
            continue
        with one_at_a_time(settings_path()):
            if settings_text() == before:
                write_settings(text)
                return
        before = settings_text()
        click.echo("The settings were changed meanwhile by another command.", err=True)
        if not click.confirm("Edit again, and then write yours?", default=True, err=True):
            return
