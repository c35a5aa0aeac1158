"""Options that several commands share, so that one word means one thing in all of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from strandline.shared import common_words
from strandline.shared.common_words import CommonWord

F = TypeVar("F", bound=Callable[..., Any])

# The words stand here, not the rooms' enums, so that `--help` imports no room; a test compares both.
LAYOUTS = ("fork", "upside-down-fork", "shock")
STATES = ("hanging", "on-wheels", "rider-aboard")
MARKERS = ("tie", "o-ring")
TIE_LOCKS = ("at-seal", "away", "unknown")
UNITS = ("mm", "in")
ENDS = ("front", "rear")
PAPERS = ("a4", "letter")


class RenamedOption(click.Option):
    """An option that also answers to its former spellings, which help and completion do not show.

    Parameters
    ----------
    former : sequence of str
        Spellings, such as "--overlay".
    """

    def __init__(self, *args: Any, former: Sequence[str] = (), **attrs: Any) -> None:
        super().__init__(*args, **attrs)
        self.former = tuple(former)

    def add_to_parser(self, parser: Any, ctx: click.Context) -> None:
        """Let the parser know the former spellings."""
        shown = self.opts
        self.opts = [*shown, *self.former]
        try:
            super().add_to_parser(parser, ctx)
        finally:
            self.opts = shown


class SettingOption(click.Option):
    """An option whose default stands in the settings file, where it is set there.

    Parameters
    ----------
    setting : str
        Name of the setting.
    """

    def __init__(self, *args: Any, setting: str, **attrs: Any) -> None:
        super().__init__(*args, **attrs)
        self.setting = setting

    def get_default(self, ctx: click.Context, call: bool = True) -> Any:
        """Give the setting, else the option's own default; help and completion show the latter."""
        if call and not ctx.resilient_parsing:
            from strandline.shared.messages import errors_as_messages
            from strandline.shared.settings import setting

            with errors_as_messages():
                kept = setting(self.setting)
            if kept is not None:
                return kept
        return super().get_default(ctx, call)


class WithAdvanced(click.Command):
    """A command whose help lists the options of machines and scripts apart, after those of people.

    Parameters
    ----------
    advanced : sequence of str
        Names of their parameters.
    """

    def __init__(self, *args: Any, advanced: Sequence[str] = (), **attrs: Any) -> None:
        super().__init__(*args, **attrs)
        self.advanced = tuple(advanced)

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write two lists."""
        lists: tuple[list[tuple[str, str]], list[tuple[str, str]]] = ([], [])
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx) if isinstance(param, click.Option) else None
            if record is not None:
                lists[param.name in self.advanced].append(record)
        for title, records in zip(("Options", "Advanced"), lists, strict=True):
            if records:
                with formatter.section(title):
                    formatter.write_dl(records)


class FormerArgument(click.Argument):
    """An argument of an earlier version that is still read; help does not show it."""

    def get_usage_pieces(self, ctx: click.Context) -> list[str]:
        """Leave it out of the usage line."""
        return []


def named_output(output: Path | None, former: Path | None) -> Path:
    """Give the output's path, which an earlier version took as an argument.

    Raises
    ------
    click.UsageError
        Neither or both were given.
    """
    if (output is None) == (former is None):
        raise click.UsageError("Say once where to write: -o FILE.")
    found = former if output is None else output
    assert found is not None
    return found


class WholeNumber(click.IntRange):
    """A whole number within limits, with a message in plain words."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Convert a typed value."""
        try:
            number = int(value)
        except ValueError:
            self.fail(f"“{value}” is not a whole number{self._limits()}.", param, ctx)
        if (self.min is not None and number < self.min) or (self.max is not None and number > self.max):
            self.fail(f"{number} is not allowed: give a whole number{self._limits()}.", param, ctx)
        return number

    def _describe_range(self) -> str:
        """Write the limits as help shows them."""
        return self._limits().strip(" ,").removeprefix("from ")

    def _limits(self) -> str:
        if self.min is not None and self.max is not None:
            return f" from {self.min} to {self.max}"
        return "" if self.min is None else f", {self.min} or more"


class Seconds(click.FloatRange):
    """A time in seconds within limits, with a message in plain words."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Convert a typed value."""
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            self.fail(f"“{value}” is not a number of seconds{self._limits()}.", param, ctx)

    def _describe_range(self) -> str:
        """Write the limits as help shows them."""
        return self._limits().removeprefix(" from ")

    def _limits(self) -> str:
        return f" from {self.min:g} to {self.max:g}"


class Mass(click.FloatRange):
    """A mass in kg without a unit, with a message in plain words."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Convert a typed value."""
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            self.fail(f"“{value}” is not a number of kg, {self.min:g} or more.", param, ctx)

    def _describe_range(self) -> str:
        """Write the limits as help shows them."""
        return f"{self.min:g} or more"


def output_option(
    help_text: str, default: str | None = None, *, folder: bool = False, former: Sequence[str] = ()
) -> Callable[[F], F]:
    """Make ``-o/--output``, which names the file or folder that a command writes."""
    return click.option(
        "-o",
        "--output",
        "output",
        cls=RenamedOption,
        former=former,
        type=click.Path(path_type=Path),
        metavar="DIR" if folder else "FILE",
        default=None if default is None else Path(default),
        show_default=default is not None,
        help=help_text,
    )


def force_option(what: str) -> Callable[[F], F]:
    """Make ``--force``, which replaces what is there already."""
    return click.option("--force", is_flag=True, help=f"Replace {what}.")


def units_option(
    of: str = "of what is shown", json: str = "JSON is always in mm and kg.", default: str | None = "mm"
) -> Callable[[F], F]:
    """Make ``--units``."""
    return click.option(
        "--units",
        cls=SettingOption,
        setting="units",
        type=CommonWord(UNITS, common_words.UNITS),
        default=default,
        show_default=default is not None,
        help=f"Units {of} (in: inches, pounds, psi). {json}".strip(),
    )


def paper_option() -> Callable[[F], F]:
    """Make ``--paper``."""
    return click.option(
        "--paper",
        cls=SettingOption,
        setting="paper",
        type=click.Choice(PAPERS, case_sensitive=False),
        default="a4",
        show_default=True,
        help="The paper in the printer.",
    )


bike_option = click.option(
    "--bike", default="", metavar="BIKE", help="The bike's name, or its file. Left out: the only bike."
)
end_option = click.option("--end", type=click.Choice(ENDS), help="Only this end.")
by_option = click.option("--by", "who", metavar="NAME", help="Who measured. May be left out.")
logbook_option = click.option(
    "--logbook",
    "logbook_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    envvar="STRANDLINE_LOGBOOK",
    help="The logbook. Left out: the one in your data folder. The bikes' files are in the folder bikes beside it.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="Answer with one JSON object.")
print_scale_option = click.option(
    "--print-scale",
    metavar="RATIO",
    help="Length of the card's printed 100 mm bar over 100 mm: 0.985, 98.5%, 0.98x0.985 (along x across), "
    "'0.98 ± 0.002'. Left out: as strandline card --check measured this card; else it counts as not measured, and the "
    "reading is less accurate.",
)
focal_option = click.option(
    "--focal-35mm",
    metavar="MM",
    help="35 mm-equivalent focal length of the phone's lens in mm, for photos without it: 26.",
)

_READ = (
    click.option(
        "--shaft",
        metavar="LENGTH",
        help="Diameter of the bare shaft, measured with a caliper: 41.02mm, '1 5/8 in', '41 mm ± 0.05 mm'.",
    ),
    click.option(
        "--layout",
        type=CommonWord(LAYOUTS, common_words.LAYOUTS),
        help="What the shaft belongs to. The far end is the lower clamp of a fork, the axle foot of an "
        "upside-down fork, the bumper of a shock.",
    ),
    print_scale_option,
    click.option("--marker", type=CommonWord(MARKERS, common_words.MARKERS), help="Kind of marker."),
    click.option(
        "--marker-colour",
        "marker_color",
        cls=RenamedOption,
        former=("--marker-color",),
        metavar="COLOUR",
        help="Colour of the marker, for example orange.",
    ),
    click.option(
        "--marker-width",
        metavar="LENGTH",
        help="Width of the marker along the shaft: 3.6mm. Of a tie, the strap without its lock.",
    ),
    click.option(
        "--tie-lock",
        type=click.Choice(TIE_LOCKS, case_sensitive=False),
        help="Where a tie's lock is: where the seal touches it, away from there, or not known.",
    ),
    focal_option,
    click.option(
        "--extended",
        metavar="LENGTH",
        help="Hanging length: the exposed length with the wheel hanging free (of a shock, to the bumper's face): "
        "205mm. Needed for the stroke used.",
    ),
    click.option(
        "--stroke",
        metavar="LENGTH",
        help="Stroke to the hard stop: 120mm. Needed for what is left to it, and for percent.",
    ),
    click.option("--bumper", metavar="LENGTH", help="Length of a shock's rubber bumper, free: 20mm."),
    click.option(
        "--bumper-crushed",
        metavar="LENGTH",
        help="The same, crushed: 8mm. With --bumper and --extended it gives a shock's stroke.",
    ),
    click.option(
        "--state",
        type=CommonWord(STATES, common_words.STATES),
        help="How the bike stood in the photo. Left out: the marker's distance from the seal is never taken "
        "as the stroke used.",
    ),
    units_option("of the table and the pictures", "JSON is always in mm."),
)


def read_options(command: F) -> F:
    """Add the options that describe a photo's shaft, card, marker and bike to a command.

    Their names are the fields of `ReadOptions`.
    """
    for option in reversed(_READ):
        command = option(command)
    return command


# The words stand here, not the rooms' enum, so that `--help` imports no room; a test compares both.
FELT = ("harsh", "bottomed", "wallows", "dives")


class FeltWord(click.Choice):  # type: ignore[type-arg]
    """A word of how it felt, alone or of one end: "harsh", "front=harsh"."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Convert a typed value."""
        end, sign, word = str(value).rpartition("=")
        if sign and end.strip() not in ENDS:
            self.fail(f"{value}: write front=, rear= or neither before the word.", param, ctx)
        found = super().convert(word.strip(), param, ctx)
        return f"{end.strip()}={found}" if sign else found


setting_option = click.option(
    "--setting",
    "settings",
    multiple=True,
    metavar="LEG.ADJUSTER=COUNT",
    help="Clicks, turns or positions on the ride, counted from the end that the bike's file names: "
    "rear.preload='6 clicks'; front.preload='3 turns' for both sides; '6 clicks?' if you are not sure. Left out: "
    "as advised before, else as on the ride before.",
)
route_option = click.option(
    "--route", metavar="NAME", help="Name of the route. Only rides over the same route are compared."
)
load_option = click.option(
    "--load", metavar="NAME", help="What the bike carried, in a few words: solo, 'passenger and bags'."
)
ride_date_option = click.option(
    "--date", metavar="YYYY-MM-DD", help="The day of the ride. Left out: the photo's, else today."
)
felt_option = click.option(
    "--felt",
    multiple=True,
    type=FeltWord(FELT),
    metavar="[END=]WORD",
    help=f"What you felt: {', '.join(FELT)}. At one end: front=harsh. May be repeated.",
)


def ride_options_of_read(command: F) -> F:
    """Add the options of a ride that ``read --record`` takes."""
    for option in (felt_option, ride_date_option, load_option, route_option, setting_option):
        command = option(command)
    return command
