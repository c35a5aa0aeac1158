"""Write docs/commands.md from the commands: ``python -m strandline.help.commands_page > docs/commands.md``."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator

import click

from strandline.__main__ import cli

HEAD = """\
# Commands

Every command with its options, as `strandline COMMAND --help` shows them. This page is generated
(`python -m strandline.help.commands_page > docs/commands.md`) and checked by a test: do not edit it.
"""


def commands_page() -> str:
    """Write the page.

    Returns
    -------
    str
        Markdown, ending with a newline.
    """
    return "\n".join([HEAD, *_sections(click.Context(cli, info_name="strandline"))]).rstrip("\n") + "\n"


def commands_of(context: click.Context) -> Iterator[click.Context]:
    """Contexts of all commands below a group, each group before its own."""
    group = context.command
    assert isinstance(group, click.Group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        inner = click.Context(command, info_name=name, parent=context)
        yield inner
        if isinstance(command, click.Group):
            yield from commands_of(inner)


def _sections(root: click.Context) -> Iterator[str]:
    for context in commands_of(root):
        depth = context.command_path.count(" ")
        yield f"{'#' * (depth + 1)} {context.command_path}\n"
        yield from (_escaped(part) + "\n" for part in _paragraphs(context.command.help or ""))
        if not isinstance(context.command, click.Group):
            usage = " ".join([context.command_path, *context.command.collect_usage_pieces(context)])
            yield f"```text\n{usage}\n```\n"
            yield "\n".join(_options(context)) + "\n"
        epilog = context.command.epilog or ""
        yield f"{epilog.partition(': ')[0]}:\n\n```sh\n{epilog.partition(': ')[2]}\n```\n"


def _paragraphs(text: str) -> Iterator[str]:
    for part in inspect.cleandoc(text).split("\n\n"):
        yield " ".join(part.split())


def _options(context: click.Context) -> Iterator[str]:
    for param in context.command.get_params(context):
        record = param.get_help_record(context) if isinstance(param, click.Option) else None
        if record is not None and "--help" not in param.opts:
            names, about = record
            yield f"- `{names}`: {_escaped(about.replace('  [', ' ['))}"


def _escaped(text: str) -> str:
    """Keep Markdown from reading angle brackets, asterisks and square brackets as its own."""
    return re.sub(r"([<>*\[\]_])", r"\\\1", text)


if __name__ == "__main__":
    click.echo(commands_page(), nl=False)
