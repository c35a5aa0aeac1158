"""``python -m bench owners``: what the next step's rules leave simulated owners with, beside simple rules.

Owners in 16 cells (front and rear, solo and two-up, ride-to-ride scatter of the load factor 5, 10, 12, 15 %), every
rule on the same owners and rides.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from bench import owner_loads
from bench.owner import FAILED, MOST_RIDES, SPRING_FOR, Owner, draw_owner
from bench.owner_rules import BY_RISK, RULES, Outcome, intervals_hold
from suspension.sag.windows import End

SCATTERS = (0.05, 0.10, 0.12, 0.15)
OWNERS_A_CELL = 400
# Of each cell so many owners ride on at one count for the intervals: 8 rides each give five intervals.
OWNERS_FOR_INTERVALS, RIDES_FOR_INTERVALS = 60, 8
SEED = 1
# The same owners on springs for an easier road: fewer have a right count.
SOFT_SPRING_FOR = 1.9


@dataclass(frozen=True)
class Row:
    """One rule over the owners of one scatter for whom a right count exists.

    Attributes
    ----------
    owners : int
    failed : float
        Share left with more than one ride in five at the bumper.
    failed_of_all : float
        The same of all owners.
    rides, at_bumper : float
        Mean number until the rule ended, and of those that reached the bumper.
    failed_as_long : float
        Share that the rules by risk leave after as many rides as this rule took with the same owner.
    sag_inside : float
        Share that ended with rider sag in its window.
    unfinished, past_limit : int
        Owners, of all.
    """

    rule: str
    owners: int
    failed: float
    failed_of_all: float
    rides: float
    at_bumper: float
    failed_as_long: float
    sag_inside: float
    unfinished: int
    past_limit: int


def owners_of(scatter: float, number: int, seed: int = SEED, spring_for: float = SPRING_FOR) -> list[Owner]:
    """Draw so many owners for each of the four cells of a scatter."""
    found = []
    for cell, (end, two_up) in enumerate(itertools.product(End, (False, True))):
        draws = np.random.default_rng([seed, round(1000 * scatter), cell])
        found += [draw_owner(draws, end, two_up, scatter, spring_for) for _ in range(number)]
    return found


def table(owners: Sequence[Owner], ours: Sequence[Outcome] | None = None) -> Iterator[Row]:
    """Run all rules over the same owners and rides; `ours` are the outcomes of the rules by risk, if known."""
    ours = [RULES[BY_RISK](owner) for owner in owners] if ours is None else ours
    right = [owner.has_a_right_count for owner in owners]
    for name, rule in RULES.items():
        ended = ours if name == BY_RISK else [rule(owner) for owner in owners]
        yield _row(name, owners, right, ended, ours)


def _row(
    name: str,
    owners: Sequence[Owner],
    right: Sequence[bool],
    ended: Sequence[Outcome],
    ours: Sequence[Outcome],
) -> Row:
    chosen = [i for i, one in enumerate(right) if one]

    def failed(i: int, count: float) -> bool:
        return owners[i].chance(count) > FAILED

    return Row(
        name,
        len(chosen),
        float(np.mean([failed(i, ended[i].count) for i in chosen])),
        float(np.mean([failed(i, one.count) for i, one in enumerate(ended)])),
        float(np.mean([ended[i].rides for i in chosen])),
        float(np.mean([ended[i].at_bumper(owners[i]) for i in chosen])),
        float(np.mean([failed(i, ours[i].at(ended[i].rides)) for i in chosen])),
        float(np.mean([owners[i].sag_is_right(ended[i].count) for i in chosen])),
        sum(not one.finished for one in ended),
        sum(one.past_limit for one in ended),
    )


def cells(owners: Sequence[Owner], ours: Sequence[Outcome]) -> Iterator[tuple[str, Row]]:
    """Count for the rules by risk in each of the four cells of a scatter, in the order of `owners_of`."""
    number = len(owners) // 4
    for cell, (end, two_up) in enumerate(itertools.product(End, (False, True))):
        part = slice(cell * number, (cell + 1) * number)
        right = [owner.has_a_right_count for owner in owners[part]]
        name = f"{end.value}, {'two-up' if two_up else 'solo'}"
        yield name, _row(BY_RISK, owners[part], right, ours[part], ours[part])


def coverage(owners: Sequence[Owner], rides: int = RIDES_FOR_INTERVALS) -> tuple[float, int]:
    """Share of next rides inside the stated 90 % interval, and how many intervals were stated."""
    held = [one for owner in owners for one in intervals_hold(owner, rides)]
    return float(np.mean(held)), len(held)


HEADS = (
    "rule",
    "owners with a right count",
    "failed",
    "by risk after as many rides",
    "rides",
    "of them at the bumper",
    "sag inside",
    "failed of all",
    "unfinished",
    "past a limit",
)


def lines(number: int = OWNERS_A_CELL, for_intervals: int = OWNERS_FOR_INTERVALS) -> Iterator[str]:
    """Write the tables as Markdown, scatter by scatter, and one of springs that suit the load less."""
    yield f"Seed {SEED}, {number} owners in each of four cells for each scatter, at most {MOST_RIDES} rides."
    for scatter in SCATTERS:
        owners = owners_of(scatter, number)
        some = [owner for i, owner in enumerate(owners) if i % number < for_intervals]
        share, stated = coverage(some)
        yield ""
        yield f"Scatter {scatter:.0%}: of {stated} intervals stated for 90 %, {share:.1%} held the next ride."
        ours = [RULES[BY_RISK](owner) for owner in owners]
        yield from table_lines(table(owners, ours), len(owners))
        yield ""
        yield "By risk, cell by cell: " + "; ".join(
            f"{name}: {row.failed:.1%} of {row.owners} failed, {row.rides:.1f} rides, sag {row.sag_inside:.1%}"
            for name, row in cells(owners, ours)
        )
    yield ""
    yield f"Scatter 12%, springs for a load factor of {SOFT_SPRING_FOR:g} in place of {SPRING_FOR:g}:"
    owners = owners_of(0.12, max(1, number // 2), SEED, SOFT_SPRING_FOR)
    yield from table_lines(table(owners), len(owners))
    yield ""
    yield from owner_loads.lines((0.05, 0.12), number, SEED)


def table_lines(rows: Iterable[Row], of: int) -> Iterator[str]:
    """Write one table as Markdown, of so many owners."""
    yield ""
    yield f"| {' | '.join(HEADS)} |"
    yield f"|{' --- |' * len(HEADS)}"
    for row in rows:
        yield (
            f"| {row.rule} | {row.owners} of {of} | {row.failed:.1%} | {row.failed_as_long:.1%} | "
            f"{row.rides:.1f} | {row.at_bumper:.2f} | {row.sag_inside:.1%} | {row.failed_of_all:.1%} | "
            f"{row.unfinished} | {row.past_limit} |"
        )


def main(number: int = OWNERS_A_CELL) -> None:
    """Print the tables."""
    for line in lines(number):
        print(line, flush=True)


if __name__ == "__main__":
    main()
