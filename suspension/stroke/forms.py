"""Each quantity of `stroke` as a sum of inputs, so that values and uncertainties come from one place.

A form is a mapping from input to coefficient: used stroke is {"E0": 1, "gn": -1, "o": -1}. Inputs: E exposed,
d seal to marker, gn marker to far end, E0 extended, S stroke, b and bs bumper free and crushed, w marker's
width, o overhang of a tie's lock, r compression at the marker's last reset; all mm.
"""

from __future__ import annotations

import math

from suspension.errors import StrokeError, SuspensionError
from suspension.quantities.propagation import JointInputs
from suspension.quantities.quantity import COVERAGE_FACTOR, Bound, Quantity
from suspension.stroke.leg import State
from suspension.stroke.question import StrokeQuestion
from suspension.stroke.shaft_lengths import CLOSURE_LIMIT_MM
from suspension.stroke.stops import touching_limit_mm

Form = dict[str, float]

# Two statements contradict each other beyond this many standard uncertainties, and beyond the closure limit:
# three, so that no more than about 3 readings in 1000 are refused by chance (normal distribution).
_CONTRADICTION_SDS = 3.0
# Rounding of sums of floats, mm.
_ROUNDING_MM = 1e-9


def plus(*forms: Form) -> Form:
    """Sum of forms."""
    total: Form = {}
    for form in forms:
        for name, factor in form.items():
            total[name] = total.get(name, 0.0) + factor
    return total


def minus(form: Form, *others: Form) -> Form:
    """One form less others."""
    return plus(form, *({name: -factor for name, factor in other.items()} for other in others))


class StrokeForms:
    """The forms that a question's known inputs allow."""

    def __init__(self, question: StrokeQuestion) -> None:
        self.question = question
        self.inputs = _joint_inputs(question)
        has = self.inputs.has
        self.exposed = {"E": 1.0} if has("E") else {"d": 1.0, "gn": 1.0} if has("d", "gn") else None
        self.marker = {"d": 1.0} if has("d") else {"E": 1.0, "gn": -1.0} if has("E", "gn") else None
        self.remaining = {"gn": 1.0} if has("gn") else {"E": 1.0, "d": -1.0} if has("E", "d") else None
        hanging = question.state is State.HANGING
        self.extended = {"E0": 1.0} if has("E0") else self.exposed if hanging else None
        self.position: Form | None = None
        if hanging and self.marker is not None:
            self.position = self.marker  # c = 0
        elif self.extended is not None and self.remaining is not None:
            self.position = minus(self.extended, self.remaining)

    def estimate(
        self, form: Form | None, bound: Bound = Bound.EXACT, extra_sd: float = 0.0
    ) -> Quantity | None:
        """Value and standard uncertainty of a form; None for None."""
        if form is None:
            return None
        value, sd = self.inputs.linear(form)
        return Quantity(value, math.hypot(sd, extra_sd), bound)

    # What contradicts

    def refuse_contradictions(self) -> None:
        """Raise where lengths, state and leg cannot all be true."""
        question = self.question
        if self.extended is not None and self.exposed is not None:
            compression, limit = self._with_limit(minus(self.extended, self.exposed))
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
        for form, what in ((self.marker, "the seal now"), (self.position, "the seal at full extension")):
            if form is not None:
                value, limit = self._with_limit(form)
                if value < -limit:
                    raise StrokeError(
                        f"The marker would stand {-value:.1f} mm behind {what}, where no marker can be.",
                        "Check the extended length and which edge of the marker was measured.",
                    )
        if self.position is not None and self.inputs.has("r"):
            moved, limit = self._with_limit(minus(self._deepest(self.position), {"r": 1.0}))
            if moved < -limit:
                raise StrokeError(
                    f"The marker stands {-moved:.1f} mm short of where it was last slid to.",
                    f"It slipped ({question.leg.layout.slip}): fit a snugger one and ride again.",
                )
        if not question.leg.layout.has_visible_bumper and self.inputs.has("E0", "S"):
            dead = self.estimate({"E0": 1.0, "S": -1.0})
            assert dead is not None
            if dead.value < -dead.u95 - _ROUNDING_MM:
                raise StrokeError(
                    f"The stroke is {-dead.value:.1f} mm longer than the tube that is exposed at full "
                    "extension.",
                    "Check E0 and S: a fork's stroke is at most its exposed length with the wheel hanging.",
                )

    def refuse_beyond_stroke(self, used: Form) -> None:
        """Raise where the used stroke is beyond S and the uncertainty of both."""
        hard_stop, _ = self.hard_stop()
        if hard_stop is None:
            return
        excess, sd = self.inputs.linear(minus(used, hard_stop))
        if excess > COVERAGE_FACTOR * sd + _ROUNDING_MM:
            value, stop = self.inputs.linear(used)[0], self.inputs.linear(hard_stop)[0]
            raise StrokeError(
                f"The used stroke of {value:.1f} mm is beyond the stroke of {stop:.1f} mm, further than "
                "their doubt allows.",
                f"Either the marker was moved or slipped ({self.question.leg.layout.slip}), or the "
                "extended length E0 or the stroke S is wrong: measure E0 with the wheel hanging, look S "
                "up, and see that the marker is snug.",
            )

    def _with_limit(self, form: Form) -> tuple[float, float]:
        value, sd = self.inputs.linear(form)
        return value, max(CLOSURE_LIMIT_MM, _CONTRADICTION_SDS * sd)

    # Censoring

    def bound(self) -> Bound:
        """Whether the marker's place is the answer, or only a limit to it."""
        if self.question.at_stop or self._touches_far_end():
            return Bound.AT_LEAST
        moved = None
        if self.inputs.has("r") and self.position is not None:
            moved = minus(self._deepest(self.position), {"r": 1.0})
        elif not self.inputs.has("r") and self.marker is not None:
            moved = self._deepest(self.marker)  # the marker still stands at the seal
        if moved is not None:
            distance, sd = self.inputs.linear(moved)
            if distance <= touching_limit_mm(sd):
                return Bound.AT_MOST
        return Bound.EXACT

    def _gap(self) -> Form | None:
        """Marker's far edge to the far end; without a width, its near edge, which is further away."""
        if self.remaining is None:
            return None
        return minus(self.remaining, {"w": 1.0}) if self.inputs.has("w") else self.remaining

    def _touches_far_end(self) -> bool:
        gap_form = self._gap()
        if gap_form is None:
            return False
        gap, sd = self.inputs.linear(gap_form)
        return gap <= touching_limit_mm(sd)

    def touching_sd(self, bound: Bound) -> float:
        """Doubt of a touch that may be a small gap, mm: rectangular over the gap seen (JCGM 100, 4.3.7).

        A marker that cannot be told from a touching one counts as touching; if it does not touch, the limit
        Sb - w is too deep by the gap.
        """
        gap_form = self._gap()
        if bound is not Bound.AT_LEAST or gap_form is None or not self.inputs.has("w"):
            return 0.0
        return max(0.0, self.inputs.linear(gap_form)[0]) / math.sqrt(3)

    # What is answered

    def compression(self) -> Quantity | None:
        """c = E0 - E; zero by definition where the wheel hangs."""
        if self.question.state is State.HANGING:
            return Quantity(0.0, 0.0)
        if self.extended is None or self.exposed is None:
            return None
        return self.estimate(minus(self.extended, self.exposed))

    def used(self, bound: Bound) -> Form | None:
        """u: the marker's place less the overhang; Sb - w at the far end; c at reset where nothing moved."""
        if bound is Bound.AT_LEAST and self.extended is not None and self.inputs.has("w"):
            return self._deepest(minus(self.extended, {"w": 1.0}))
        if bound is Bound.AT_MOST and self.inputs.has("r"):
            return {"r": 1.0}
        return None if self.position is None else self._deepest(self.position)

    def hard_stop(self) -> tuple[Form | None, str | None]:
        """S as stated, else E0 + b - bs; and in words why a stated S cannot be this shock's."""
        stated: Form | None = {"S": 1.0} if self.inputs.has("S") else None
        if not self.question.leg.layout.has_visible_bumper or self.extended is None:
            return stated, None
        bumper = plus(self.extended, {"b": 1.0, "bs": -1.0}) if self.inputs.has("b", "bs") else None
        if stated is None:
            return bumper, None
        if bumper is not None:
            gap, limit = self._with_limit(minus(stated, bumper))
            if abs(gap) > limit:
                return (
                    stated,
                    f"the stroke S and the one that E0 and the bumper give differ by {abs(gap):.1f} mm",
                )
        early, limit = self._with_limit(minus(self.extended, stated))
        if early > limit:
            return stated, (
                f"the stroke S ends {early:.1f} mm before the bumper is met, so S does not count to the "
                "hard stop"
            )
        return stated, None

    def reserve_bumper(self, bound: Bound) -> Quantity | None:
        """Sb - u = gn plus the overhang; needs neither E0 nor S. None for a fork."""
        if not self.question.leg.layout.has_visible_bumper:
            return None
        return self.estimate(self._left_to_bumper(bound), bound.opposite, self.touching_sd(bound))

    def reserve_hard(self, bound: Bound) -> Quantity | None:
        """S - u; for a shock without E0, gn + b - bs and the overhang."""
        used, (stop, _) = self.used(bound), self.hard_stop()
        form = None if used is None or stop is None else minus(stop, used)
        if form is None and self.question.leg.layout.has_visible_bumper and self.inputs.has("b", "bs"):
            left = self._left_to_bumper(bound)
            form = None if left is None else plus(left, {"b": 1.0, "bs": -1.0})
        return self.estimate(form, bound.opposite, self.touching_sd(bound))

    def percent(self, used: Form | None, hard_stop: Form | None, bound: Bound) -> Quantity | None:
        """100 u/S."""
        if used is None or hard_stop is None:
            return None
        stroke = self.inputs.linear(hard_stop)[0]
        if stroke <= 0:
            return None
        share, sd = self.inputs.ratio(used, hard_stop)
        return Quantity(100 * share, 100 * math.hypot(sd, self.touching_sd(bound) / stroke), bound)

    def shortest_exposed(self) -> Quantity | None:
        """Emin = E0 - S of a fork."""
        if self.question.leg.layout.has_visible_bumper or self.extended is None or not self.inputs.has("S"):
            return None
        return self.estimate(minus(self.extended, {"S": 1.0}))

    def _deepest(self, strap: Form) -> Form:
        return minus(strap, {"o": 1.0})

    def _left_to_bumper(self, bound: Bound) -> Form | None:
        if bound is Bound.AT_LEAST and self.inputs.has("w"):
            return {"w": 1.0, "o": 1.0}
        used = self.used(bound)
        if self.extended is not None and used is not None:
            return minus(self.extended, used)
        return None if self.remaining is None else plus(self.remaining, {"o": 1.0})


def _joint_inputs(question: StrokeQuestion) -> JointInputs:
    """Gather the known inputs and their covariance."""
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

    return JointInputs(
        names=tuple(name for name, _ in known),
        values=tuple(length.value for _, length in known),
        covariance=tuple(tuple(covariance(i, j) for j in range(len(known))) for i in range(len(known))),
    )
