"""``strandline bike new``: the eight questions asked, and what they are enough for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from ridelog.bikes.bike import Bike
from ridelog.bikes.file import BikeFile, parse_bike
from ridelog.bikes.write import bike_sections, leg_sections, new_bike
from ridelog.errors import AmountError, BikeFileError
from strandline.bike import draft
from strandline.bike.asking import Answers, Question, ask, say
from strandline.bike.eight import leg_of, questions, same_of, values_of
from strandline.shared.as_typed import as_typed
from strandline.shared.files import make_folder, write_new

HOW = "Eight questions. Enter alone: don't know. ?: help. <: the question before. Ctrl-C: stop; the answers are kept."

# Which question asks for a key of the bike's file of which an unusual value is reported.
_KEYS = defaultdict(str, bumper_free="stroke", step="step", width="marker")


def interview(name: str, target: Path) -> str:
    """Ask the eight questions, going on where an earlier call stopped.

    Parameters
    ----------
    name : str
        Of the bike.
    target : Path
        Its file; the answers are kept beside it until all are there.

    Returns
    -------
    str
        The bike's file.

    Raises
    ------
    click.Abort
        The person stopped; the answers are kept.
    """
    kept = draft.draft_of(target)
    _, answers = draft.load(kept)
    say(HOW)
    if answers:
        say(f"{len(answers)} of 8 are answered already; < goes back to them.")
    try:
        ask(
            questions,
            answers,
            lambda now, one: unusual_in(name, now, one),
            lambda now: draft.save(kept, name, now),
        )
    except click.Abort as error:
        error.said = True  # type: ignore[attr-defined]
        say(f"\nStopped. {len(answers)} of 8 answers are kept; go on with")
        say(f"  strandline bike new {as_typed(name)}")
        raise
    return text_of(name, answers)


def text_of(name: str, answers: Answers) -> str:
    """Write a bike's file from the answers."""
    leg = leg_of(answers)
    values = {("name",): name, **values_of(answers)}
    sections = tuple(
        one
        for one in (*bike_sections(), *leg_sections(leg))
        if one.path[2:3] != ("adjuster",) or (*one.path, "kind") in values
    )
    return new_bike(values, sections, same_of(answers))


def unusual_in(name: str, answers: Answers, new: Question) -> Sequence[str]:
    """Check the answers together, and say what is unusual about the new one.

    Parameters
    ----------
    name : str
        Of the bike.
    answers : dict
        With the new one.
    new : Question

    Raises
    ------
    AmountError, SuspensionError
        The new one is wrong, or does not go with the others.
    """
    try:
        found = parse_bike(text_of(name, answers), name).unusual
    except BikeFileError as error:
        first = error.problems[0]
        raise AmountError(first.message, first.remedy) from error
    return [one.message for one in found if _KEYS[one.key.rsplit(".", 1)[-1]] == new.key]


def write_bike(target: Path, text: str, *, force: bool = False) -> BikeFile:
    """Write a new bike's file, and drop the answers that were kept for it.

    Raises
    ------
    OutputError
        It is there already, or cannot be written.
    """
    make_folder(target.parent, private=True)
    write_new(target, text.encode("utf-8"), force=force)
    draft.draft_of(target).unlink(missing_ok=True)
    return parse_bike(text, target.name)


def enough_for(bike: Bike) -> Iterator[str]:
    """Say what the answers are enough for, and what each missing one costs."""
    leg = bike.legs[0]
    has_adjuster = any(one.name == "preload" for one in leg.adjusters)
    if leg.extended is not None and has_adjuster:
        yield f"Enough for advice on the {leg.name.end.value}."
    if leg.extended is None:
        yield "The hanging length is missing: the stroke used is not known without it."
    if leg.shaft is None:
        yield "The shaft's diameter is missing: photos cannot be read without it, but lengths typed."
    if not has_adjuster:
        yield "No adjuster: advice says which way, not how many clicks."


def next_lines(bike: Bike, stem: str) -> Iterator[str]:
    """Give the next commands, ready to copy."""
    yield "Next: slide the marker to the seal, ride, photograph it with the card, then"
    yield f"  strandline read PHOTO.jpg --bike {stem} --record"
    yield "It records the ride and says what to change. The card: strandline card"
    yield f"More, whenever you like: strandline bike more {stem}"
