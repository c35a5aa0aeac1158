"""The command ``strandline``: each subcommand is loaded only when it is called."""

from __future__ import annotations

import importlib
import os
import sys

import click

from strandline import __version__

# Solves are of some 30 parameters: more threads than one cost more than they save (a reading's solves took twice
# the time on two cores). Read when NumPy loads, which is later than this.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Name of the command: its module in `strandline.commands`, and its line in the overview. The line stands here
# so that the overview needs none of the modules.
COMMANDS = {
    "card": ("card", "Draw the scale cards to print."),
    "read": ("read", "Read the lengths on a shaft from photos."),
    "bike": ("bike", "Describe bikes, and show, change and list them."),
    "ride": ("ride", "Record rides, and list, show and amend them."),
    "logbook": ("logbook", "Export, import, back up and check the logbook."),
    "sag": ("sag", "Work out sag from lengths or photos, against its windows."),
    "loads": ("loads", "Work out what each axle carries, against the plate."),
    "advise": ("advise", "Say what to change next, why, and when to stop."),
    "chart": ("chart", "Draw used stroke, settings by load, and history."),
    "card-of-settings": ("card_of_settings", "Print the settings by load, one page for the wall."),
    "pool": ("pool", "Exchange settings with other owners, and put them together."),
    "day": ("day", "Read a whole tech day: many photos of many bikes."),
    "demo": ("demo", "Read the sample photos, and set up an invented bike."),
}


class LazyGroup(click.Group):
    """A group that imports a command's module when the command is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands, in the order in which a person needs them."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return a command, or None where there is none of this name."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"strandline.commands.{COMMANDS[cmd_name][0]}")
        found: click.Command = module.command
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the overview without importing anything."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Example: strandline read IMG_1.jpg --shaft 41.0mm --layout fork",
)
@click.version_option(__version__, prog_name="strandline")
def cli() -> None:
    """Lengths on a suspension shaft from one photo with the printed card beside it.

    Print the card, stick it on something stiff, lay it beside the shaft with the arrow towards the seal, take
    a photo, and read it. Works offline.
    """


def main() -> None:
    """Run the command line; a library that cannot be loaded becomes a message, not a traceback."""
    try:
        cli(prog_name="strandline")
    except ImportError as error:
        from strandline.messages import cannot_load

        words = cannot_load(error)
        if words is None:
            raise
        click.echo(words, err=True)
        sys.exit(1)


if __name__ == "__main__":
    main()
