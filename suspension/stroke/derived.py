"""Each quantity of `stroke` from the lengths that are known, with what they share.

Every length is a variable of the package `uncertainties`, so that values and uncertainties come from one place: the
used stroke is E0 - gn - o. Symbols: E exposed, d seal to marker, gn marker to far end, E0 extended, S stroke, b and
bs bumper free and crushed, w marker's width, o overhang of a tie's lock, r compression at the marker's last reset;
all mm.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from suspension.errors import StrokeError, SuspensionError
from suspension.quantities.propagation import joint_variables, value_and_sigma
from suspension.quantities.quantity import COVERAGE_FACTOR, Bound, Quantity
from suspension.stroke.leg import State
from suspension.stroke.question import StrokeQuestion
from suspension.stroke.shaft_lengths import CLOSURE_LIMIT_MM
from suspension.stroke.stops import touching_limit_mm

if TYPE_CHECKING:
    from uncertainties import UFloat

# Two statements contradict each other beyond this many standard uncertainties, and beyond the closure limit:
# three, so that no more than about 3 readings in 1000 are refused by chance (normal distribution).
_CONTRADICTION_SIGMAS = 3.0
# Rounding of sums of floats, mm.
_ROUNDING_MM = 1e-9
# Far below any length that is known, far above the noise of sums in double precision.
_NOISE_DIGITS = 9


class DerivedLengths:
    """What a question's known lengths give; None for what they do not."""

    def __init__(self, question: StrokeQuestion) -> None:
        self.question = question
        known = _variables(question)
        e, d, gn = known.get("E"), known.get("d"), known.get("gn")
        self.stroke, self.width, self.reset = known.get("S"), known.get("w"), known.get("r")
        self.overhang = known["o"]
        both = "b" in known and "bs" in known
        self.crush = known["b"] - known["bs"] if both else None
        self.extended_stated = known.get("E0")
        self.exposed = _first(e, _sum(d, gn))
        self.marker = _first(d, _difference(e, gn))
        self.remaining = _first(gn, _difference(e, d))
        hanging = question.state is State.HANGING
        self.extended = _first(self.extended_stated, self.exposed if hanging else None)
        self.position = _difference(self.extended, self.remaining)
        if hanging and self.marker is not None:
            self.position = self.marker  # c = 0

    def quantity(
        self, length: UFloat | None, bound: Bound = Bound.EXACT, extra_sigma: float = 0.0
    ) -> Quantity | None:
        """Value and standard uncertainty of a length; None for None."""
        if length is None:
            return None
        value, sigma = value_and_sigma(length)
        # Sums of tenths of a mm carry binary noise, which may turn a tie when it is shown: 12.45 is 12.4, as written.
        return Quantity(round(value, _NOISE_DIGITS), math.hypot(sigma, extra_sigma), bound)

    # What contradicts

    def refuse_contradictions(self) -> None:
        """Raise where lengths, state and leg cannot all be true."""
        question = self.question
        if self.extended is not None and self.exposed is not None:
            compression, limit = _with_limit(self.extended - self.exposed)
            if question.state is State.HANGING and abs(compression) > limit:
                raise StrokeError(
                    f"The wheel is said to hang free, but the exposed length is {abs(compression):.1f} mm "
                    f"{'short of' if compression > 0 else 'over'} the extended length.",
                    "Check how the bike stood, and measure the extended length again with the wheel hanging.",
                )
            if compression < -limit:
                raise StrokeError(
                    f"The exposed length is {-compression:.1f} mm over the extended length, which is the "
                    "longest there is.",
                    "Measure the extended length again with the wheel hanging free, never pulled.",
                )
        for place, what in ((self.marker, "the seal now"), (self.position, "the seal at full extension")):
            if place is not None:
                value, limit = _with_limit(place)
                if value < -limit:
                    raise StrokeError(
                        f"The marker would stand {-value:.1f} mm behind {what}, where no marker can be.",
                        "Check the extended length and which edge of the marker was measured.",
                    )
        if self.position is not None and self.reset is not None:
            moved, limit = _with_limit(self.position - self.overhang - self.reset)
            if moved < -limit:
                raise StrokeError(
                    f"The marker stands {-moved:.1f} mm short of where it was last slid to.",
                    f"It slipped ({question.leg.layout.slip}): fit a snugger one and ride again.",
                )
        if not question.leg.layout.has_visible_bumper:
            dead = self.quantity(_difference(self.extended_stated, self.stroke))
            if dead is not None and dead.value < -dead.u95 - _ROUNDING_MM:
                raise StrokeError(
                    f"The stroke is {-dead.value:.1f} mm longer than the tube that is exposed at full "
                    "extension.",
                    "Check both: a fork's stroke is at most its hanging length.",
                )

    def refuse_beyond_stroke(self, used: UFloat) -> None:
        """Raise where the used stroke is beyond S and the uncertainty of both."""
        hard_stop, _ = self.hard_stop()
        if hard_stop is None:
            return
        excess, sigma = value_and_sigma(used - hard_stop)
        if excess > COVERAGE_FACTOR * sigma + _ROUNDING_MM:
            value, stop = used.nominal_value, hard_stop.nominal_value
            raise StrokeError(
                f"The used stroke of {value:.1f} mm is beyond the stroke of {stop:.1f} mm, further than "
                "their uncertainty allows.",
                f"Either the marker was moved or slipped ({self.question.leg.layout.slip}), or the "
                "hanging length or the stroke is wrong: measure the hanging length with the wheel free, look the "
                "stroke up, and see that the marker is snug.",
            )

    # Censoring

    def bound(self) -> Bound:
        """Whether the marker's place is the answer, or only a limit to it."""
        if self.question.at_stop or self._touches_far_end():
            return Bound.AT_LEAST
        moved = None
        if self.reset is not None and self.position is not None:
            moved = self.position - self.overhang - self.reset
        elif self.reset is None and self.marker is not None:
            moved = self.marker - self.overhang  # the marker still stands at the seal
        if moved is not None:
            distance, sigma = value_and_sigma(moved)
            if distance <= touching_limit_mm(sigma):
                return Bound.AT_MOST
        return Bound.EXACT

    def _gap(self) -> UFloat | None:
        """Marker's far edge to the far end; without a width, its near edge, which is further away."""
        if self.remaining is None:
            return None
        return self.remaining if self.width is None else self.remaining - self.width

    def _touches_far_end(self) -> bool:
        seen = self._gap()
        if seen is None:
            return False
        gap, sigma = value_and_sigma(seen)
        return gap <= touching_limit_mm(sigma)

    def touching_sigma(self, bound: Bound) -> float:
        """Uncertainty of a touch that may be a small gap, mm: rectangular over the gap seen (JCGM 100, 4.3.7).

        A marker that cannot be distinguished from a touching one counts as touching; if it does not touch, the limit
        Sb - w is too deep by the gap.
        """
        seen = self._gap()
        if bound is not Bound.AT_LEAST or seen is None or self.width is None:
            return 0.0
        return max(0.0, value_and_sigma(seen)[0]) / math.sqrt(3)

    # What is answered

    def compression(self) -> Quantity | None:
        """c = E0 - E; zero by definition where the wheel hangs."""
        if self.question.state is State.HANGING:
            return Quantity(0.0, 0.0)
        return self.quantity(_difference(self.extended, self.exposed))

    def used(self, bound: Bound) -> UFloat | None:
        """u: the marker's place less the overhang; Sb - w at the far end; c at reset where nothing moved."""
        if bound is Bound.AT_LEAST and self.extended is not None and self.width is not None:
            return self.extended - self.width - self.overhang
        if bound is Bound.AT_MOST and self.reset is not None:
            return self.reset
        return _difference(self.position, self.overhang)

    def hard_stop(self) -> tuple[UFloat | None, str | None]:
        """S as stated, else E0 + b - bs; and in words why a stated S cannot be this shock's."""
        stated = self.stroke
        if not self.question.leg.layout.has_visible_bumper or self.extended is None:
            return stated, None
        bumper = _sum(self.extended, self.crush)
        if stated is None:
            return bumper, None
        if bumper is not None:
            gap, limit = _with_limit(stated - bumper)
            if abs(gap) > limit:
                return (
                    stated,
                    f"the stroke and the one that hanging length and bumper give differ by {abs(gap):.1f} mm",
                )
        early, limit = _with_limit(self.extended - stated)
        if early > limit:
            return stated, (
                f"the stroke ends {early:.1f} mm before the bumper is met, so it does not count to the "
                "hard stop"
            )
        return stated, None

    def reserve_bumper(self, bound: Bound) -> Quantity | None:
        """Sb - u = gn plus the overhang; needs neither E0 nor S. None for a fork."""
        if not self.question.leg.layout.has_visible_bumper:
            return None
        return self.quantity(self._left_to_bumper(bound), bound.opposite, self.touching_sigma(bound))

    def reserve_hard(self, bound: Bound) -> Quantity | None:
        """S - u; for a shock without E0, gn + b - bs and the overhang."""
        left = _difference(self.hard_stop()[0], self.used(bound))
        if left is None and self.question.leg.layout.has_visible_bumper:
            left = _sum(self._left_to_bumper(bound), self.crush)
        return self.quantity(left, bound.opposite, self.touching_sigma(bound))

    def percent(self, used: UFloat | None, hard_stop: UFloat | None, bound: Bound) -> Quantity | None:
        """100 u/S."""
        if used is None or hard_stop is None or hard_stop.nominal_value <= 0:
            return None
        extra = 100 * self.touching_sigma(bound) / float(hard_stop.nominal_value)
        return self.quantity(100 * (used / hard_stop), bound, extra)

    def shortest_exposed(self) -> Quantity | None:
        """Emin = E0 - S of a fork."""
        if self.question.leg.layout.has_visible_bumper:
            return None
        return self.quantity(_difference(self.extended, self.stroke))

    def _left_to_bumper(self, bound: Bound) -> UFloat | None:
        if bound is Bound.AT_LEAST and self.width is not None:
            return self.width + self.overhang
        left = _difference(self.extended, self.used(bound))
        return _first(left, _sum(self.remaining, self.overhang))


def _first(*lengths: UFloat | None) -> UFloat | None:
    return next((one for one in lengths if one is not None), None)


def _sum(first: UFloat | None, second: UFloat | None) -> UFloat | None:
    return None if first is None or second is None else first + second


def _difference(whole: UFloat | None, part: UFloat | None) -> UFloat | None:
    return None if whole is None or part is None else whole - part


def _with_limit(length: UFloat) -> tuple[float, float]:
    """Give a length, and what it may be by chance where it should be zero, mm."""
    value, sigma = value_and_sigma(length)
    return value, max(CLOSURE_LIMIT_MM, _CONTRADICTION_SIGMAS * sigma)


def _variables(question: StrokeQuestion) -> dict[str, UFloat]:
    """Make the known lengths variables that carry what they share."""
    lengths, leg = question.lengths, question.leg
    if not math.isfinite(question.shared_scale_sd) or question.shared_scale_sd < 0:
        raise SuspensionError(
            "The shared scale's uncertainty is not a number from zero up.", "Give it as a ratio."
        )
    on_shaft = (("E", lengths.exposed_mm), ("d", lengths.marker_mm), ("gn", lengths.remaining_mm))
    known = [
        (name, length)
        for name, length in (
            *on_shaft,
            ("E0", leg.extended_mm),
            ("S", leg.stroke_mm),
            ("b", leg.bumper_free_mm),
            ("bs", leg.bumper_crushed_mm),
            ("w", question.marker.width_mm),
            ("o", question.marker.overhang_mm),
            ("r", question.reset_compression_mm),
        )
        if length is not None
    ]
    row_of = {name: i for i, (name, _) in enumerate(on_shaft)}

    def covariance(first: int, second: int) -> float:
        (name, length), (other, other_length) = known[first], known[second]
        if name in row_of and other in row_of:
            return lengths.covariance_of(row_of[name], row_of[other])
        if first == second:
            return length.sigma**2
        if {name, other} & {"E0"} and {name, other} & row_of.keys():
            # One scale's relative error moves both lengths in proportion.
            return question.shared_scale_sd**2 * length.value * other_length.value
        return 0.0

    everything = range(len(known))
    variables = joint_variables(
        [length.value for _, length in known], [[covariance(i, j) for j in everything] for i in everything]
    )
    return {name: variable for (name, _), variable in zip(known, variables, strict=True)}
