"""The command ``strandline``: its commands and groups, each loaded only when it is called."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import click

from strandline import __version__

# Solves are of some 30 parameters: more threads than one cost more than they save (a reading's solves took twice
# the time on two cores). Read when NumPy loads, which is later than this.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


@dataclass(frozen=True)
class Entry:
    """One command of a group.

    Attributes
    ----------
    module : str
        Its module, which holds a click command named ``command``; empty for a group.
    line : str
        Its line in the overview, which so needs none of the modules.
    """

    module: str
    line: str


_JSON = "strandline.json"
"""Key of the context's notes: whether the answer is to be JSON."""


@contextmanager
def _stopped() -> Iterator[None]:
    """End with status 130 after Ctrl-C, as shells have it, and with 1 where the input ended before its time."""
    try:
        yield
    except click.Abort as error:
        ended = isinstance(error.__context__, EOFError)
        if not getattr(error, "said", False):
            click.echo("\nThe input ended before all was answered." if ended else "\nStopped.", err=True)
        raise click.exceptions.Exit(1 if ended else 130) from error
    except KeyboardInterrupt as error:
        click.echo("\nStopped.", err=True)
        raise click.exceptions.Exit(130) from error


@contextmanager
def _printable_errors(as_json: bool) -> Iterator[None]:
    """Make messages safe for a terminal: names and typed values may hold escape codes; under --json, JSON."""
    try:
        yield
    except click.ClickException as error:
        from strandline.shared.error_shown import shown_as_json, shown_in_lines
        from strandline.shared.messages import printable_lines

        # Of what was typed so much is repeated; a bike's file may give a thousand lines of what is wrong.
        lines = [line if len(line) <= 1_000 else f"{line[:1_000]}…" for line in error.message.split("\n")]
        error.message = printable_lines("\n".join(lines))  # type: ignore[misc]
        if as_json:
            shown_as_json(error)
        elif sys.stderr.isatty():
            shown_in_lines(error)
        raise


def _wants_json(args: list[str]) -> bool:
    """Whether --json stands among the words, wherever it is: also where the rest of them is wrong."""
    return "--json" in (args[: args.index("--")] if "--" in args else args)


class LazyGroup(click.Group):
    """A group that imports a command's module when the command is asked for."""

    entries: dict[str, Entry]

    def make_context(
        self, info_name: str | None, args: list[str], parent: click.Context | None = None, **extra: Any
    ) -> click.Context:
        """Parse; what was typed is repeated in messages without control characters."""
        as_json = _wants_json(args) or (parent is not None and bool(parent.meta.get(_JSON)))
        with _printable_errors(as_json):
            context = super().make_context(info_name, args, parent, **extra)
        context.meta[_JSON] = as_json
        return context

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command, with printable messages."""
        with _stopped(), _printable_errors(bool(ctx.meta.get(_JSON))):
            return super().invoke(ctx)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands, in the order in which a person needs them."""
        return list(self.entries)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return a command, or None where there is none of this name."""
        if cmd_name not in self.entries:
            return None
        if not self.entries[cmd_name].module:
            return GROUPS[cmd_name]
        found: click.Command = importlib.import_module(self.entries[cmd_name].module).command
        return found

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; where there is none, ask whether a close one was meant."""
        if args[0] not in self.entries and not ctx.resilient_parsing and not args[0].startswith("-"):
            from strandline.shared.suggest import did_you_mean

            meant = did_you_mean(args[0], self.entries) or f"{ctx.command_path} --help lists them."
            raise click.UsageError(f"There is no command {args[0]}. {meant}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the overview without importing anything."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, entry.line) for name, entry in self.entries.items()])


class DayGroup(LazyGroup):
    """A group that takes a folder in place of a command's name."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the folder where no command is named."""
        if args and args[0] not in (*self.entries, "-h", "--help"):
            args = ["run", *args]
        return super().parse_args(ctx, args)


@dataclass(frozen=True)
class _Group:
    """What a group of commands says of itself."""

    line: str
    text: str
    epilog: str
    entries: dict[str, Entry]
    kind: type[LazyGroup] = field(default=LazyGroup)

    def made(self, name: str) -> LazyGroup:
        made = self.kind(name, help=self.text, short_help=self.line, epilog=self.epilog, no_args_is_help=True)
        made.entries = self.entries
        return made


_GROUPS = {
    "bike": _Group(
        line="Describe bikes, and show, change and list them.",
        text="A bike is described in a TOML file, which you can edit with any editor. Each number has its unit, and "
        '"don\'t know" is an answer.',
        epilog="Example: strandline bike new Grey twin",
        entries={
            "new": Entry("strandline.bike.new", "Describe a bike, in eight questions."),
            "more": Entry("strandline.bike.more", "Add to a bike, in groups of questions."),
            "show": Entry("strandline.bike.show", "Show what is known of a bike."),
            "edit": Entry("strandline.bike.edit", "Change a bike's file."),
            "spring": Entry(
                "strandline.bike.spring", "Work out the spring that would do, from sag and rides."
            ),
            "ratio": Entry("strandline.bike.ratio", "Work out a shock's motion ratio from the swingarm."),
            "list": Entry("strandline.bike.list", "List the bikes."),
        },
    ),
    "ride": _Group(
        line="Record rides, and list, show and amend them.",
        text="A ride is a day on a route with a load, the settings of each leg, and the readings of its markers "
        "afterwards, typed in or read from photos.",
        epilog='Example: strandline ride add --bike grey-twin --route "Ridge loop" --photo rear=IMG_1.jpg',
        entries={
            "add": Entry("strandline.ride.add", "Record a ride with its settings and readings."),
            "list": Entry("strandline.ride.list", "List the rides."),
            "show": Entry("strandline.ride.show", "Show a ride."),
            "amend": Entry("strandline.ride.amend", "Correct a ride, or withdraw it."),
            "legs": Entry("strandline.ride.legs", "Compare left and right over time."),
            "recount": Entry("strandline.ride.recount", "Say what a count made again means."),
            "plan": Entry("strandline.ride.plan", "Plan the next session: sag, pressures, the loop, a step."),
            "route": Entry("strandline.ride.route", "List the routes, rename or retire one."),
        },
    ),
    "logbook": _Group(
        line="Export, import, back up, check and repair the logbook.",
        text="The logbook is one file with bikes, loads, rides, settings and readings. Nothing in it is ever "
        "changed or deleted: a correction is added beside what it corrects.",
        epilog="Example: strandline logbook backup -o /media/stick/logbook.sqlite",
        entries={
            "export": Entry("strandline.logbook.export", "Write everything as JSON or CSV."),
            "import": Entry("strandline.logbook.import_", "Add what was exported."),
            "backup": Entry("strandline.logbook.backup", "Copy it to a file, also while it is in use."),
            "check": Entry("strandline.logbook.check", "Check the file for errors."),
            "repair": Entry("strandline.logbook.repair", "Write a sound copy, and list what it leaves out."),
        },
    ),
    "pool": _Group(
        line="Exchange settings with other owners, and combine them.",
        text="Owners of one kind of bike exchange their settings by load as CSV files. The files hold no names, dates, "
        "routes or notes. Owners differ, and the combined settings show by how much.",
        epilog="Example: strandline pool show mine.csv theirs.csv -o charts",
        entries={
            "export": Entry(
                "strandline.pool.export", "Write your settings as CSV, without anything personal."
            ),
            "show": Entry("strandline.pool.show", "Combine several owners' settings."),
            "demo": Entry(
                "strandline.pool.demo", "Write invented settings of eight owners to try this with."
            ),
        },
    ),
    "day": _Group(
        line="Read a whole tech day: many photos of many bikes.",
        text="Turn a folder of photos from a tech day into results for every bike, and a list of photos that could not "
        "be read or assigned to a leg.\n\n“strandline day FOLDER” reads the folder; “strandline day run --help” lists "
        "its options. Write a folder that is named new or run as ./new or ./run.",
        epilog="Example: strandline day new spring-day --entrants names.txt; then strandline day spring-day",
        entries={
            "run": Entry("strandline.day.run", "Read a day's folder; what “strandline day FOLDER” does."),
            "new": Entry("strandline.day.new", "Make a day's folder with roster and printed cards."),
        },
        kind=DayGroup,
    ),
    "completion": _Group(
        line="Let the shell complete commands and options.",
        text="Bash, zsh and fish complete commands and options at the Tab key.",
        epilog="Example: strandline completion install",
        entries={
            "install": Entry("strandline.completion.install", "Let the shell complete commands and options."),
        },
    ),
}
GROUPS = {name: one.made(name) for name, one in _GROUPS.items()}
"""The groups of commands."""

COMMANDS = {
    "card": Entry("strandline.cards.scale_card", "Draw the scale cards to print, and check the print."),
    "read": Entry("strandline.read.command", "Read the lengths on a shaft from photos."),
    "bike": Entry("", _GROUPS["bike"].line),
    "ride": Entry("", _GROUPS["ride"].line),
    "logbook": Entry("", _GROUPS["logbook"].line),
    "sag": Entry(
        "strandline.sag.command", "Work out sag from lengths or photos, and compare it with the usual range."
    ),
    "loads": Entry(
        "strandline.loads.command", "Work out what each axle carries, and compare it with the plate."
    ),
    "advise": Entry("strandline.advise.command", "Say what to change next, why, and when you are done."),
    "chart": Entry("strandline.charts.command", "Draw used stroke, settings by load, and history."),
    "card-of-settings": Entry(
        "strandline.cards.settings_card", "Print the settings by load, one page for the wall."
    ),
    "pool": Entry("", _GROUPS["pool"].line),
    "day": Entry("", _GROUPS["day"].line),
    "mark": Entry("strandline.mark.command", "Set the marks of a photo by hand, in this machine's browser."),
    "garage": Entry(
        "strandline.garage.command", "Open the garage in a browser, or on a phone beside the bike."
    ),
    "demo": Entry("strandline.demo.command", "Read the sample photos, and set up an invented bike."),
    "settings": Entry(
        "strandline.settings.command", "Show and change the defaults, such as units and paper."
    ),
    "completion": Entry("", _GROUPS["completion"].line),
    "help": Entry("strandline.help.command", "Show this overview, or explain a command or the words used."),
}
"""All commands, in the order of the overview."""


@click.group(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Example: strandline read IMG_1.jpg --shaft 41.0mm --layout fork",
    invoke_without_command=True,
)
@click.version_option(__version__, prog_name="strandline")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Read lengths on a suspension shaft from one photo with the printed card beside it.

    Print the card, stick it on something stiff, lay it beside the shaft with the arrow towards the seal, take
    a photo, and read it. Works offline. strandline help terms explains the words.

    Without a command: what there is and what comes next.
    """
    if ctx.invoked_subcommand is None:
        from strandline.start.overview import overview

        named = os.environ.get("STRANDLINE_LOGBOOK")
        click.echo(overview(Path(named) if named else None), nl=False)


cli.entries = COMMANDS


def main() -> None:
    """Run the command line; a library that cannot be loaded, or an output that is gone, becomes one message."""
    from strandline.shared.output_gone import (
        folder_is_gone,
        give_up_output,
        is_gone,
        prepare_streams,
        words_for,
    )

    prepare_streams()
    try:
        cli(prog_name="strandline")
    except OSError as error:
        if folder_is_gone():
            click.echo("The folder that you are in has been deleted. Go to another, and try again.", err=True)
            sys.exit(1)
        if not is_gone(error):
            raise
        give_up_output()
        click.echo(words_for(error), err=True)
        sys.exit(1)
    except ImportError as error:
        from strandline.shared.messages import cannot_load

        words = cannot_load(error)
        if words is None:
            raise
        click.echo(words, err=True)
        sys.exit(1)
    except Exception:
        from strandline.shared.messages import print_fault

        print_fault()
        click.echo("The program failed. Please report it with the lines above.", err=True)
        sys.exit(1)


if __name__ == "__main__":
    main()
