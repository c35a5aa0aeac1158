"""Text of a day's results for the page and the sheets: plain text, which the templates escape."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.names import LegName
from strandline.day.identify.identity import Phase
from strandline.day.reading.records import LengthName
from strandline.day.results.results import BikeResult, ExceptionItem, LegReading
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.verdict import Band

PHASES = {Phase.BEFORE: "before", Phase.AFTER: "after", Phase.NONE: "reading"}
LENGTHS = {
    LengthName.EXPOSED: "Exposed shaft",
    LengthName.MARKER: "Seal to marker",
    LengthName.REMAINING: "Marker to far end",
}
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
    "bike_file": "The bike's file needs fixing",
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
"""Of exceptions; a reason of a reading's own is its heading, too."""


@dataclass(frozen=True)
class Comparison:
    """Left against right, or after against before, in a sentence.

    Attributes
    ----------
    text : str
    is_flagged : bool
        Left and right differ by more than the uncertainty.
    is_clear : bool
        After and before do.
    """

    text: str
    is_flagged: bool = False
    is_clear: bool = False


def heading(code: str) -> str:
    """Give a few words for an exception."""
    return HEADINGS.get(code, code.replace("_", " ").capitalize())


def mm(one: Quantity | None) -> str:
    """Write a length with its 95 % uncertainty; a dash where it is not known."""
    if one is None:
        return "–"
    bound = "" if one.bound is Bound.EXACT else f"{one.bound.value} "
    return f"{bound}{one.value:.1f} ± {one.u95:.1f}"


def signed_mm(one: Quantity) -> str:
    """Write a difference with its 95 % uncertainty."""
    value = f"{one.value:+.1f}".replace("-", "−")
    return f"{'0.0' if value[1:] == '0.0' else value} ± {one.u95:.1f}"


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


def stroke_rows(reading: LegReading) -> list[tuple[str, str]]:
    """Name and value of what is known beside the used stroke."""
    rows = [
        ("Share", percent(reading.percent)),
        ("To the bumper", mm(reading.reserve_bumper)),
        ("To the stop", mm(reading.reserve_hard)),
    ]
    return [(name, value) for name, value in rows if value != "–"]


def reserves(reading: LegReading) -> str:
    """Say what is left to the bumper and to the stop, for a sheet."""
    left = [f"{mm(reading.reserve_bumper)} to the bumper"] if reading.reserve_bumper is not None else []
    left += [f"{mm(reading.reserve_hard)} to the stop"] if reading.reserve_hard is not None else []
    return ", ".join(left) or "–"


def comparisons(bike: BikeResult) -> list[Comparison]:
    """Compare left with right, and after with before."""
    found = []
    for side in bike.sides:
        phase = f" {side.phase}" if side.phase else ""
        difference = signed_mm(side.comparison.difference_mm)
        text = f"{side.end.value.capitalize()}{phase}: left minus right {difference} mm"
        if side.comparison.flagged:
            text += ": more than the uncertainty. Check for binding, or a marker that slipped."
        else:
            text += ", within the uncertainty."
        found.append(Comparison(text, is_flagged=side.comparison.flagged))
    for change in bike.changes:
        text = f"{leg_words(change.leg).capitalize()}: after minus before {signed_mm(change.deeper_mm)} mm of stroke"
        text += "." if change.is_clear else ", within the uncertainty."
        found.append(Comparison(text, is_clear=change.is_clear))
    return found


def sheet_lines(bike: BikeResult) -> list[str]:
    """Give the sentences of an entrant's sheet: comparisons, what was not read, and cautions."""
    lines = [one.text for one in comparisons(bike)]
    missing = [leg_words(leg) for leg in bike.all_legs if all(one.leg is not leg for one in bike.legs)]
    if missing:
        lines.append(f"Not read: {', '.join(missing)}.")
    lines += [line for one in bike.legs for line in one.counted.record.cautions]
    return list(dict.fromkeys(lines))


def notes(reading: LegReading) -> list[str]:
    """Give every sentence that belongs to a reading."""
    record, stroke = reading.record, reading.record.stroke
    lines = [reading.verdict.words, *reading.verdict.remarks, *(one.text for one in record.reasons)]
    if stroke is not None:
        lines += [*stroke.withheld, *stroke.remarks]
    lines += record.cautions
    lines.append(f"Identified by: {', '.join(reading.by)}.")
    return [line for line in dict.fromkeys(lines) if line]
