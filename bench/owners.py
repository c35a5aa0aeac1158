"""Simulated owners: what the next step's rules leave them with, beside simple rules on the same rides.

``python -m bench owners`` draws bikes, loads and routes at random, lets each rule set them up ride by ride, and counts
how many owners end with more than one ride in five at the bumper. Nothing in here is measured on real motorcycles:
the ranges are those of domain's figures of the trade [common practice, no source].
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from suspension.advice.next_step import Action, next_step
from suspension.advice.severity import ForceCurve, RideAt, Severity
from suspension.advice.situation import AtCount, Felt, RideSeen, Situation
from suspension.loads.loads import GRAVITY_M_PER_S2
from suspension.quantities.quantity import Bound, Quantity
from suspension.sag.windows import End, Window
from suspension.springs.adjuster import AdjusterKind
from suspension.springs.leg_forces import LegForces
from suspension.springs.motion_ratio import MotionRatio
from suspension.springs.springs import LinearSpring
from suspension.springs.wheel_rate import EndForces

READING_SIGMA_MM = 0.75
SAG_WINDOW = Window(25, 35)
# More rides at the bumper than this are a setting that failed its owner.
FAILED = 0.20
RIGHT = 0.10
MOST_RIDES = 12
# Of a depth beyond the bumper's face so much is left once it stiffens [a choice; domain has no value].
BUMPER_GIVES = 0.35


@dataclass(frozen=True)
class Owner:
    """One end of one bike as it truly is, and as its file has it.

    Attributes
    ----------
    rate_n_per_mm, ratio, stroke_mm, bumper_mm, marker_mm : float
        k of each of two springs, MR, S, Sb, w.
    soft_mm, step_mm : float
        Preload at the soft end, and a step's worth.
    first, last, standard : int
        Counts: of the soft end, the hard end, and as the maker delivers it.
    sprung_n : float
        Ws with the load that is ridden.
    factor, scatter : float
        Mean load factor of the route, and its relative ride-to-ride scatter.
    stiction_mm : float
        Half the band that friction leaves, along the stroke.
    file_rate, file_soft_mm, file_sprung_n : float
        The same three values as the bike's file has them.
    draws : ndarray, shape (MOST_RIDES, 2)
        Standard normal: of each ride, of each reading. Every rule meets the same rides.
    sag_error_mm : float
        Of the sag session.
    """

    end: End
    kind: AdjusterKind
    rate_n_per_mm: float
    ratio: float
    stroke_mm: float
    bumper_mm: float
    marker_mm: float
    soft_mm: float
    step_mm: float
    first: int
    last: int
    standard: int
    sprung_n: float
    factor: float
    scatter: float
    stiction_mm: float
    file_rate: float
    file_soft_mm: float
    file_sprung_n: float
    draws: np.ndarray
    sag_error_mm: float

    @property
    def counts(self) -> range:
        """All counts of the adjuster."""
        return range(self.first, self.last + 1)

    def preload_mm(self, count: float) -> float:
        """True preload at a count."""
        return self.soft_mm + (count - self.first) * self.step_mm

    @property
    def soft_stroke_mm(self) -> float:
        """Ws/(n k MR): what the load alone would compress springs without preload."""
        return self.sprung_n / (2 * self.rate_n_per_mm * self.ratio)

    def rider_mm(self, count: float) -> float:
        """Compression with the rider aboard."""
        return max(0.0, self.soft_stroke_mm - self.preload_mm(count))

    def sag_percent(self, count: float) -> float:
        """True rider sag, percent of travel (the ratio is constant, so of stroke as well)."""
        return 100 * self.rider_mm(count) / self.stroke_mm

    def chance(self, count: float) -> float:
        """True share of rides that reach the bumper."""
        limit = (self.bumper_mm + self.stiction_mm + self.preload_mm(count)) / self.soft_stroke_mm
        z = (limit - self.factor) / (self.scatter * self.factor)
        return 0.5 * math.erfc(z / math.sqrt(2))

    def is_right(self, count: float) -> bool:
        """Whether rider sag is in its window and the bumper is met in one ride of ten at most."""
        inside = SAG_WINDOW.low <= self.sag_percent(count) <= SAG_WINDOW.high
        return inside and self.chance(count) <= RIGHT

    def ride(self, number: int, count: float) -> tuple[float, Quantity]:
        """The deepest point of a ride, mm, and what its marker reads."""
        of_ride, of_reading = self.draws[number]
        factor = self.factor * (1 + self.scatter * float(of_ride))
        depth = factor * self.soft_stroke_mm - self.preload_mm(count) - self.stiction_mm
        depth = max(depth, self.rider_mm(count))
        if depth > self.bumper_mm:
            depth = min(self.stroke_mm, self.bumper_mm + BUMPER_GIVES * (depth - self.bumper_mm))
        if depth >= self.bumper_mm - self.marker_mm:
            return depth, Quantity(self.bumper_mm - self.marker_mm, READING_SIGMA_MM, Bound.AT_LEAST)
        return depth, Quantity(depth + READING_SIGMA_MM * float(of_reading), READING_SIGMA_MM)


def draw_owner(draws: np.random.Generator, end: End, two_up: bool, scatter: float) -> Owner:
    """Draw an owner: ranges of the trade's figures [common practice, no source]."""
    if end is End.FRONT:
        ratio = 1 / math.cos(math.radians(draws.uniform(23, 30)))
        stroke, rate = draws.uniform(110, 140), draws.uniform(6, 11)
        bumper, marker = stroke * draws.uniform(0.86, 0.95), float(draws.choice([2.5, 3.6, 4.8]))
        kind = AdjusterKind.TURNS if draws.random() < 0.6 else AdjusterKind.CLICKS
        bare, rider, passenger = draws.uniform(75, 105), draws.uniform(0.35, 0.5), 0.15
        unsprung = draws.uniform(12, 20)
    else:
        ratio = draws.uniform(0.7, 0.95)
        stroke, rate = draws.uniform(85, 110), draws.uniform(14, 30)
        bumper, marker = stroke - draws.uniform(8, 14), float(draws.choice([2.0, 2.5, 3.6]))
        kind = AdjusterKind.CLICKS if draws.random() < 0.6 else AdjusterKind.POSITIONS
        bare, rider, passenger = draws.uniform(90, 120), draws.uniform(0.5, 0.65), 0.85
        unsprung = draws.uniform(15, 25)
    step, number = {
        AdjusterKind.TURNS: (draws.uniform(1, 2), int(draws.integers(6, 11))),
        AdjusterKind.CLICKS: (draws.uniform(0.5, 1), int(draws.integers(10, 16))),
        AdjusterKind.POSITIONS: (draws.uniform(3, 5), 4),
    }[kind]
    solo_kg = bare - unsprung + rider * draws.uniform(60, 105)
    load_kg = solo_kg + (passenger * draws.uniform(45, 85) if two_up else 0.0)
    solo_mm = solo_kg * GRAVITY_M_PER_S2 / (2 * rate * ratio)
    soft = max(1.0, solo_mm - stroke * draws.uniform(0.28, 0.40))
    sprung = load_kg * GRAVITY_M_PER_S2
    return Owner(
        end, kind, rate, ratio, stroke, bumper, marker, soft, step, kind.first, kind.first + number,
        kind.first + int(draws.integers(0, number // 2 + 1)), sprung, draws.uniform(1.5, 2.5), scatter,
        draws.uniform(1.5, 5) * ratio / 2,
        rate * (1 + 0.03 * draws.normal()), max(0.5, soft + 1.0 * draws.normal()), sprung * (1 + 0.02 * draws.normal()),
        draws.normal(size=(MOST_RIDES, 2)), 1.5 * float(draws.normal()),
    )  # fmt: skip


@dataclass(frozen=True)
class Outcome:
    """How one owner ended.

    Attributes
    ----------
    count : float
    rides : int
    finished : bool
    intervals : tuple of bool
        For each stated 90 % interval, whether the next ride lay in it.
    past_limit : bool
        A step beyond the range, or by more than one change may take.
    """

    count: float
    rides: int
    finished: bool
    intervals: tuple[bool, ...] = ()
    past_limit: bool = False


def by_risk(owner: Owner) -> Outcome:
    """Set an owner up by the rules of `next_step`: sag first, then ride by ride."""
    measured = owner.sag_percent(owner.standard) + 100 * owner.sag_error_mm / owner.stroke_mm
    now: float = owner.standard
    seen: list[tuple[RideSeen, RideAt]] = []
    intervals: list[bool] = []
    past = False
    step = next_step(_situation(owner, now, seen, measured, owner.standard))
    if step.count is not None:
        now = step.count
    for number in range(MOST_RIDES):
        severity = _severity(owner, seen, now)
        stated = None
        if len(seen) >= 3:  # under three runs no interval is stated
            stated = (
                severity.stroke_at(0.05, _file_preload(owner, now)),
                severity.stroke_at(0.95, _file_preload(owner, now)),
            )
        depth, read = owner.ride(number, now)
        if stated is not None:
            intervals.append(stated[0] - READING_SIGMA_MM <= depth <= stated[1] + READING_SIGMA_MM)
        felt = frozenset({Felt.BOTTOMED}) if depth >= owner.stroke_mm else frozenset[Felt]()
        seen.append(
            (RideSeen("loop", now, read, felt), RideAt(read, _file_preload(owner, now), owner.file_sprung_n))
        )
        step = next_step(_situation(owner, now, seen, measured, owner.standard))
        if step.action in (Action.FOUND, Action.REVIEW):
            return Outcome(now, number + 1, True, tuple(intervals), past)
        if step.count is not None:
            past |= (
                not owner.first <= step.count <= owner.last or abs(step.count - now) > owner.kind.most_at_once
            )
            now = step.count
    return Outcome(now, MOST_RIDES, False, tuple(intervals), past)


def _file_preload(owner: Owner, count: float) -> float:
    return owner.file_soft_mm + (count - owner.first) * owner.step_mm


def _severity(owner: Owner, seen: list[tuple[RideSeen, RideAt]], now: float) -> Severity:
    end = EndForces(
        (LegForces(LinearSpring(owner.file_rate)),) * 2, MotionRatio.constant(owner.ratio), owner.stroke_mm
    )
    curve = ForceCurve.of_end(end, owner.stroke_mm)
    return Severity(curve, tuple(at for _, at in seen), _file_preload(owner, now), owner.file_sprung_n)


def _situation(
    owner: Owner, now: float, seen: list[tuple[RideSeen, RideAt]], measured: float, at_count: float
) -> Situation:
    severity = _severity(owner, seen, now)
    per_step = 100 * owner.step_mm / owner.stroke_mm
    counts = tuple(
        AtCount(
            float(count),
            Quantity(max(0.0, measured - (count - at_count) * per_step), 100 * 1.5 / owner.stroke_mm),
            severity.chance_of_reaching(owner.bumper_mm, _file_preload(owner, count)),
        )
        for count in owner.counts
    )
    rides = tuple(ride for ride, _ in seen)
    return Situation(
        owner.end,
        owner.kind,
        float(now),
        counts,
        True,
        owner.stroke_mm,
        owner.bumper_mm,
        rides,
        "loop",
        SAG_WINDOW,
    )


def until_quiet(step: int, quiet: int, sag_first: bool = False) -> Callable[[Owner], Outcome]:
    """Build a simple rule: so many clicks more (of turns and positions half) until so many rides in a row are quiet."""

    def rule(owner: Owner) -> Outcome:
        now: float = owner.standard
        if sag_first:
            measured = {
                c: owner.sag_percent(c) + 100 * owner.sag_error_mm / owner.stroke_mm for c in owner.counts
            }
            now = min(owner.counts, key=lambda c: abs(measured[c] - 30))
        row = 0
        for number in range(MOST_RIDES):
            _, read = owner.ride(number, now)
            row = 0 if read.at_least else row + 1
            if row >= quiet:
                return Outcome(now, number + 1, True)
            if read.at_least:
                if now >= owner.last:
                    return Outcome(now, number + 1, True)
                now = min(owner.last, now + min(step, owner.kind.most_at_once))
        return Outcome(now, MOST_RIDES, False)

    return rule


RULES: dict[str, Callable[[Owner], Outcome]] = {
    "by risk": by_risk,
    "two clicks until quiet": until_quiet(2, 1),
    "two clicks until three quiet": until_quiet(2, 3),
    "one click until quiet": until_quiet(1, 1),
    "sag, then two clicks until quiet": until_quiet(2, 1, sag_first=True),
    "sag, then two until three quiet": until_quiet(2, 3, sag_first=True),
}


@dataclass(frozen=True)
class Row:
    """One rule in one cell, over the owners for whom a right count exists."""

    rule: str
    owners: int
    failed: float
    failed_of_all: float
    rides: float
    sag_inside: float
    unfinished: int
    past_limit: int
    covered: float | None


def cell(end: End, two_up: bool, scatter: float, count: int, seed: int = 1) -> Iterator[Row]:
    """Run all rules over the same owners and rides."""
    draws = np.random.default_rng(seed)
    owners = [draw_owner(draws, end, two_up, scatter) for _ in range(count)]
    has_right = [any(owner.is_right(c) for c in owner.counts) for owner in owners]
    for name, rule in RULES.items():
        ended = [(owner, rule(owner)) for owner in owners]
        right = [pair for pair, there in zip(ended, has_right, strict=True) if there]
        intervals = [one for _, outcome in ended for one in outcome.intervals]
        yield Row(
            name,
            len(right),
            float(np.mean([owner.chance(o.count) > FAILED for owner, o in right])),
            float(np.mean([owner.chance(o.count) > FAILED for owner, o in ended])),
            float(np.mean([o.rides for _, o in right])),
            float(
                np.mean(
                    [SAG_WINDOW.low <= owner.sag_percent(o.count) <= SAG_WINDOW.high for owner, o in right]
                )
            ),
            sum(not o.finished for _, o in ended),
            sum(o.past_limit for _, o in ended),
            float(np.mean(intervals)) if intervals else None,
        )


def interval_coverage(scatter: float, count: int, rides: int = 8, seed: int = 2) -> float:
    """Share of next rides inside the stated 90 % interval, for owners who ride on at one count, from three runs on."""
    draws = np.random.default_rng(seed)
    inside = []
    for turn in range(count):
        owner = draw_owner(draws, (End.FRONT, End.REAR)[turn % 2], turn % 4 > 1, scatter)
        now = min(owner.counts, key=lambda c: abs(owner.sag_percent(c) - 30))
        seen: list[tuple[RideSeen, RideAt]] = []
        for number in range(rides):
            depth, read = owner.ride(number, now)
            if len(seen) >= 3:
                severity = _severity(owner, seen, now)
                low, high = (severity.stroke_at(p, _file_preload(owner, now)) for p in (0.05, 0.95))
                inside.append(low <= depth <= high)
            seen.append(
                (RideSeen("loop", now, read), RideAt(read, _file_preload(owner, now), owner.file_sprung_n))
            )
    return float(np.mean(inside))


def main(count: int = 400) -> None:
    """Print the table."""
    for scatter in (0.05, 0.10, 0.12, 0.15):
        print(
            f"scatter {100 * scatter:.0f} %, coverage {interval_coverage(scatter, min(count, 100)):.3f}",
            flush=True,
        )
        for end in End:
            for two_up in (False, True):
                for row in cell(end, two_up, scatter, count):
                    print(
                        f"  {end.value:5s} {'two-up' if two_up else 'solo':6s} {row.rule:34s} {row.owners:4d}"
                        f"  failed {row.failed:6.1%} (all {row.failed_of_all:6.1%})  rides {row.rides:4.1f}"
                        f"  sag {row.sag_inside:6.1%}  unfinished {row.unfinished}  past {row.past_limit}"
                        + ("" if row.covered is None else f"  covered {row.covered:.3f}"),
                        flush=True,
                    )
