"""Simulated owners who take a passenger along: started at the count that suits solo, or at the statics' count.

The same owners, bikes and rides both times; nothing of it is measured on real motorcycles.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bench.owner import FAILED, MOST_RIDES, Owner, draw_owner
from bench.owner_rules import Outcome, by_risk, by_risk_from
from suspension.advice.setting import count_from_statics
from suspension.loads.loads import GRAVITY_M_PER_S2
from suspension.sag.windows import End
from suspension.springs.adjuster import Adjuster

# Share of a passenger on the rear axle, and kg, as in `bench.owner` [common practice, no source].
PASSENGER_REAR, PASSENGER_KG = 0.85, (45.0, 85.0)
# The first rides with a passenger, in which the start shows.
FIRST_RIDES = 6


@dataclass(frozen=True)
class LoadChange:
    """What a start leaves owners with.

    Attributes
    ----------
    start : str
    who : str
        Which owners.
    owners : int
    at_bumper, at_bumper_first : float
        Mean number of rides that reached the bumper until the rules ended, and of the first six, ridden on at the last
        count where the rules ended before.
    rides : float
        Mean number until the rules ended.
    failed : float
        Share left with more than one ride in five at the bumper.
    """

    start: str
    who: str
    owners: int
    at_bumper: float
    at_bumper_first: float
    rides: float
    failed: float


def with_passenger(solo: Owner, draws: np.random.Generator) -> Owner:
    """Take a passenger along: more load, known by the file within 3 %, other rides, sag not measured yet."""
    more = PASSENGER_REAR * draws.uniform(*PASSENGER_KG) * GRAVITY_M_PER_S2
    file = replace(solo.file, sprung_n=solo.file.sprung_n + more * (1 + 0.03 * float(draws.normal())))
    return replace(
        solo,
        sprung_n=solo.sprung_n + more,
        file=file,
        measures_sag=False,
        draws=draws.normal(size=(MOST_RIDES, 2)),
    )


def statics_count(solo: Owner, two_up: Owner, count: float) -> float:
    """Count that keeps the rider sag of a count ridden solo, by the bike's file, as ``strandline advise`` does."""
    file, adjuster = solo.file, Adjuster(solo.kind, solo.last, solo.step_mm)
    rates = 2 * file.rate_n_per_mm * file.ratio
    preload = file.soft_mm + (adjuster.added_mm(count) or 0.0)
    stands = max(0.0, file.sprung_n / rates - preload)
    load_n = two_up.file.sprung_n - file.sprung_n + rates * (preload + stands)
    found = count_from_statics(load_n, lambda added: rates * (file.soft_mm + added + stands), adjuster)
    return count if found is None else found


def compare_starts(scatter: float, number: int, seed: int) -> Iterator[LoadChange]:
    """Set owners up solo at the rear, add a passenger, and begin at either count.

    Parameters
    ----------
    scatter : float
        Relative, of the load factor.
    number : int
        Owners drawn.
    seed : int

    Yields
    ------
    LoadChange
        Of all owners, then of those for whom a right count with a passenger exists, if there are any.
    """
    draws = np.random.default_rng([seed, round(1000 * scatter), 99])
    at: dict[str, list[tuple[Owner, Outcome]]] = {"the solo count": [], "the statics' count": []}
    for _ in range(number):
        solo = draw_owner(draws, End.REAR, False, scatter)
        two_up = with_passenger(solo, draws)
        count = by_risk(solo).count
        at["the solo count"].append((two_up, by_risk_from(two_up, count)))
        at["the statics' count"].append((two_up, by_risk_from(two_up, statics_count(solo, two_up, count))))
    for start, ended in at.items():
        yield _row(start, "all", ended)
    for start, ended in at.items():
        right = [(owner, one) for owner, one in ended if owner.has_a_right_count]
        if right:
            yield _row(start, "with a right count", right)


def _row(start: str, who: str, ended: Sequence[tuple[Owner, Outcome]]) -> LoadChange:
    return LoadChange(
        start,
        who,
        len(ended),
        float(np.mean([one.at_bumper(owner) for owner, one in ended])),
        float(np.mean([_first(owner, one) for owner, one in ended])),
        float(np.mean([one.rides for _, one in ended])),
        float(np.mean([owner.chance(one.count) > FAILED for owner, one in ended])),
    )


def _first(owner: Owner, ended: Outcome) -> int:
    return sum(owner.ride(i, ended.at(i))[0] >= owner.bumper_mm for i in range(FIRST_RIDES))


def lines(scatters: Sequence[float], number: int, seed: int) -> Iterator[str]:
    """Write the comparison as a table in Markdown."""
    yield "A passenger comes along, rear, springs chosen for solo:"
    yield ""
    heads = (
        "scatter",
        "owners",
        "begun at",
        "rides at the bumper",
        f"of the first {FIRST_RIDES}",
        "rides",
        "failed",
    )
    yield f"| {' | '.join(heads)} |"
    yield f"|{' --- |' * len(heads)}"
    for scatter in scatters:
        for row in compare_starts(scatter, number, seed):
            yield (
                f"| {scatter:.0%} | {row.owners} {row.who} | {row.start} | {row.at_bumper:.2f} | "
                f"{row.at_bumper_first:.2f} | {row.rides:.1f} | {row.failed:.1%} |"
            )
