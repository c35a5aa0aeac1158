"""Text of a day's results for the page and the sheets: plain text, which the templates escape."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from ridelog.names import LegName
from strandline.day.identify.identity import Phase
from strandline.day.results.results import BikeResult, ExceptionItem, LegReading
from strandline.day.results.to_do import Counts, EntrantToDo, Fix
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.verdict import Band

PHASES = {Phase.BEFORE: "before", Phase.AFTER: "after", Phase.NONE: "reading"}
BANDS = {Band.PLENTY: "plenty", Band.WINDOW: "window", Band.BUMPER: "bumper", Band.BOTTOMED: "bottomed"}

HEADINGS = {
    "unreadable": "File does not open as a photo",
    "fault": "Program error",
    "no_card": "No card in the photo",
    "several_cards": "More than one card",
    "card_hidden": "Card partly hidden",
    "blurred": "Blurred",
    "too_small": "Too far away",
    "unknown_card": "Card not in the roster",
    "outside_window": "Outside the card's time in the roster",
    "whose_card": "Two entrants share the card",
    "tags_contradict": "Tags contradict each other",
    "contradiction": "Card, tags and name disagree",
    "no_such_leg": "The bike has no such leg",
    "bike_file": "The bike's file needs fixing",
    "bike_file_missing": "The bike's file is missing",
    "roster_gap": "Missing in the roster",
    "which_leg": "Leg not identified",
    "double": "Duplicate photo",
    "double_differs": "Duplicate photo for different legs",
    "readings_differ": "Readings of one leg differ",
    "stroke_contradiction": "Reading contradicts the bike's file",
    "lost_time": "Took too long",
    "lost_memory": "Needs too much memory",
    "lost_died": "Reading crashed",
    "not_read_yet": "Not read yet",
}
"""Of exceptions; a reason of a reading's own is its heading, too."""


def heading(code: str) -> str:
    """Give a few words for an exception."""
    return HEADINGS.get(code, code.replace("_", " ").capitalize())


# What a photo's own advice says to those who read photos themselves, for the guests of a tech day.
_ADVICE = {
    "no_marker": "No marker can be seen on the shaft. If it was pushed up to the bumper or clamp, say so at the desk: "
    "that is a reading, too. If not, turn its band towards the camera and take the photo again.",
}


def advice_of(item: ExceptionItem) -> str:
    """Say what to do about an exception."""
    return _ADVICE.get(item.code, item.advice)


FIXES = {
    Fix.AT_DESK: "Put right at the desk",
    Fix.TAKE_AGAIN: "Take again",
    Fix.TOO_LATE: "Too late: the ride is over",
}


def fix_words(fix: Fix) -> str:
    """Say where a photo's trouble can be put right."""
    return FIXES[fix]


def counts_words(found: Counts) -> list[tuple[int, str]]:
    """Name the counts of a day; the first is the sum of the others but the last, which is among those read."""
    named = [
        (found.photos, "photo" if found.photos == 1 else "photos"),
        (found.read, "read"),
        (found.not_read, "not read"),
        (found.doubles, "twice"),
    ]
    return [one for place, one in enumerate(named) if place < 2 or one[0]]


def to_do_words(groups: Sequence[EntrantToDo]) -> str:
    """Say how many photos can still be put right, and where."""
    by_fix = Counter(one.fix for group in groups for one in group.to_do)
    words = {
        Fix.AT_DESK: "to put right at the desk",
        Fix.TAKE_AGAIN: "to take again",
        Fix.TOO_LATE: "too late",
    }
    return ", ".join(f"{by_fix[fix]} {words[fix]}" for fix in Fix if by_fix[fix])


def percent(one: Quantity | None) -> str:
    """Write a share with its 95 % uncertainty; a dash where it is not known."""
    if one is None:
        return "–"
    bound = "" if one.bound is Bound.EXACT else f"{one.bound.value} "
    return f"{bound}{one.value:.0f} ± {one.u95:.0f} %"


def band_class(reading: LegReading) -> str:
    """Give one word for the verdict, for colours and filters."""
    verdict = reading.verdict
    if not verdict.bands:
        return "unknown"
    if verdict.band is None:
        return "between"
    return BANDS[verdict.band]


def short_verdict(reading: LegReading) -> str:
    """Give the verdict in a few words; its sentence is in `notes`."""
    verdict = reading.verdict
    if not verdict.bands:
        return "no verdict"
    if verdict.is_limit and verdict.bands[-1] is Band.BOTTOMED:
        return "bottoming not excluded"
    if verdict.band is not None:
        return verdict.band.value
    return f"{verdict.bands[0].value} to {verdict.bands[-1].value}"


def leg_words(leg: LegName) -> str:
    """Give a leg's name as it is said."""
    return leg.value.replace("-", " ")


def clock(when: str | None) -> str:
    """Time of day from ISO 8601; nothing where it is not known."""
    return "" if when is None else when[11:16]


def cards_words(bike: BikeResult) -> str:
    """Name the bike's cards."""
    numbers = ", ".join(str(card) for card in bike.cards)
    return f"card {numbers}" if len(bike.cards) == 1 else f"cards {numbers}"


def subject(item: ExceptionItem, separator: str = ", ") -> str:
    """Say whose leg and when, as far as it is known of an exception."""
    leg = "" if item.leg is None else leg_words(item.leg)
    card = "" if item.card is None else f"card {item.card}"
    return separator.join(
        part for part in (item.label, card, leg, item.phase.value, clock(item.when)) if part
    )


def deepest_share(bike: BikeResult) -> float:
    """Largest share of the stroke that any leg used; -1 where none is known."""
    return max((one.counted.share for one in bike.legs if one.counted.share is not None), default=-1.0)
