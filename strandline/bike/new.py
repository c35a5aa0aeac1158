"""``strandline bike new``: a new bike's file, question by question."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.option_kinds import WholeNumber
from strandline.shared.options import force_option, json_option, logbook_option, output_option
from strandline.shared.storage import bikes_folder


@click.command(
    "new",
    epilog="Example: strandline bike new Grey twin",
    short_help="Describe a bike, in eight questions.",
)
@click.argument("words", metavar="[NAME]", nargs=-1)
@click.option("--all", "everything", is_flag=True, help="Ask everything at once, some 50 questions.")
@click.option(
    "--shocks",
    type=WholeNumber(1, 2),
    metavar="NUMBER",
    help="How many shocks the rear has, 1 or 2, for --all, which it implies. Left out: you are asked.",
)
@click.option("--blank", is_flag=True, help="Ask nothing: write a file for you to fill in with an editor.")
@output_option("The bike's file. Left out: one in the folder of bikes, named after the bike.")
@force_option("a file that is there already")
@logbook_option
@json_option
def command(
    words: tuple[str, ...],
    everything: bool,
    shocks: int | None,
    blank: bool,
    output: Path | None,
    force: bool,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """Ask for what advice on one end needs, in eight questions, and write the bike's file.

    "?" helps, "<" goes back, Enter alone means "don't know". If you stop midway, the same command goes on where you
    stopped. Everything else can follow: strandline bike more asks for it in groups.
    """
    from ridelog.bikes.file import parse_bike
    from ridelog.errors import BikeFileError, LogbookError
    from strandline.bike.questions import Interview, file_name
    from strandline.shared.files import make_folder, write_new
    from strandline.shared.messages import errors_as_messages

    name = " ".join(words).strip() or None
    short = not (everything or blank or shocks is not None)
    with errors_as_messages():
        if name is None and blank:
            raise LogbookError(
                "A blank file needs a name.", "Write, for example, strandline bike new Grey twin --blank."
            )
        if short:
            _short(name, output, logbook_path, force, as_json)
            return
        interview = Interview(blank=blank)
        stopped = False
        try:
            interview.ask(name, shocks, lambda called: _refuse_taken(output, logbook_path, called, force))
        except (click.Abort, EOFError):
            if interview.name is None:
                raise click.Abort from None
            stopped = True
        text = interview.text()
        assert interview.name is not None
        target = output or bikes_folder(logbook_path) / file_name(interview.name)
        make_folder(target.parent, private=True)
        write_new(target, text.encode("utf-8"), force=force)
        problems: tuple[str, ...] = ()
        not_known: tuple[str, ...] = ()
        try:
            not_known = parse_bike(text, target.name).not_known
        except BikeFileError as error:
            problems = tuple(problem.text for problem in error.problems)
    if as_json:
        click.echo(
            json.dumps(
                {"file": str(target), "name": interview.name, "not_known": not_known, "problems": problems}
            )
        )
        return
    click.echo(
        f"{target}: written." + (" You stopped midway; what you answered is in it." if stopped else "")
    )
    for problem in problems:
        click.echo(f"  {problem}")
    if problems:
        click.echo(f"Fix these with strandline bike edit {target.stem}.")
    elif not_known:
        click.echo(f"{len(not_known)} values are not known: strandline bike show {target.stem} lists them.")


def _short(
    name: str | None, output: Path | None, logbook_path: Path | None, force: bool, as_json: bool
) -> None:
    """Ask the eight questions; nothing is written before all are answered, but the answers are kept."""
    from strandline.bike.draft import drafts_in
    from strandline.bike.questions import file_name
    from strandline.bike.short_interview import enough_for, interview, next_lines, write_bike
    from strandline.shared.messages import printable

    if name is None:
        begun = drafts_in(bikes_folder(logbook_path))
        usual = begun[0] if begun else None
        name = str(click.prompt("Name of the bike", default=usual, prompt_suffix="> ", err=True)).strip()
    _refuse_taken(output, logbook_path, name, force)
    target = output or bikes_folder(logbook_path) / file_name(name)
    text = interview(name, target)
    file = write_bike(target, text, force=force)
    if as_json:
        found = {"file": str(target), "name": name, "not_known": file.not_known, "problems": []}
        click.echo(json.dumps(found))
        return
    click.echo("\n" + printable(f"{target}: written."))
    stem = target.stem if output is None else str(target)
    for line in (*enough_for(file.bike), *next_lines(file.bike, stem)):
        click.echo(printable(line))


def _refuse_taken(output: Path | None, logbook_path: Path | None, name: str, force: bool) -> None:
    """Say before the first question, not after the last, that the file is there already."""
    from ridelog.errors import LogbookError
    from ridelog.regular_file import is_there
    from strandline.bike.questions import file_name

    target = output or bikes_folder(logbook_path) / file_name(name)
    if is_there(target) and not force:
        raise LogbookError(
            f"{target} is there already.",
            "Change it with strandline bike edit, choose another name, or add --force to replace it.",
        )
