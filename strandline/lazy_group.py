"""Groups of commands below a command; each is imported only when it is called."""

from __future__ import annotations

import importlib

import click


class Subcommands(click.Group):
    """A group whose commands stand in modules of `strandline.commands` named ``GROUP_COMMAND``.

    Parameters
    ----------
    lines : dict of str to str
        Name of each command and its line in the overview, which so needs none of the modules.
    """

    lines: dict[str, str]

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands."""
        return list(self.lines)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return a command, or None where there is none of this name."""
        if cmd_name not in self.lines:
            return None
        module = importlib.import_module(f"strandline.commands.{self.name}_{cmd_name}")
        found: click.Command = module.command
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the overview without importing anything."""
        with formatter.section("Commands"):
            formatter.write_dl(list(self.lines.items()))


def group(name: str, lines: dict[str, str], *, short_help: str, text: str, epilog: str) -> click.Group:
    """Make a group of commands."""
    made = Subcommands(name, help=text, short_help=short_help, epilog=epilog, no_args_is_help=True)
    made.lines = lines
    return made
