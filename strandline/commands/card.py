"""``strandline card``: the printed sheets."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import click


def write_new(path: Path, content: bytes, *, force: bool) -> None:
    """Write a file whole or not at all; replace an existing one only when asked.

    Parameters
    ----------
    path : Path
    content : bytes
    force : bool
        Replace what is there.

    Raises
    ------
    click.ClickException
        Naming the file and the remedy.
    """
    if path.is_dir():
        raise click.ClickException(f"{path} is a folder. Name a file, for example {path / 'card.pdf'}.")
    if path.exists() and not force:
        raise click.ClickException(
            f"{path} is there already and was left as it is. Choose another name with -o, or add --force."
        )
    try:
        handle, draft = tempfile.mkstemp(prefix=".card-", suffix=".pdf", dir=path.parent)
    except OSError as error:
        raise click.ClickException(
            f"{path} cannot be written: {error.strerror}. "
            "Choose a folder that exists and that you may write to."
        ) from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(draft).chmod(0o644)
        if force:
            Path(draft).replace(path)
        else:
            _move_unless_there(Path(draft), path)
    except FileExistsError as error:
        raise click.ClickException(
            f"{path} appeared meanwhile and was left as it is. Choose another name with -o."
        ) from error
    except OSError as error:
        raise click.ClickException(
            f"{path} cannot be written: {error.strerror}. Free some space or choose another folder."
        ) from error
    finally:
        Path(draft).unlink(missing_ok=True)


def _move_unless_there(draft: Path, path: Path) -> None:
    """Give the draft its name in one step that fails where the name is taken."""
    try:
        path.hardlink_to(draft)
    except FileExistsError:
        raise
    except OSError:
        # Memory sticks and some network drives know no hard links; exclusive creation is the next best.
        with path.open("xb") as file:
            file.write(draft.read_bytes())


@click.command(
    epilog="Example: strandline card --numbers 0-5 --paper letter -o cards.pdf",
    short_help="Draw the scale cards to print.",
)
@click.option(
    "--numbers",
    default="0-1",
    show_default=True,
    metavar="0-5,7",
    help="Which cards, 0 to 46. The card in a photo tells its number: give each bike its own.",
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"], case_sensitive=False),
    default="a4",
    show_default=True,
    help="What is in the printer.",
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    default=Path("card.pdf"),
    show_default=True,
    help="The PDF to write.",
)
@click.option("--force", is_flag=True, help="Replace the PDF if it is there already.")
def command(numbers: str, paper: str, output: Path, force: bool) -> None:
    """Draw the scale cards as a PDF, two to a sheet, with check bars and instructions.

    Print it at 100 %, measure the two 100 mm bars, stick it on something stiff. The sheet says how.
    """
    from calibration.sheet import PAPERS, SheetError, draw_sheets, parse_numbers

    try:
        wanted = parse_numbers(numbers)
    except SheetError as error:
        raise click.BadParameter(f"{error.message} {error.remedy}", param_hint="--numbers") from error
    size = PAPERS[paper.lower()]
    write_new(output, draw_sheets(wanted, size), force=force)
    sheets = (len(wanted) + 1) // 2
    cards = "card" if len(wanted) == 1 else "cards"
    click.echo(
        f"{output}: {cards} {numbers.replace(' ', '')} on {sheets} {'sheet' if sheets == 1 else 'sheets'} "
        f"of {size.name}. Print at 100 %, then measure the two bars."
    )
