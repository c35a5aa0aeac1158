"""Identification of the leg in a photo. Card and tags decide, names and the clock help, nothing is guessed."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from ridelog.names import End, LegName
from strandline.day.identify.roster import Entry, Roster, RosterLeg, folded
from strandline.day.identify.sighting import Sighting


class Phase(StrEnum):
    """Before or after; NONE where nothing says so."""

    BEFORE = "before"
    AFTER = "after"
    NONE = ""


@dataclass(frozen=True)
class Identity:
    """Whose leg a photo shows, as far as it is known.

    Attributes
    ----------
    entry : Entry
    legs : tuple of LegName
        One where it is decided; several where the shaft's diameter has to.
    phase : Phase
    by : tuple of str
        What says so: "card", "tags" and so on.
    """

    entry: Entry
    legs: tuple[LegName, ...]
    phase: Phase
    by: tuple[str, ...]


@dataclass(frozen=True)
class Unclear:
    """Why a photo could not be assigned to a leg.

    Attributes
    ----------
    code : str
        For programs.
    what, advice : str
        A sentence each.
    entry : Entry or None
        The entrant, where that much is known.
    """

    code: str
    what: str
    advice: str
    entry: Entry | None = None


@dataclass(frozen=True)
class Place:
    """End, side and phase, each as far as something says so."""

    end: End | None = None
    side: str | None = None
    phase: Phase = Phase.NONE

    def conflicts(self, other: Place) -> bool:
        """Whether both say something, and not the same."""
        return any(
            a and b and a != b
            for a, b in ((self.end, other.end), (self.side, other.side), (self.phase, other.phase))
        )

    def or_else(self, other: Place) -> Place:
        """Fill what is not said from another place."""
        return Place(self.end or other.end, self.side or other.side, self.phase or other.phase)

    @property
    def words(self) -> str:
        """Phase, end and side as text, or "nothing"."""
        return " ".join(str(one) for one in (self.phase, self.end, self.side) if one) or "nothing"


_REMEDIES = {
    "bike_file_missing": "Put it there, or write kind and shaft_mm into the roster, and run this again.",
    "roster_gap": "Write it into the roster and run this again: the photo need not be taken again.",
}
_WORD = re.compile(r"[^\W\d_]+")
_CARD_FOLDER = re.compile(r"(?:card[\s_-]*)?(?P<number>[0-9]{1,2})", re.IGNORECASE)
_ENDS = {"front": End.FRONT, "rear": End.REAR}
_PHASES = {"before": Phase.BEFORE, "after": Phase.AFTER}
_SHORT = {
    "fl": (End.FRONT, "left"),
    "fr": (End.FRONT, "right"),
    "rl": (End.REAR, "left"),
    "rr": (End.REAR, "right"),
}


def identify_leg(sighting: Sighting, parts: Sequence[str], roster: Roster) -> Identity | Unclear:
    """Identify the leg that a photo shows.

    Parameters
    ----------
    sighting : Sighting
    parts : sequence of str
        The photo's folders below the day's folder, and its name last.
    roster : Roster

    Returns
    -------
    Identity or Unclear
    """
    if sighting.card is None:
        return Unclear(sighting.problem or "unreadable", sighting.what, sighting.advice)
    found = _entry(sighting, parts, roster)
    if isinstance(found, Unclear):
        return found
    entry, by = found
    if entry.problem:
        return _unread(entry.code, entry.problem, entry)
    tags = _tags(sighting.tags)
    if tags is None:
        said = ", ".join(sighting.tags)
        return Unclear(
            "tags_contradict",
            f"The tags contradict each other: {said}.",
            "Clip one leg's tag and one of before and after to the card, and take the photo again.",
            entry,
        )
    line = Place(entry.end, entry.side)
    name = _named(parts, entry)
    for one, other, what in (
        (tags, line, f"The tags say {tags.words}, and line {entry.line} of the roster {line.words}"),
        (tags, name, f"The tags say {tags.words}, and the photo's name or folder {name.words}"),
        (line, name, f"The roster says {line.words}, and the photo's name or folder {name.words}"),
    ):
        if one.conflicts(other):
            return Unclear(
                "contradiction", what + ".", "Rename the photo or its folder, or take it again.", entry
            )
    place = tags.or_else(line).or_else(name)
    for source, words in ((tags, "tags"), (line, "roster"), (name, "name")):
        if source != Place():
            by = (*by, words)
    return _leg(entry, place, by)


def _entry(
    sighting: Sighting, parts: Sequence[str], roster: Roster
) -> tuple[Entry, tuple[str, ...]] | Unclear:
    """Find the roster's line for a card, by time and folder where it has several."""
    number = sighting.card
    assert number is not None
    lines = roster.of_card(number)
    if not lines:
        return Unclear(
            "unknown_card",
            f"Card {number} is not in the roster.",
            "Add a line for it, or correct its number.",
        )
    by: tuple[str, ...] = ("card",)
    if sighting.when is not None:
        when = dt.datetime.fromisoformat(sighting.when)
        at_time = tuple(one for one in lines if one.window.holds(when))
        if not at_time:
            windows = ", ".join(str(one.window) for one in lines)
            return Unclear(
                "outside_window",
                f"Card {number} at {when:%Y-%m-%d %H:%M} is in no window of the roster ({windows}).",
                "Correct the window, or the phone's clock and take the photo again.",
            )
        if any(not one.window.is_open for one in lines):
            by = (*by, "time")
        lines = at_time
    named = _entrants_named(parts, roster)
    if named:
        fitting = tuple(one for one in lines if one.entrant in named)
        if not fitting:
            return Unclear(
                "contradiction",
                f"The card is number {number} ({lines[0].label}), and the folder is named for "
                f"{', '.join(sorted(label for label, _ in named))}.",
                "Move the photo, or correct the roster.",
            )
        lines, by = fitting, (*by, "folder")
    if len(lines) > 1:
        labels = ", ".join(f"{one.label} {one.window}".strip() for one in lines)
        return Unclear(
            "whose_card",
            f"Card {number} serves {labels}, and the photo has no time.",
            "Put the photo into a folder named for the entrant.",
        )
    return lines[0], by


def _entrants_named(parts: Sequence[str], roster: Roster) -> frozenset[tuple[str, str]]:
    """Find the entrants that a folder is named for, by label or by card."""
    found: set[tuple[str, str]] = set()
    for part in parts[:-1]:
        own = set(roster.of_label(part))
        number = _CARD_FOLDER.fullmatch(part.strip())
        if not own and number is not None:
            own = {one.entrant for one in roster.of_card(int(number["number"]))}
        if own:
            found = found & own if found else own
    return frozenset(found)


def _tags(tags: Sequence[str]) -> Place | None:
    """Combine what the tags say; None where they contradict each other."""
    place = Place()
    for tag in tags:
        one = _of_words(tag.split())
        if place.conflicts(one) or (one.end and place.end):
            return None
        place = place.or_else(one)
    return place


def _named(parts: Sequence[str], entry: Entry) -> Place:
    """Read what the photo's folders and name say; a word and its opposite say nothing."""
    ends, sides, phases = set(), set(), set()
    for part in parts:
        if folded(part) == folded(entry.label):
            continue  # an entrant may be called “Left Bank”
        for word in _WORD.findall(part.casefold()):
            end, side = _SHORT.get(
                word, (_ENDS.get(word), word if word in ("left", "right", "single") else None)
            )
            ends |= {end} - {None}
            sides |= {side} - {None}
            phases |= {_PHASES.get(word)} - {None}
    return Place(
        ends.pop() if len(ends) == 1 else None,
        sides.pop() if len(sides) == 1 else None,
        phases.pop() or Phase.NONE if len(phases) == 1 else Phase.NONE,
    )


def _of_words(words: Sequence[str]) -> Place:
    ends = [_ENDS[word] for word in words if word in _ENDS]
    sides = [word for word in words if word in ("left", "right", "single")]
    phases = [_PHASES[word] for word in words if word in _PHASES]
    return Place(ends[0] if ends else None, sides[0] if sides else None, phases[0] if phases else Phase.NONE)


def leg_side(name: LegName) -> str:
    """ "left", "right", or "single" for the one in the middle."""
    return name.value.partition("-")[2] or "single"


def _leg(entry: Entry, place: Place, by: tuple[str, ...]) -> Identity | Unclear:
    """Find the bike's legs that fit what is known."""
    fitting = tuple(
        leg
        for leg in entry.legs
        if (place.end is None or leg.name.end is place.end)
        and (place.side is None or leg_side(leg.name) == place.side)
    )
    if place.side is None:
        fitting = _without_sides(fitting)
    if not fitting:
        where = (
            f"the roster's lines for {entry.label}" if not entry.bike_name else "the legs in the bike's file"
        )
        return Unclear(
            "no_such_leg",
            f"{entry.bike_name or entry.label} has no leg {Place(place.end, place.side).words}.",
            f"Check the tag, or {where}.",
            entry,
        )
    usable = tuple(leg for leg in fitting if leg.inputs is not None)
    lacking = next((leg for leg in fitting if leg.inputs is None), None)
    if lacking is not None and (not usable or not lacking.from_roster or place.end is not None):
        # Without every diameter none can be decided by diameter, and without its own no photo can be read. A line of
        # the roster that was never filled in stands for no leg: a tube is not taken for a rod.
        return _unread(lacking.code, lacking.problem, entry)
    if len(usable) == 1 and not (place.end and place.side):
        by = (*by, "bike file" if entry.bike_name else "roster")
    return Identity(entry, tuple(leg.name for leg in usable), place.phase, tuple(dict.fromkeys(by)))


def _unread(code: str, problem: str, entry: Entry) -> Unclear:
    return Unclear(code or "bike_file", problem, _REMEDIES.get(code, ""), entry)


def _without_sides(legs: tuple[RosterLeg, ...]) -> tuple[RosterLeg, ...]:
    """Leave out the sides of an end that the roster describes as a whole: nothing says which side it was."""
    whole = {leg.name.end for leg in legs if leg_side(leg.name) == "single"}
    return tuple(leg for leg in legs if leg.name.end not in whole or leg_side(leg.name) == "single")
