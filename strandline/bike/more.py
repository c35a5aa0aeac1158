"""``strandline bike more``: what is not known of a bike yet, asked in groups, each with what it buys."""

from __future__ import annotations

import json
import shlex
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from strandline.shared.options import json_option, logbook_option
from strandline.shared.storage import bike_path

if TYPE_CHECKING:
    from strandline.bike.asking import Answers, Question
    from strandline.bike.groups import Group


@click.command(
    "more",
    epilog="Example: strandline bike more grey-twin",
    short_help="Add to a bike, in groups of questions.",
)
@click.argument("bike", default="")
@logbook_option
@json_option
def command(bike: str, logbook_path: Path | None, as_json: bool) -> None:
    """Ask for what is not known of BIKE yet, in groups, and say what each is good for.

    Each answer is written to the bike's file at once; comments and order stay. Left out: the only bike.
    """
    from ridelog.bikes.file import read_bike
    from strandline.shared.messages import errors_as_messages, printable

    with errors_as_messages():
        path = bike_path(logbook_path, bike)
        before = read_bike(path).not_known
        stopped = False
        try:
            _ask(path)
        except click.Abort:
            stopped = True
        file = read_bike(path)
    if as_json:
        added = [key for key in before if key not in file.not_known]
        click.echo(json.dumps({"file": str(path), "added": added, "not_known": file.not_known}))
        return
    click.echo(("\n" if stopped else "") + printable(f"{path}: what you answered is in it."))
    stem = shlex.quote(path.stem if bike != str(path) else bike)
    click.echo(f"Next: strandline advise --bike {stem}")


def _ask(path: Path) -> None:
    """Offer the groups until the person has enough."""
    from ridelog.bikes.file import read_bike
    from strandline.bike.asking import say
    from strandline.bike.groups import open_groups
    from strandline.shared.suggest import did_you_mean

    done: set[str] = set()
    while groups := [one for one in open_groups(read_bike(path).text) if one.name not in done]:
        say("\nStill open, and what the answers are good for:")
        for number, group in enumerate(groups, start=1):
            count = 8 if group.end else len(group.open)
            say(f"{number}  {group.name} ({count}): {group.buys}", "  ")
        typed = str(
            click.prompt("Which? A number, or Enter to stop", default="", show_default=False, err=True)
        ).strip()
        if not typed:
            return
        names = {one.name: one for one in groups}
        picked = names.get(typed.casefold())
        if typed.isdecimal() and 1 <= int(typed) <= len(groups):
            picked = groups[int(typed) - 1]
        if picked is None:
            say(did_you_mean(typed, names) or f"Give a number from 1 to {len(groups)}.")
            continue
        done.add(picked.name)
        if picked.end:
            _describe_end(path, picked.end)
        else:
            _fill(path, picked)


def _fill(path: Path, group: Group) -> None:
    """Ask for the values of a group; each is written as it comes."""
    from ridelog.bikes.write import set_values
    from strandline.bike.asking import Question, ask
    from strandline.bike.edit import change, text_of

    by_key = {".".join(one.path): one for one in group.open}
    asked = tuple(
        Question(
            key,
            f"{one.field.title.capitalize()}{', ' + one.of if one.of else ''}?",
            one.field.example.strip('"'),
            one.field.where,
        )
        for key, one in by_key.items()
    )

    def filled(answers: Answers, before: str) -> str:
        given = {by_key[key].path: _in_file(key, typed) for key, typed in answers.items() if typed}
        return set_values(before, given)

    def keep(answers: Answers) -> None:
        change(path, partial(filled, answers))

    def check(answers: Answers, new: Question) -> Sequence[str]:
        one = by_key[new.key].field
        if answers[new.key]:
            from ridelog.bikes.write import toml_value

            one.read(toml_value(_in_file(new.key, answers[new.key])), one.title)
        return _checked(filled(answers, text_of(path)), path, new.key)

    ask(lambda _: asked, {}, check, keep)


def _in_file(key: str, typed: str) -> str:
    """Give the bike file's word for a common one: touring is street."""
    from strandline.shared.common_words import MARKERS, USES

    words = USES if key == "use" else MARKERS if key.endswith("marker.kind") else {}
    return words.get(typed.casefold(), typed)


def _checked(text: str, path: Path, key: str) -> list[str]:
    """Check a whole file; what is unusual about one key of it."""
    from ridelog.bikes.file import parse_bike
    from ridelog.errors import AmountError, BikeFileError

    try:
        return [one.message for one in parse_bike(text, path.name).unusual if one.key == key]
    except BikeFileError as error:
        first = error.problems[0]
        raise AmountError(first.message, first.remedy) from error


def _describe_end(path: Path, end: str) -> None:
    """Ask the eight questions for the end that is not described yet, and write its legs."""
    from ridelog.bikes.write import set_values
    from strandline.bike.asking import ask
    from strandline.bike.edit import change, text_of
    from strandline.bike.eight import questions, same_of, values_of

    answers: Answers = {}

    def described(now: Answers, before: str) -> str:
        given = {where: str(value) for where, value in values_of(now).items() if where != ("use",)}
        same: dict[tuple[str, ...], str] = {
            ("leg", leg.value, "same_as"): other.value for leg, other in same_of(now).items()
        }
        return set_values(before, {**given, **same})

    def check(now: Answers, new: Question) -> Sequence[str]:
        refuse_other_end(now, end)
        return _checked(described(now, text_of(path)), path, new.key)

    try:
        ask(partial(questions, only=end), answers, check, lambda _: None)
    finally:  # what was answered before Ctrl-C is in order, too
        if answers:
            change(path, partial(described, answers))


def refuse_other_end(answers: Answers, end: str) -> None:
    """Refuse a shock at the front, and a fork at the rear.

    Raises
    ------
    AmountError
    """
    from ridelog.errors import AmountError
    from strandline.bike.eight import leg_of, values_of

    values_of(answers)
    if leg_of(answers).end.value != end:
        raise AmountError(f"That is not at the {end}.", "Write shock." if end == "rear" else "Write fork.")
