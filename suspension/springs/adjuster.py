"""An adjuster and its counts: which end they start from, how far it goes, and the preload per step."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from suspension.errors import SuspensionError


class AdjusterKind(StrEnum):
    """What is counted: fronts usually in turns, rears in clicks or ramp positions."""

    TURNS = "turns"
    CLICKS = "clicks"
    POSITIONS = "positions"

    @property
    def first(self) -> int:
        """Count at the soft end: ramp positions are numbered from 1, turns and clicks start at 0."""
        return 1 if self is AdjusterKind.POSITIONS else 0

    @property
    def one(self) -> str:
        """One of them, for a sentence."""
        return {"turns": "turn", "clicks": "click", "positions": "ramp position"}[self.value]

    def some(self, number: float) -> str:
        """So many steps, for a sentence: "1 click", "2 ramp positions"."""
        return f"{number:g} {self.one}{'' if number == 1 else 's'}"

    def at(self, count: float) -> str:
        """Write a count for a sentence in which its end is clear: "7 clicks", "ramp position 3"."""
        return f"{self.one} {count:g}" if self is AdjusterKind.POSITIONS else self.some(count)

    def place(self, count: float) -> str:
        """Write a count for a sentence: "7 clicks up from the soft end", "ramp position 3 from the soft end"."""
        up = "" if self is AdjusterKind.POSITIONS else "up "
        return f"{self.at(count)} {up}from the soft end"

    @property
    def most_at_once(self) -> int:
        """Steps that a single piece of advice may take: 2 clicks, or one turn or ramp position [common
        practice, no source].
        """
        return 2 if self is AdjusterKind.CLICKS else 1


class CountedFrom(StrEnum):
    """The end that a count starts from: preload up from soft, damping normally out from fully closed (hard)."""

    SOFT = "soft"
    HARD = "hard"


class Confidence(StrEnum):
    """How sure a count is."""

    COUNTED = "counted"
    IN_DOUBT = "in-doubt"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Count:
    """A setting as counted.

    Attributes
    ----------
    value : float or None
        None: not known.
    counted_from : CountedFrom
    confidence : Confidence
    """

    value: float | None
    counted_from: CountedFrom = CountedFrom.SOFT
    confidence: Confidence = Confidence.COUNTED

    @property
    def is_sure(self) -> bool:
        """Whether it can be built on; if not, it is counted again first."""
        return self.value is not None and self.confidence is Confidence.COUNTED


@dataclass(frozen=True)
class Adjuster:
    """A preload adjuster, in counts up from its soft end.

    Attributes
    ----------
    kind : AdjusterKind
    last : float or None
        Count at the hard end; None where the range is not known.
    step_mm : float or None
        p, preload for each click or turn, mm.
    positions_mm : tuple of float
        Preload added at each ramp position from the soft end on, mm, where it was measured; else empty.

    Raises
    ------
    SuspensionError
        A range without room, a step that is not positive, positions that do not rise.
    """

    kind: AdjusterKind
    last: float | None = None
    step_mm: float | None = None
    positions_mm: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if self.last is not None and self.last <= self.kind.first:
            raise SuspensionError(
                "The adjuster has no range.", "Count its steps from the soft to the hard end."
            )
        if self.step_mm is not None and not self.step_mm > 0:
            raise SuspensionError("A step of preload is not above zero.", "Measure it in mm for each step.")
        if any(b <= a for a, b in zip(self.positions_mm, self.positions_mm[1:], strict=False)):
            raise SuspensionError("The ramp positions do not rise.", "List them from the softest on, in mm.")
        if self.positions_mm and self.last is not None and self.last != self._end_of_positions:
            raise SuspensionError(
                f"{len(self.positions_mm)} positions are measured, but the range ends at {self.last:g}.",
                "Measure every position, or leave the range out.",
            )

    @property
    def first(self) -> float:
        """Count at the soft end."""
        return float(self.kind.first)

    @property
    def end(self) -> float | None:
        """Count at the hard end, as given or by the measured positions; None where not known."""
        return self._end_of_positions if self.positions_mm else self.last

    def added_mm(self, count: float) -> float | None:
        """Preload that a count adds to that at the soft end, mm; None where the mm per step are not known.

        Raises
        ------
        SuspensionError
            A count that this adjuster does not have.
        """
        self.check(count)
        if self.positions_mm:
            return self.positions_mm[round(count - self.first)] - self.positions_mm[0]
        return None if self.step_mm is None else (count - self.first) * self.step_mm

    def check(self, count: float) -> None:
        """Refuse a count beyond the range, where an adjuster can come off its thread.

        Raises
        ------
        SuspensionError
        """
        if self.kind is not AdjusterKind.TURNS and count != round(count):
            raise SuspensionError(f"{count:g} is not a whole number of {self.kind.value}.", "Count again.")
        if count < self.first or (self.end is not None and count > self.end):
            ends = f"from {self.first:g} up" if self.end is None else f"{self.first:g} to {self.end:g}"
            raise SuspensionError(
                f"{count:g} is outside the adjuster's {self.kind.value} ({ends}).",
                "Count again from the soft end, and never wind past the last step.",
            )

    def from_soft(self, count: Count) -> float | None:
        """Turn a count into one up from the soft end; None where it is unknown, or the range is, if counted
        from the hard end.
        """
        if count.value is None or count.confidence is Confidence.UNKNOWN:
            return None
        if count.counted_from is CountedFrom.SOFT:
            return count.value
        return None if self.end is None else self.end + self.first - count.value

    def clipped(self, count: float) -> float:
        """Find the nearest count that this adjuster has; without a known range only the soft end limits."""
        high = count if self.end is None else min(count, self.end)
        return max(self.first, high)

    @property
    def _end_of_positions(self) -> float:
        return self.first + len(self.positions_mm) - 1


def preload_mm(adjuster: Adjuster, count: float, at_soft_end_mm: float | None) -> float | None:
    """Preload at a count: d = d0 + N p, or as measured for each ramp position, mm.

    Parameters
    ----------
    adjuster : Adjuster
    count : float
        N, up from the soft end.
    at_soft_end_mm : float or None
        d0, preload with the adjuster at its soft end.

    Returns
    -------
    float or None
        None where d0 or the mm per step are not known: clicks remain clicks.
    """
    added = adjuster.added_mm(count)
    return None if added is None or at_soft_end_mm is None else at_soft_end_mm + added


def recount_steps(
    adjuster: Adjuster, target: float | None, *, more: float = 0, both_sides: bool = True
) -> tuple[str, ...]:
    """Say how to count an adjuster again, and to go to a target if there is one.

    Parameters
    ----------
    adjuster : Adjuster
    target : float or None
        Count to end at, up from the soft end; None: back to where it was.
    more : float
        Where there is no target: so many steps beyond where it was.
    both_sides : bool
        The other side has an adjuster of its own; not so a single shock, or a fork with its spring in one leg.
    """
    one = adjuster.kind.one
    found = f"the count you found and {adjuster.kind.some(more)} more" if more else "the count you found"
    end = adjuster.kind.place(target) if target is not None else found
    last = "Do the same on the other side, and write both down." if both_sides else "Write it down."
    return (
        f"Back the adjuster off gently towards soft, one {one} at a time, counting each, until it stops by "
        "itself. Do not force it.",
        "If your count matches the log, the logged setting was right. If not, the earlier setting is unknown: "
        "note it so, and do not build on readings taken at it.",
        f"Then wind up to {end}. {last}",
    )


def recounted(logged: Count, counted: float, adjuster: Adjuster) -> Count:
    """Say what the setting before a recount was.

    Parameters
    ----------
    logged : Count
        As it stands in the log.
    counted : float
        Steps backed off until the soft end, as a count up from it.
    adjuster : Adjuster

    Returns
    -------
    Count
        Sure where both agree; else unknown, with no value: neither of the two is better.
    """
    adjuster.check(counted)
    from_soft = adjuster.from_soft(logged)
    # Half a step apart is another step; turns are counted in halves and quarters.
    tolerance = 0.125 if adjuster.kind is AdjusterKind.TURNS else 0.0
    if from_soft is not None and abs(from_soft - counted) <= tolerance:
        return Count(counted, CountedFrom.SOFT, Confidence.COUNTED)
    return Count(None, CountedFrom.SOFT, Confidence.UNKNOWN)
