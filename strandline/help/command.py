"""``strandline help``: the overview, a command's help, or the words this program uses."""

from __future__ import annotations

import json

import click

from strandline.shared.options import json_option
from strandline.shared.suggest import did_you_mean

TERMS_TOPIC = "terms"


@click.command(
    "help",
    epilog="Example: strandline help terms",
    short_help="Show this overview, or explain a command or the words used.",
)
@click.argument("topic", metavar="[COMMAND|terms]", nargs=-1)
@json_option
@click.pass_context
def command(ctx: click.Context, topic: tuple[str, ...], as_json: bool) -> None:
    """Show the overview; a command's help, as in strandline help ride add; or the words used, with terms."""
    from strandline.help.text import terms_fields, terms_text

    if topic == (TERMS_TOPIC,):
        click.echo(json.dumps(terms_fields()) if as_json else terms_text())
        return
    text = _help_of(ctx.find_root(), topic)
    click.echo(json.dumps({"topic": " ".join(topic), "help": text}) if as_json else text)


def _help_of(root: click.Context, names: tuple[str, ...]) -> str:
    """Help of a command by its names, as its --help prints it.

    Raises
    ------
    click.UsageError
        There is no such command.
    """
    context = root
    for name in names:
        group = context.command
        found = group.get_command(context, name) if isinstance(group, click.Group) else None
        if found is None:
            asked = " ".join(names)
            known = group.list_commands(context) if isinstance(group, click.Group) else []
            lists = "strandline help lists the commands; strandline help terms explains the words."
            raise click.UsageError(
                f"There is no command “{asked}”. {did_you_mean(name, [*known, 'terms']) or lists}"
            )
        context = click.Context(found, info_name=name, parent=context)
    return context.get_help()
