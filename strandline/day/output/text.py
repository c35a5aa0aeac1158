"""Words and numbers of a day's results, for the page and the sheets."""

from __future__ import annotations

from strandline.day.identify.identity import Phase
from strandline.day.results.results import BikeResult, LegReading
from suspension.quantities.measured import Bound, Estimate
from suspension.stroke.verdict import Band

PHASES = {Phase.BEFORE: "before", Phase.AFTER: "after", Phase.NONE: "reading"}
LENGTHS = {"exposed_mm": "Exposed shaft", "marker_mm": "Seal to marker", "remaining_mm": "Marker to far end"}
BANDS = {Band.PLENTY: "plenty", Band.WINDOW: "window", Band.BUMPER: "bumper", Band.BOTTOMED: "bottomed"}

HEADINGS = {
    "unreadable": "Not a photo that opens",
    "fault": "The program failed",
    "no_card": "No card in the photo",
    "several_cards": "More than one card",
    "card_hidden": "Card partly hidden",
    "blurred": "Blurred",
    "too_small": "Too far away",
    "unknown_card": "Card not in the roster",
    "outside_window": "Outside the card's time",
    "whose_card": "Two entrants share the card",
    "tags_contradict": "Tags contradict each other",
    "contradiction": "Card, tags and name disagree",
    "no_such_leg": "The bike has no such leg",
    "bike_file": "The bike's file needs mending",
    "which_leg": "Which leg?",
    "double": "The same picture twice",
    "double_differs": "The same picture as two legs",
    "readings_differ": "Two readings that differ",
    "stroke_contradiction": "Reading and bike's file disagree",
    "lost_time": "Took too long",
    "lost_memory": "Needs too much memory",
    "lost_died": "Ended the reader",
    "not_read_yet": "Not read yet",
}
"""Of exceptions; a reading's own reasons are told in its words."""


def heading(code: str) -> str:
    """A few words for an exception."""
    return HEADINGS.get(code, code.replace("_", " ").capitalize())


def mm(one: Estimate | None) -> str:
    """A length with its doubt; a dash where it is not known."""
    if one is None:
        return "–"
    bound = "" if one.bound is Bound.EXACT else f"{one.bound.value} "
    return f"{bound}{one.value:.1f} ± {one.u95:.1f}"


def signed_mm(one: Estimate) -> str:
    """A difference with its doubt."""
    return f"{one.value:+.1f} ± {one.u95:.1f}".replace("-", "−")


def percent(one: Estimate | None) -> str:
    """A share with its doubt."""
    if one is None:
        return "–"
    bound = "" if one.bound is Bound.EXACT else f"{one.bound.value} "
    return f"{bound}{one.value:.0f} ± {one.u95:.0f} %"


def band_class(reading: LegReading) -> str:
    """One word for the verdict, for colours and filters."""
    verdict = reading.verdict
    if not verdict.bands:
        return "unknown"
    if verdict.band is None:
        return "between"
    return BANDS[verdict.band]


def short_verdict(reading: LegReading) -> str:
    """The verdict in a few words; all of it stands below."""
    verdict = reading.verdict
    if not verdict.bands:
        return "no verdict"
    if verdict.is_limit and verdict.bands[-1] is Band.BOTTOMED:
        return "bottoming not excluded"
    if verdict.band is not None:
        return verdict.band.value
    return f"{verdict.bands[0].value} to {verdict.bands[-1].value}"


def leg_words(name: str) -> str:
    """A leg's name as it is said."""
    return name.replace("-", " ")


def clock(when: str | None) -> str:
    """Time of day from ISO 8601; nothing where it is not known."""
    return "" if when is None else when[11:16]


def cards_words(bike: BikeResult) -> str:
    """The bike's cards."""
    numbers = ", ".join(str(card) for card in bike.cards)
    return f"card {numbers}" if len(bike.cards) == 1 else f"cards {numbers}"


def deepest_share(bike: BikeResult) -> float:
    """The largest share of the stroke that any leg used; -1 where none is known."""
    return max((one.counted.share for one in bike.legs if one.counted.share is not None), default=-1.0)
