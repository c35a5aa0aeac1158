"""``strandline read --record``: a ride with the photos that were just read, and the advice after it."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from strandline.read.already import AlreadyRead
from strandline.shared.messages import errors_as_messages
from strandline.shared.storage import place
from strandline.shared.wrapped import wrapped

if TYPE_CHECKING:
    from ridelog.bikes.bike import Adjuster, Bike, BikeLeg
    from strandline.read.one_photo import Outcome


def is_dialogue(as_json: bool) -> bool:
    """Whether a person sits before it, who can be asked."""
    return not as_json and sys.stdin.isatty() and sys.stdout.isatty()


def wants_recording(outcomes: Sequence[Outcome]) -> bool:
    """Ask whether a photo that says something of the ride is to be recorded."""
    if all(one.used is None for one in outcomes):
        return False
    return click.confirm("Record it as a ride?", default=True, prompt_suffix=" > ")


def check_ride(bike: Bike, settings: Sequence[str], date: str | None) -> None:
    """Refuse what cannot be a count or a day before any photo is read.

    Raises
    ------
    click.ClickException
    """
    from strandline.shared.counts import parse_counts
    from strandline.shared.parse import parse_day
    from strandline.shared.storage import typed_by

    with errors_as_messages():
        tuple(parse_counts(tuple(settings), bike, typed_by(None)))
        if date is not None:
            parse_day(date)


def asked_setting(logbook_path: Path | None, bike: Bike, leg: BikeLeg) -> str | None:
    """Ask for the preload of the first ride; None where it is known from a ride before, or not known now."""
    from ridelog.errors import LogbookError
    from strandline.shared.units import counted_in

    adjuster = next((one for one in leg.adjusters if one.name == "preload"), None)
    if adjuster is None or _has_count(logbook_path, bike, leg):
        return None
    where = f"{leg.name.end.value.capitalize()} preload on this ride"
    click.echo(f"{where}, in {counted_in(adjuster)}? Enter: not known.")
    while True:
        typed = str(click.prompt(" ", default="", show_default=False, prompt_suffix="> ")).strip()
        if not typed:
            return None
        try:
            return f"{leg.name.end.value}.preload={_count(typed, adjuster)}"
        except LogbookError as error:
            click.echo("\n".join(wrapped(f"{error.message} {error.remedy}", "  ", "")))


def _count(typed: str, adjuster: Adjuster) -> str:
    """Check a count, of which a plain number has the adjuster's own kind."""
    from ridelog.bikes.values import as_count
    from ridelog.errors import AmountError

    words = typed if any(letter.isalpha() for letter in typed) else f"{typed} {adjuster.kind.value}"
    try:
        found = as_count(words.rstrip("?"), "preload")
    except AmountError as error:
        raise AmountError(
            f"“{typed}” is no count.", f"Write, for example, 3 {adjuster.kind.value}."
        ) from error
    if found.kind is not adjuster.kind:
        raise AmountError(
            f"It is counted in {adjuster.kind.value}.", f"Write, for example, 3 {adjuster.kind.value}."
        )
    adjuster.check(found.number)
    return words


def _has_count(logbook_path: Path | None, bike: Bike, leg: BikeLeg) -> bool:
    """Whether a ride before has this end's count, which is then carried forward."""
    from ridelog.storage.store import Logbook

    if not place(logbook_path).exists():
        return False
    with errors_as_messages(), Logbook.open(place(logbook_path), create=False) as logbook:
        known = logbook.bikes.find(bike.name)
        rides = () if known is None else logbook.rides.all_rides(known.id)
    return any(
        one.leg.end is leg.name.end and one.adjuster == "preload" for ride in rides for one in ride.settings
    )


def record(ctx: click.Context, leg: str, outcomes: Mapping[str, Outcome], setting: str | None) -> None:
    """Record a ride with these photos of one leg, as ``strandline ride add --photo`` does.

    Parameters
    ----------
    ctx : click.Context
        Of ``read``, whose options hold for the ride, too.
    leg : str
    outcomes : mapping
        What was read, by the photo's name.
    setting : str or None
        The preload that the person was asked for.
    """
    words = ["ride", "add", *(["--json"] if ctx.params["as_json"] else [])]
    words += [part for photo in outcomes for part in ("--photo", f"{leg}={photo}")]
    settings = [*ctx.params["settings"], *([setting] if setting else [])]
    words += [part for one in settings for part in ("--setting", one)]
    for option in ("bike", "route", "load", "date", "print_scale", "focal_35mm", "state", "units"):
        if ctx.params[option]:
            words += [f"--{option.replace('_', '-')}", str(ctx.params[option])]
    for word in ctx.params["felt"]:
        words += ["--felt", word]
    if ctx.params["logbook_path"] is not None:
        words += ["--logbook", str(ctx.params["logbook_path"])]
    status = ctx.find_root().command.main(
        words, prog_name="strandline", standalone_mode=False, obj=AlreadyRead(outcomes)
    )
    if status:
        ctx.exit(status)
