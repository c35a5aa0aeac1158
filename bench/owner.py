"""A simulated owner: one end of one bike as it truly is, as its file has it, and the rides over one route.

Nothing in here is measured on real motorcycles: the ranges are domain's figures of the trade [common practice, no
source], stated beside each draw.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from suspension.loads.loads import GRAVITY_M_PER_S2
from suspension.quantities.quantity import Bound, Quantity
from suspension.sag.windows import End, Window
from suspension.springs.adjuster import AdjusterKind

READING_SIGMA_MM = 0.75
SAG_SIGMA_MM = 1.5
SAG_WINDOW = Window(25, 35)
# A setting is right with at most this share of rides at the bumper, and fails its owner with more than the other.
RIGHT, FAILED = 0.10, 0.20
MOST_RIDES = 12
# Load factor of the road that the spring was chosen for [a choice: in the upper half of the routes' 1.5 to 2.5].
SPRING_FOR = 2.2
# Of a depth beyond the bumper's face so much is left once it stiffens [a choice; the trade has no value].
BUMPER_GIVES = 0.35


@dataclass(frozen=True)
class BikeFile:
    """What the owner's file has: rate of each of two springs, ratio, preload at soft, sprung load, bumper if known."""

    rate_n_per_mm: float
    ratio: float
    soft_mm: float
    sprung_n: float
    bumper_mm: float | None


@dataclass(frozen=True)
class Owner:
    """One end of one bike.

    Attributes
    ----------
    rate_n_per_mm, ratio, stroke_mm, bumper_mm, marker_mm : float
        k of each of two springs, MR, S, Sb, w.
    bumper_is_visible : bool
        A shock's: the marker stops at it, and says "at least". A fork's lock is inside.
    soft_mm, step_mm : float
        Preload at the soft end, and a step's worth.
    last, standard : int
        Counts: of the hard end, and as the bike is delivered.
    sprung_n : float
        Ws with the load that is ridden.
    factor, scatter : float
        Mean load factor of the route, and its relative ride-to-ride scatter.
    stiction_mm : float
        Half the band that friction leaves, along the stroke.
    file : BikeFile
    sag_error_mm : float
        Of the sag session.
    measures_sag : bool
        Before the first ride; else when the advice asks for it a second time.
    draws : ndarray, shape (MOST_RIDES, 2)
        Standard normal: of each ride, of each reading. Every rule meets the same rides.
    """

    end: End
    kind: AdjusterKind
    rate_n_per_mm: float
    ratio: float
    stroke_mm: float
    bumper_mm: float
    marker_mm: float
    bumper_is_visible: bool
    soft_mm: float
    step_mm: float
    last: int
    standard: int
    sprung_n: float
    factor: float
    scatter: float
    stiction_mm: float
    file: BikeFile
    sag_error_mm: float
    measures_sag: bool
    draws: np.ndarray

    @property
    def first(self) -> int:
        """Count at the soft end."""
        return self.kind.first

    @property
    def counts(self) -> range:
        """All counts of the adjuster."""
        return range(self.first, self.last + 1)

    def preload_mm(self, count: float) -> float:
        """Give the true preload at a count."""
        return self.soft_mm + (count - self.first) * self.step_mm

    @property
    def load_stroke_mm(self) -> float:
        """Ws/(n k MR): what the load alone would compress springs without preload."""
        return self.sprung_n / (2 * self.rate_n_per_mm * self.ratio)

    def rider_mm(self, count: float) -> float:
        """Compression with the rider aboard."""
        return max(0.0, self.load_stroke_mm - self.preload_mm(count))

    def sag_percent(self, count: float) -> float:
        """Give the true rider sag, percent of travel (the ratio is constant, so of stroke as well)."""
        return 100 * self.rider_mm(count) / self.stroke_mm

    def measured_sag_percent(self, count: float) -> float:
        """Rider sag as measured once at a count."""
        return max(0.0, self.sag_percent(count) + 100 * self.sag_error_mm / self.stroke_mm)

    def chance(self, count: float) -> float:
        """Give the true share of rides that reach the bumper."""
        limit = (self.bumper_mm + self.stiction_mm + self.preload_mm(count)) / self.load_stroke_mm
        return 0.5 * math.erfc((limit - self.factor) / (self.scatter * self.factor) / math.sqrt(2))

    def sag_is_right(self, count: float) -> bool:
        """Whether rider sag is in its window."""
        return SAG_WINDOW.low <= self.sag_percent(count) <= SAG_WINDOW.high

    @property
    def has_a_right_count(self) -> bool:
        """Whether some count has rider sag in its window and meets the bumper in one ride of ten at most."""
        return any(self.sag_is_right(count) and self.chance(count) <= RIGHT for count in self.counts)

    def ride(self, number: int, count: float) -> tuple[float, Quantity]:
        """Give the deepest point of a ride, mm, and what its marker reads."""
        of_ride, of_reading = self.draws[number]
        factor = self.factor * (1 + self.scatter * float(of_ride))
        depth = factor * self.load_stroke_mm - self.preload_mm(count) - self.stiction_mm
        depth = max(depth, self.rider_mm(count))
        if depth > self.bumper_mm:
            depth = min(self.stroke_mm, self.bumper_mm + BUMPER_GIVES * (depth - self.bumper_mm))
        if self.bumper_is_visible and depth >= self.bumper_mm - self.marker_mm:
            return depth, Quantity(self.bumper_mm - self.marker_mm, READING_SIGMA_MM, Bound.AT_LEAST)
        read = min(depth + READING_SIGMA_MM * float(of_reading), self.stroke_mm)
        return depth, Quantity(read, READING_SIGMA_MM)


def draw_owner(
    draws: np.random.Generator, end: End, two_up: bool, scatter: float, spring_for: float = SPRING_FOR
) -> Owner:
    """Draw an owner.

    The spring was chosen for the load that is ridden and a hard road (a load factor of `spring_for` uses 0.9 of the
    stroke to the bumper at 30 % rider sag), and misses that by 12 %; the range of preload was chosen so that 30 % sag
    lies within it. The route's load factor is 1.5 to 2.5. All ranges uniform, all errors normal.
    """
    if end is End.FRONT:
        ratio = 1 / math.cos(math.radians(draws.uniform(23, 30)))
        stroke = draws.uniform(110, 140)
        bumper, marker = stroke * draws.uniform(0.88, 0.95), float(draws.choice([2.5, 3.6, 4.8]))
        kind = AdjusterKind.TURNS if draws.random() < 0.6 else AdjusterKind.CLICKS
        bare, rider, passenger = draws.uniform(75, 105), draws.uniform(0.35, 0.5), 0.15
        unsprung = draws.uniform(12, 20)
    else:
        ratio, stroke = draws.uniform(0.7, 0.95), draws.uniform(85, 110)
        bumper, marker = stroke - draws.uniform(8, 14), float(draws.choice([2.0, 2.5, 3.6]))
        kind = AdjusterKind.CLICKS if draws.random() < 0.6 else AdjusterKind.POSITIONS
        bare, rider, passenger = draws.uniform(90, 120), draws.uniform(0.5, 0.65), 0.85
        unsprung = draws.uniform(15, 25)
    step, number = {
        AdjusterKind.TURNS: (draws.uniform(1, 2), int(draws.integers(6, 11))),
        AdjusterKind.CLICKS: (draws.uniform(0.5, 1), int(draws.integers(10, 16))),
        AdjusterKind.POSITIONS: (draws.uniform(3, 5), 4),
    }[kind]
    carried_kg = rider * draws.uniform(60, 105) + (passenger * draws.uniform(45, 85) if two_up else 0.0)
    sprung = (bare - unsprung + carried_kg) * GRAVITY_M_PER_S2
    misfit = float(np.clip(1 + 0.12 * draws.normal(), 0.7, 1.4))
    rate = misfit * (spring_for - 1) * sprung / (2 * ratio * (0.9 * bumper - 0.30 * stroke))
    in_range = draws.uniform(0.15, 0.85) * number * step
    soft = max(0.0, sprung / (2 * rate * ratio) - 0.30 * stroke - in_range)
    file = BikeFile(
        rate * _wrong(draws, 0.04) * float(draws.choice([1.0, 0.7, 1.4], p=[0.95, 0.025, 0.025])),
        ratio * _wrong(draws, 0.02),
        max(0.0, soft + 1.5 * draws.normal()),
        sprung * _wrong(draws, 0.03),
        None if end is End.FRONT and draws.random() < 0.5 else bumper + 0.5 * draws.normal(),
    )
    return Owner(
        end, kind, rate, ratio, stroke, bumper, marker, end is End.REAR, soft, step, kind.first + number,
        kind.first + int(draws.integers(0, number // 2 + 1)), sprung, draws.uniform(1.5, 2.5), scatter,
        draws.uniform(1.5, 5) * ratio / 2, file, SAG_SIGMA_MM * float(draws.normal()), draws.random() < 0.75,
        draws.normal(size=(MOST_RIDES, 2)),
    )  # fmt: skip


def _wrong(draws: np.random.Generator, sigma: float) -> float:
    return 1 + sigma * float(draws.normal())
