"""Comparisons: left with right, before with after, and photos of one leg with one another."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

from ridelog.names import End, LegName
from strandline.day.identify.identity import Phase, leg_side
from strandline.day.identify.roster import Entry
from strandline.day.results.repeatability import repeatability, reported_sd
from strandline.day.results.results import BikeResult, Change, LegReading, LegResult, Repeated, SideBySide
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.leg_pair import compare_legs
from vision.names import LengthName

ORDER = (Phase.BEFORE, Phase.AFTER, Phase.NONE)


def bike_result(
    lines: Sequence[Entry], legs: Mapping[tuple[LegName, Phase], tuple[LegReading, ...]], exceptions: int
) -> BikeResult:
    """Put one entrant's bike together.

    Parameters
    ----------
    lines : sequence of Entry
        The entrant's, at least one.
    legs : mapping from (LegName, Phase) to tuple of LegReading
        The one that counts first.
    exceptions : int
    """
    entry = lines[0]
    names = _all_legs(lines, {leg for leg, _ in legs})
    results = tuple(
        LegResult(leg, phase, legs[leg, phase]) for leg in names for phase in ORDER if (leg, phase) in legs
    )
    return BikeResult(
        entry.label,
        entry.bike_name,
        entry.bike_file,
        tuple(sorted({one.card for one in lines})),
        names,
        results,
        tuple(_sides(results)),
        tuple(_changes(results)),
        exceptions,
        tuple(dict.fromkeys(one.remark for one in lines if one.remark)),
        ", ".join(dict.fromkeys(one.described for one in lines if one.described)),
    )


def _all_legs(lines: Sequence[Entry], read: Collection[LegName]) -> tuple[LegName, ...]:
    """List a bike's legs, read or not; of an end that the roster describes as a whole its sides only where one was."""
    legs = {leg.name: leg for entry in lines for leg in entry.legs}
    found = []
    for name, leg in legs.items():
        alike = {one for one in legs if one.end is name.end} if leg.from_roster else {name}
        sided_read = any(leg_side(one) != "single" for one in alike & set(read))
        is_side = leg_side(name) != "single"
        if len(alike) == 1 or name in read or is_side == sided_read:
            found.append(name)
    return tuple(found)


def _sides(results: Sequence[LegResult]) -> list[SideBySide]:
    found = []
    for end in End:
        for phase in ORDER:
            used = {
                leg_side(one.leg): one.counted.used
                for one in results
                if one.leg.end is end and one.phase is phase
            }
            left, right = used.get("left"), used.get("right")
            if left is not None and right is not None:
                found.append(SideBySide(end, phase, compare_legs(left, right)))
    return found


def _changes(results: Sequence[LegResult]) -> list[Change]:
    by = {(one.leg, one.phase): one.counted for one in results}
    found = []
    for leg in dict.fromkeys(one.leg for one in results):
        before, after = by.get((leg, Phase.BEFORE)), by.get((leg, Phase.AFTER))
        change = None if before is None or after is None else change_of_used_stroke(before, after)
        if change is not None:
            found.append(Change(leg, change))
    return found


def change_of_used_stroke(before: LegReading, after: LegReading) -> Quantity | None:
    """Work out how much deeper the stroke was after than before, mm.

    As u = E0 - gn, and E0 is the same both times, its uncertainty takes no part: what is left changed by as much.

    Returns
    -------
    Quantity or None
        None where one of them is not known, or only a limit.
    """
    if any(one.used is None or one.used.bound is not Bound.EXACT for one in (before, after)):
        return None
    left = before.length(LengthName.REMAINING), after.length(LengthName.REMAINING)
    if left[0] is not None and left[1] is not None:
        return Quantity(left[0].value - left[1].value, math.hypot(left[0].sigma, left[1].sigma))
    assert before.used is not None and after.used is not None
    return Quantity(after.used.value - before.used.value, math.hypot(before.used.sigma, after.used.sigma))


def find_disagreements(lengths: Sequence[Quantity]) -> dict[int, int]:
    """Find readings of one length that differ from another by more than their uncertainties allow.

    Parameters
    ----------
    lengths : sequence of Quantity

    Returns
    -------
    dict of int to int
        For each that differs from any, by its place, one that it differs from.
    """
    order = sorted(range(len(lengths)), key=lambda i: lengths[i].value)
    least_sigma = min((one.sigma for one in lengths), default=0.0)
    found = {}
    for i, one in enumerate(lengths):
        # The farthest first, from either end: as a rule it decides at once, where all pairs would be n² / 2 of them.
        for others in (order, reversed(order)):
            for j in others:
                gap = abs(lengths[j].value - one.value)
                if gap <= _allowed(one.sigma, least_sigma):
                    break  # so near that not even the most certain one could differ, and all others are nearer
                if gap > _allowed(one.sigma, lengths[j].sigma):
                    found[i] = j
                    break
    return found


def _allowed(sd: float, other_sd: float) -> float:
    """Largest difference of two readings of one length: its 95 % uncertainty."""
    return 2 * math.sqrt(sd**2 + other_sd**2)


def repeated_of(groups: Sequence[Sequence[LegReading]]) -> tuple[Repeated, ...]:
    """Estimate the repeatability of each length over legs that were photographed more than once.

    All of them take part, also those whose photos disagree: leaving these out would make it too good.
    """
    found = []
    for name in LengthName:
        lengths = [
            [one for reading in group if (one := reading.length(name)) is not None] for group in groups
        ]
        lengths = [group for group in lengths if len(group) > 1]
        result = repeatability([[one.value for one in group] for group in lengths])
        if result is not None:
            reported = reported_sd([one.sigma for group in lengths for one in group])
            found.append(Repeated(name, result, reported))
    return tuple(found)
