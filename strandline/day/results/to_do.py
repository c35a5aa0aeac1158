"""What to do about the photos that were not read, by entrant; what can still be put right today comes first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum

from strandline.day.identify.identity import Phase
from strandline.day.results.results import DayResults, ExceptionItem


class Fix(IntEnum):
    """Where a photo's trouble can be put right, the easiest first."""

    AT_DESK = 0
    """In the roster, a bike's file or a photo's name: the photo need not be taken again."""
    TAKE_AGAIN = 1
    TOO_LATE = 2
    """A photo from before a ride that has been ridden."""


# All others need another photo: the card, the shaft or the marker cannot be made out on this one.
_AT_DESK = frozenset(
    (
        *("unknown_card", "outside_window", "whose_card", "contradiction", "no_such_leg", "which_leg"),
        *("bike_file", "bike_file_missing", "roster_gap", "stroke_contradiction"),
        *("double_differs", "readings_differ"),
        *("unreadable", "lost_time", "lost_memory", "lost_died", "not_read_yet"),
    )
)
DOUBLE = "double"


@dataclass(frozen=True)
class ToDo:
    """One photo, and where its trouble can be put right."""

    item: ExceptionItem
    fix: Fix


@dataclass(frozen=True)
class EntrantToDo:
    """All of one entrant.

    Attributes
    ----------
    label : str or None
        None for photos whose entrant is not known.
    to_do : tuple of ToDo
        The most urgent first.
    """

    label: str | None
    to_do: tuple[ToDo, ...]


@dataclass(frozen=True)
class Counts:
    """How the photos of a day add up: `photos` is the sum of the three others.

    Attributes
    ----------
    photos, read, doubles, not_read : int
    to_check : int
        Of those read: their reading contradicts what is known of the leg.
    """

    photos: int
    read: int
    doubles: int
    not_read: int
    to_check: int = 0


def to_do(day: DayResults) -> tuple[EntrantToDo, ...]:
    """Group the exceptions by entrant; copies are left out, see `doubles`.

    Returns
    -------
    tuple of EntrantToDo
        Entrants with something to put right at the desk first, then those with photos to take again.
    """
    ridden = _ridden(day)
    groups: dict[str | None, list[ToDo]] = {}
    for item in day.exceptions:
        if item.code != DOUBLE:
            groups.setdefault(item.label, []).append(ToDo(item, _fix(item, ridden)))
    found = [
        EntrantToDo(label, tuple(sorted(group, key=lambda one: (one.fix, one.item.file))))
        for label, group in groups.items()
    ]
    return tuple(sorted(found, key=lambda one: (one.to_do[0].fix, one.label or "")))


def of_label(groups: Iterable[EntrantToDo], label: str) -> tuple[ToDo, ...]:
    """Give what is to be done for one entrant."""
    return next((one.to_do for one in groups if one.label == label), ())


def doubles(day: DayResults) -> tuple[ExceptionItem, ...]:
    """List the copies of photos that count once."""
    return tuple(one for one in day.exceptions if one.code == DOUBLE)


def counts(day: DayResults) -> Counts:
    """Count the photos so that the numbers add up."""
    read = {reading.file for bike in day.bikes for leg in bike.legs for reading in leg.readings}
    twice = {one.file for one in doubles(day)}
    others = {one.file for one in day.exceptions} - twice
    return Counts(day.photos, len(read), len(twice), len(others - read), len(others & read))


def _ridden(day: DayResults) -> frozenset[tuple[str | None, str]]:
    """Find the ends of which there is a photo from after the ride."""
    read = {
        (bike.label, one.leg.end.value) for bike in day.bikes for one in bike.legs if one.phase is Phase.AFTER
    }
    tried = {
        (one.label, one.leg.end.value)
        for one in day.exceptions
        if one.leg is not None and one.phase is Phase.AFTER
    }
    return frozenset(read | tried)


def _fix(item: ExceptionItem, ridden: frozenset[tuple[str | None, str]]) -> Fix:
    if item.code in _AT_DESK:
        return Fix.AT_DESK
    before = item.phase is Phase.BEFORE and item.leg is not None
    if before and item.leg is not None and (item.label, item.leg.end.value) in ridden:
        return Fix.TOO_LATE
    return Fix.TAKE_AGAIN
