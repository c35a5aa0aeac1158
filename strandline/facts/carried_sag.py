"""Rider sag of a load at any count: as measured, carried by reckoning to the others; else from the statics."""

from __future__ import annotations

import math
from dataclasses import dataclass

from strandline.facts.ends import EndFacts
from strandline.facts.sag import PlaceSag
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity
from suspension.sag.sag import USUAL_STICTION_MM
from suspension.sag.travel import Coordinate
from suspension.sag.windows import WhichSag, Window, sag_window
from suspension.springs.adjuster import preload_mm
from suspension.springs.equilibrium import rest_under
from suspension.springs.wheel_rate import wheel_force_n

# Of what preload carries sag by, so much is not known: a step's worth, and springs that are not quite linear
# [a choice].
CARRIED_RELATIVE_SIGMA = 0.1
# Of what the load compresses the springs by in all, so much is not known where sag is only worked out: rate, ratio
# and load of a bike's file are together right to some 6 % (`severity.EDGE_RELATIVE_SIGMA`), and friction holds.
STATICS_RELATIVE_SIGMA = 0.1


@dataclass(frozen=True)
class CarriedSag:
    """Rider sag of one load at one end.

    Attributes
    ----------
    facts : EndFacts
    place : PlaceSag or None
        As measured.
    count : float or None
        At which it was measured, up from the soft end.
    sprung_n : float or None
        Ws with this load, for the statics where nothing was measured.
    """

    facts: EndFacts
    place: PlaceSag | None = None
    count: float | None = None
    sprung_n: float | None = None

    @property
    def window(self) -> Window | None:
        """The window for rider sag, by the use that the bike's file names."""
        return sag_window(self.facts.bike.use, self.facts.end, WhichSag.RIDER)

    @property
    def is_measured(self) -> bool:
        """Measured, at a count that is known."""
        return self.place is not None and self.count is not None

    @property
    def half_stiction_mm(self) -> float:
        """Half the band that friction leaves, mm of stroke; the usual one where it was not measured."""
        sag = None if self.place is None else self.place.sag(WhichSag.RIDER)
        if sag is None or sag.stiction_mm is None:
            return USUAL_STICTION_MM[1] / 2
        ratio = self.facts.ratio
        at_wheel = sag.length.coordinate is Coordinate.WHEEL and ratio is not None
        return sag.stiction_mm / 2 * (ratio.at(0.0) if at_wheel and ratio is not None else 1.0)

    def stroke_mm(self, count: float | None) -> Quantity | None:
        """Compression with the rider aboard at a count, mm of stroke: sag(d2) = sag(d1) - (d2 - d1), or by balance."""
        if not self.is_measured or self.place is None:
            return None if count is None else self._by_statics(count)
        sag = self.place.sag(WhichSag.RIDER)
        assert sag is not None
        measured = sag.length.mm
        if sag.length.coordinate is Coordinate.WHEEL:
            ratio = self.facts.ratio
            if ratio is None or measured.value < 0:
                return None
            stroke = ratio.stroke_mm(measured.value)
            measured = Quantity(stroke, measured.sigma * ratio.at(stroke))
        return self._carried(measured, count)

    def percent(self, count: float) -> Quantity | None:
        """Rider sag at a count, percent of wheel travel; None where it, or the travel, is not known."""
        stroke, whole = self.stroke_mm(count), self._wheel_travel_mm()
        if stroke is None or whole is None or self.facts.ratio is None:
            return None
        at = max(0.0, stroke.value)
        try:
            wheel, ratio = self.facts.ratio.wheel_travel_mm(at), self.facts.ratio.at(at)
        except SuspensionError:
            return None
        return Quantity(100 * wheel / whole, 100 * stroke.sigma / ratio / whole)

    def _wheel_travel_mm(self) -> float | None:
        travel = self.facts.bike.end(self.facts.end).wheel_travel
        if travel is not None:
            return travel.value
        if self.facts.hard_stop_mm is None or self.facts.ratio is None:
            return None
        try:
            return self.facts.ratio.wheel_travel_mm(self.facts.hard_stop_mm)
        except SuspensionError:
            return None

    def _carried(self, measured: Quantity, count: float | None) -> Quantity | None:
        adjuster = self.facts.adjuster
        if count is None or count == self.count:
            return measured
        if adjuster is None or self.count is None:
            return None
        then, now = adjuster.added_mm(self.count), adjuster.added_mm(count)
        if then is None or now is None:
            return None
        sigma = math.hypot(measured.sigma, CARRIED_RELATIVE_SIGMA * (now - then))
        stroke = self._by_balance(measured.value, then, now)
        return Quantity(max(0.0, measured.value - (now - then)) if stroke is None else stroke, sigma)

    def _by_balance(self, stroke_mm: float, then_mm: float, now_mm: float) -> float | None:
        """Solve for the stroke under the load that explains the measured one; None where mm for mm is as good.

        With air, or a ratio that changes, a mm of preload is not a mm of sag.
        """
        facts, soft = self.facts, self.facts.preload_at_soft_mm
        if facts.forces is None or soft is None or stroke_mm < 0:
            return None
        if facts.forces.ratio.is_constant and all(leg.air is None for leg in facts.forces.legs):
            return None
        try:
            load_n = wheel_force_n(facts.forces.with_preload(soft + then_mm), stroke_mm)
            return rest_under(facts.forces.with_preload(soft + now_mm), load_n).stroke_mm
        except SuspensionError:
            return None

    def _by_statics(self, count: float) -> Quantity | None:
        facts = self.facts
        if facts.forces is None or facts.adjuster is None or self.sprung_n is None:
            return None
        preload = preload_mm(facts.adjuster, count, facts.preload_at_soft_mm)
        if preload is None:
            return None
        try:
            stroke = rest_under(facts.forces.with_preload(preload), self.sprung_n).stroke_mm
        except SuspensionError:
            return None
        return Quantity(stroke, STATICS_RELATIVE_SIGMA * (stroke + preload))
