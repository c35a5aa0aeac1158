"""The roster of a day: which card serves which entrant's bike, and when."""

from __future__ import annotations

import pickle
import unicodedata
from collections import defaultdict
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any

from ridelog.names import End, LegName
from strandline.day.identify.window import Window
from strandline.read.inputs import ReadInputs

FILE = "roster.csv"


@dataclass(frozen=True)
class RosterLeg:
    """One leg of an entrant's bike.

    Attributes
    ----------
    name : LegName
    inputs : ReadInputs or None
        What is known of its photos; None where the bike's file does not allow one.
    problem : str
        Why not.
    shaft_mm : float or None
    bumper_met_mm : float or None
        Stroke at which the bumper is met.
    from_roster : bool
        The roster's line alone describes it.
    code : str
        Of the problem, for programs; empty where it is the bike's file.
    """

    name: LegName
    inputs: ReadInputs | None
    problem: str = ""
    shaft_mm: float | None = None
    bumper_met_mm: float | None = None
    from_roster: bool = False
    code: str = ""


@dataclass(frozen=True)
class Entry:
    """An entrant's lines of the roster for one card at one time.

    Attributes
    ----------
    line : int
        The first of them.
    card : int
    label : str
        The entrant's.
    bike_file : str
        As written.
    end : End or None
    side : str or None
        "left", "right" or "single".
    window : Window
    bike_name : str
        As its file says; empty where that cannot be used.
    legs : tuple of RosterLeg
    problem : str
        Why none of its photos can be read; empty where some can.
    code : str
        Of the problem, for programs; empty where it is the bike's file.
    remark : str
        What is wrong with the bike's file where the photos can be read all the same.
    """

    line: int
    card: int
    label: str
    bike_file: str
    end: End | None = None
    side: str | None = None
    window: Window = field(default_factory=Window)
    bike_name: str = ""
    legs: tuple[RosterLeg, ...] = ()
    problem: str = ""
    code: str = ""
    remark: str = ""

    @property
    def entrant(self) -> tuple[str, str]:
        """Label and bike's file: several lines may serve one entrant, such as a card for each end."""
        return self.label, self.bike_file

    @property
    def about(self) -> str:
        """What the bike is called: by its file, else by its legs."""
        return self.bike_name or self.described or self.bike_file

    @property
    def described(self) -> str:
        """The legs in a few words: "fork 41 mm, shock 14 mm"."""
        known = [leg for leg in self.legs if leg.inputs is not None]
        words = (
            f"{leg.inputs.leg.layout.value.replace('-fork', ' fork')} {leg.shaft_mm:g} mm"
            for leg in known
            if leg.inputs
        )
        return ", ".join(dict.fromkeys(words))

    @property
    def usual_legs(self) -> tuple[LegName, ...]:
        """Legs to be photographed: of an end that the roster describes as a whole both fork legs, and one shock."""
        whole = {
            leg.name.end for leg in self.legs if leg.from_roster and leg.name.value == leg.name.end.value
        }
        left_out = {LegName.FRONT, LegName.REAR_LEFT, LegName.REAR_RIGHT}
        return tuple(leg.name for leg in self.legs if not (leg.name.end in whole and leg.name in left_out))


@dataclass(frozen=True)
class Roster:
    """All lines, in their order.

    It goes along with every photo to be read, so that it is packed once, and unpacked once a process.
    """

    entries: tuple[Entry, ...]
    sha256: str

    def of_card(self, number: int) -> tuple[Entry, ...]:
        """Lines of one card."""
        return self._cards.get(number, ())

    def of_label(self, label: str) -> frozenset[tuple[str, str]]:
        """Entrants of one label, as `folded` compares."""
        return self._labels.get(folded(label), frozenset())

    @cached_property
    def _cards(self) -> dict[int, tuple[Entry, ...]]:
        found: dict[int, list[Entry]] = defaultdict(list)
        for one in self.entries:
            found[one.card].append(one)
        return {number: tuple(lines) for number, lines in found.items()}

    @cached_property
    def _labels(self) -> dict[str, frozenset[tuple[str, str]]]:
        found: dict[str, set[tuple[str, str]]] = defaultdict(set)
        for one in self.entries:
            found[folded(one.label)].add(one.entrant)
        return {label: frozenset(entrants) for label, entrants in found.items()}

    @cached_property
    def _packed(self) -> bytes:
        return pickle.dumps((self.entries, self.sha256), pickle.HIGHEST_PROTOCOL)

    def __reduce__(self) -> tuple[Any, ...]:
        return _unpacked, (self._packed,)


@lru_cache(maxsize=1)
def _unpacked(packed: bytes) -> Roster:
    return Roster(*pickle.loads(packed))


def folded(text: str) -> str:
    """Normalise text for comparing names, as file systems may change them: composed, without case or outer blanks."""
    return unicodedata.normalize("NFC", " ".join(text.split())).casefold()
