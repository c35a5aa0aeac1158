"""Options that several commands share, so that one word means one thing in all of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from strandline.shared import common_words
from strandline.shared.common_words import CommonWord
from strandline.shared.option_kinds import RenamedOption, SettingOption

F = TypeVar("F", bound=Callable[..., Any])

# The words stand here, not the rooms' enums, so that `--help` imports no room; a test compares both.
UNITS = ("mm", "in")
ENDS = ("front", "rear")
PAPERS = ("a4", "letter")


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
