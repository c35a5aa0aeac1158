"""How a simulated owner is set up: by the rules of the next step, and by simple rules on the same rides."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bench.owner import MOST_RIDES, SAG_SIGMA_MM, SAG_WINDOW, Owner
from suspension.advice.force_curve import ForceCurve, RideAt
from suspension.advice.next_step import next_step
from suspension.advice.severity import Severity
from suspension.advice.situation import AtCount, Felt, RideSeen, Situation
from suspension.advice.step import RUNS_TO_JUDGE, Action, Step
from suspension.quantities.quantity import Quantity
from suspension.springs.leg_forces import LegForces
from suspension.springs.motion_ratio import MotionRatio
from suspension.springs.springs import LinearSpring
from suspension.springs.wheel_rate import EndForces
from suspension.stroke.verdict import judge_used, reference_bumper_mm

# Standard uncertainty of a sag that is only worked out, percent of travel [a choice].
STATICS_SIGMA_PERCENT = 6.0


@dataclass(frozen=True)
class Outcome:
    """How one owner ended.

    Attributes
    ----------
    counts : tuple of float
        At which each ride was ridden, and the one that the owner ended at.
    finished : bool
    past_limit : bool
        A step beyond the range, or by more than one change may take.
    """

    counts: tuple[float, ...]
    finished: bool
    past_limit: bool = False

    def at_bumper(self, owner: Owner) -> int:
        """Count the rides that reached the bumper on the way."""
        return sum(owner.ride(i, count)[0] >= owner.bumper_mm for i, count in enumerate(self.counts[:-1]))

    @property
    def count(self) -> float:
        """The count that the owner ended at."""
        return self.counts[-1]

    @property
    def rides(self) -> int:
        """Rides until then."""
        return len(self.counts) - 1

    def at(self, rides: int) -> float:
        """Give the count after so many rides."""
        return self.counts[min(rides, len(self.counts) - 1)]


class SetUp:
    """One owner, set up ride by ride with the advice's own modules."""

    def __init__(self, owner: Owner) -> None:
        self.owner = owner
        self.now: float = owner.standard
        self.sag: tuple[float, float] | None = None
        self.seen: list[tuple[RideSeen, RideAt]] = []
        if owner.measures_sag:
            self.measure_sag()

    def measure_sag(self) -> None:
        """Measure rider sag at today's count."""
        self.sag = (self.owner.measured_sag_percent(self.now), self.now)

    def ride(self) -> float:
        """Ride once, and note what the marker reads; the true depth, mm."""
        depth, read = self.owner.ride(len(self.seen), self.now)
        felt = frozenset({Felt.BOTTOMED}) if depth >= self.owner.stroke_mm else frozenset[Felt]()
        at = RideAt(read, self.file_preload_mm(self.now), self.owner.file.sprung_n)
        self.seen.append((RideSeen("loop", self.now, read, felt), at))
        return depth

    def file_preload_mm(self, count: float) -> float:
        """Preload at a count by the bike's file."""
        return self.owner.file.soft_mm + (count - self.owner.first) * self.owner.step_mm

    def severity(self) -> Severity:
        """Put together what the rides say, by the bike's file."""
        owner = self.owner
        legs = (LegForces(LinearSpring(owner.file.rate_n_per_mm)),) * 2
        end = EndForces(legs, MotionRatio.constant(owner.file.ratio), owner.stroke_mm)
        least = None if self.sag is None else self._sag_percent(self.now).value / 100 * owner.stroke_mm
        return Severity(
            ForceCurve.of_end(end, owner.stroke_mm),
            tuple(at for _, at in self.seen),
            self.file_preload_mm(self.now),
            owner.file.sprung_n,
            least_mm=least,
        )

    def _sag_percent(self, count: float) -> Quantity:
        """Rider sag at a count: as measured, carried by reckoning; else from the file's statics."""
        owner = self.owner
        if self.sag is None:
            file = owner.file
            by_load = file.sprung_n / (2 * file.rate_n_per_mm * file.ratio)
            share = 100 * (by_load - self.file_preload_mm(count)) / owner.stroke_mm
            return Quantity(max(0.0, share), STATICS_SIGMA_PERCENT)
        measured, at = self.sag
        carried = measured - 100 * (count - at) * owner.step_mm / owner.stroke_mm
        return Quantity(max(0.0, carried), 100 * SAG_SIGMA_MM / owner.stroke_mm)

    def step(self) -> Step:
        """Ask the rules."""
        owner, severity = self.owner, self.severity()
        bumper = reference_bumper_mm(owner.file.bumper_mm, owner.stroke_mm)
        assert bumper is not None
        counts = tuple(
            AtCount(
                float(count),
                self._sag_percent(count),
                severity.chance_of_reaching(bumper, self.file_preload_mm(count)),
            )
            for count in owner.counts
        )
        return next_step(
            Situation(
                owner.end,
                owner.kind,
                float(self.now),
                counts,
                stroke_mm=owner.stroke_mm,
                bumper_mm=owner.file.bumper_mm,
                rides=tuple(ride for ride, _ in self.seen),
                worst_route="loop",
                sag_window=SAG_WINDOW,
                sag_measured=self.sag is not None,
            )
        )


def by_risk(owner: Owner) -> Outcome:
    """Set an owner up by the rules: sag first, then ride by ride."""
    setup = SetUp(owner)
    step = setup.step()
    if step.count is not None:
        setup.now = step.count
    return _ride_by_ride(setup)


def by_risk_from(owner: Owner, count: float) -> Outcome:
    """Set an owner up by the rules who has ridden off at a count."""
    setup = SetUp(owner)
    setup.now = count
    return _ride_by_ride(setup)


def _ride_by_ride(setup: SetUp) -> Outcome:
    owner, past = setup.owner, False
    counts: list[float] = []
    while len(counts) < MOST_RIDES:
        counts.append(setup.now)
        setup.ride()
        step = setup.step()
        if step.action is Action.MEASURE_SAG:  # asked for again, after rides: now it is done
            setup.measure_sag()
            step = setup.step()
        if step.action.is_an_end:
            return Outcome((*counts, setup.now), True, past)
        if step.count is not None:
            inside = owner.first <= step.count <= owner.last
            past |= not inside or abs(step.count - setup.now) > owner.kind.most_at_once
            setup.now = step.count
    return Outcome((*counts, setup.now), False, past)


def until_quiet(step: int, quiet: int, sag_first: bool = False) -> Callable[[Owner], Outcome]:
    """Build a simple rule: so many clicks more (of turns and positions one) until so many rides in a row are quiet.

    A ride is at the bumper where its marker says so: at the stop, or above the window.
    """

    def rule(owner: Owner) -> Outcome:
        now: float = owner.standard
        if sag_first and owner.measures_sag:
            measured = owner.measured_sag_percent(now)
            per_step = 100 * owner.step_mm / owner.stroke_mm
            now = min(
                owner.counts, key=lambda count: abs(measured - (count - owner.standard) * per_step - 30)
            )
        bumper = reference_bumper_mm(owner.file.bumper_mm, owner.stroke_mm)
        counts, row = [], 0
        for number in range(MOST_RIDES):
            counts.append(now)
            _, read = owner.ride(number, now)
            hit = read.at_least or judge_used(read, bumper, owner.stroke_mm).is_above_window
            row = 0 if hit else row + 1
            if row >= quiet or (hit and now >= owner.last):
                return Outcome((*counts, now), True)
            if hit:
                now = min(owner.last, now + min(step, owner.kind.most_at_once))
        return Outcome((*counts, now), False)

    return rule


BY_RISK = "by risk"
RULES: dict[str, Callable[[Owner], Outcome]] = {
    BY_RISK: by_risk,
    "two clicks until quiet": until_quiet(2, 1),
    "two clicks until three quiet": until_quiet(2, 3),
    "one click until quiet": until_quiet(1, 1),
    "sag, two clicks until quiet": until_quiet(2, 1, sag_first=True),
    "sag, two until three quiet": until_quiet(2, 3, sag_first=True),
}


def intervals_hold(owner: Owner, rides: int) -> list[bool]:
    """Whether each next ride lies in its stated 90 % interval, for an owner who rides on at one count."""
    setup = SetUp(owner)
    setup.now = min(owner.counts, key=lambda count: abs(owner.sag_percent(count) - 30))
    held = []
    for _ in range(rides):
        stated = None
        if len(setup.seen) >= RUNS_TO_JUDGE:
            severity, preload = setup.severity(), setup.file_preload_mm(setup.now)
            stated = (severity.stroke_at(0.05, preload), severity.stroke_at(0.95, preload))
        depth = setup.ride()
        if stated is not None:
            held.append(stated[0] <= depth <= stated[1])
    return held
