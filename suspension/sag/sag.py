"""Sag: how far the bike sinks under itself and under its rider, with the friction that two approaches show.

From axle-to-tail lengths, or from the exposed lengths of a leg in three states. A bike on its side stand is in
none of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from suspension.errors import SuspensionError
from suspension.quantities.quantity import COVERAGE_FACTOR, Quantity
from suspension.sag.travel import Along, Coordinate, percent_of, to_wheel
from suspension.sag.windows import Judgement, WhichSag, Window, judge_sag, spring_hint
from suspension.springs.motion_ratio import MotionRatio

# 3 to 10 mm between the two approaches is usual [common practice, no source].
USUAL_STICTION_MM = (3.0, 10.0)


@dataclass(frozen=True)
class TwoApproaches:
    """A length read twice: after the bike was pushed down and rose slowly, and after it was lifted and settled.

    Attributes
    ----------
    risen_mm : Quantity
        Pushed down, then let rise slowly, mm: friction holds it low.
    settled_mm : Quantity or None
        Lifted, then let settle slowly, mm: friction holds it high. None: read once.
    """

    risen_mm: Quantity
    settled_mm: Quantity | None = None

    @property
    def mean_mm(self) -> Quantity:
        """Mean of both, mm, in which friction cancels. Read once: that reading, friction and all."""
        if self.settled_mm is None:
            return self.risen_mm
        return Quantity(
            (self.risen_mm.value + self.settled_mm.value) / 2,
            math.hypot(self.risen_mm.sigma, self.settled_mm.sigma) / 2,
        )

    @property
    def apart_mm(self) -> float | None:
        """|La - Lb|, mm; None where it was read once."""
        return None if self.settled_mm is None else abs(self.risen_mm.value - self.settled_mm.value)


@dataclass(frozen=True)
class Sag:
    """One sag.

    Attributes
    ----------
    which : WhichSag
    length : Along
        mm, along the stroke or the wheel's travel.
    percent : Quantity or None
        Of the travel in the same coordinate; None where it is not known.
    stiction_mm : float or None
        Distance between the two approaches, in the coordinate of `length`.
    friction_n : float or None
        About kw times half that distance, N at the wheel; None without a wheel rate or a second approach.
    judgement : Judgement
        Against the window.
    remarks : tuple of str
    """

    which: WhichSag
    length: Along
    percent: Quantity | None
    stiction_mm: float | None
    friction_n: float | None
    judgement: Judgement
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class SagScale:
    """What a sag is compared with; what is not known is None.

    Attributes
    ----------
    window : Window or None
        In percent of wheel travel.
    wheel_travel_mm : Quantity or None
    stroke_mm : Quantity or None
        S, stroke to the hard stop.
    ratio : MotionRatio or None
    wheel_rate_n_per_mm : float or None
        kw near the sag.
    """

    window: Window | None = None
    wheel_travel_mm: Quantity | None = None
    stroke_mm: Quantity | None = None
    ratio: MotionRatio | None = None
    wheel_rate_n_per_mm: float | None = None

    def whole(self, coordinate: Coordinate) -> Along | None:
        """Give the whole travel along a coordinate: as given, or the stroke through the motion ratio."""
        if coordinate is Coordinate.STROKE:
            return None if self.stroke_mm is None else Along(self.stroke_mm, coordinate)
        if self.wheel_travel_mm is not None:
            return Along(self.wheel_travel_mm, coordinate)
        return None if self.stroke_mm is None or self.ratio is None else to_wheel(self.stroke_mm, self.ratio)


def sag_from_lengths(which: WhichSag, extended_mm: Quantity, loaded: TwoApproaches, scale: SagScale) -> Sag:
    """Sag at the wheel from axle-to-tail lengths: L0 - mean(La, Lb) [common practice, no source].

    Parameters
    ----------
    which : WhichSag
        Static (unladen, on its wheels) or rider (aboard, full gear, feet on the pegs).
    extended_mm : Quantity
        L0, wheel hanging free, mm; measured vertically.
    loaded : TwoApproaches
        The same length loaded, mm.
    scale : SagScale

    Returns
    -------
    Sag

    Raises
    ------
    SuspensionError
        A bike that is longer loaded than hanging, beyond the uncertainty of both.
    """
    mean = loaded.mean_mm
    sag = Quantity(extended_mm.value - mean.value, math.hypot(extended_mm.sigma, mean.sigma))
    return _sag(which, Along(sag, Coordinate.WHEEL), loaded.apart_mm, scale)


def sag_from_exposed(which: WhichSag, extended_mm: Quantity, loaded: TwoApproaches, scale: SagScale) -> Sag:
    """Sag from the exposed lengths of one leg: the compression c = E0 - mean(Ea, Eb) [derived].

    With a motion ratio it is given at the wheel; without, it remains a stroke, and no window applies, for the
    windows are of wheel travel.

    Parameters
    ----------
    which : WhichSag
    extended_mm : Quantity
        E0, wheel hanging free, mm.
    loaded : TwoApproaches
        Exposed length loaded, mm.
    scale : SagScale
    """
    mean = loaded.mean_mm
    stroke = Quantity(extended_mm.value - mean.value, math.hypot(extended_mm.sigma, mean.sigma))
    if stroke.value < 0 and stroke.value + stroke.u95 >= 0:
        stroke = Quantity(0.0, stroke.sigma)  # topped out, within its uncertainty
    _refuse_negative(stroke)
    stiction = loaded.apart_mm
    if stiction is not None and scale.ratio is not None:
        stiction /= scale.ratio.at(stroke.value)
    return _sag(which, to_wheel(stroke, scale.ratio), stiction, scale)


def refuse_less_with_rider(static: Sag, rider: Sag) -> None:
    """Refuse a bike that sinks less with its rider aboard than without, beyond the uncertainty of both.

    Raises
    ------
    SuspensionError
    """
    less = static.length.mm.value - rider.length.mm.value
    if less > COVERAGE_FACTOR * math.hypot(static.length.mm.sigma, rider.length.mm.sigma):
        raise SuspensionError(
            f"Rider sag would be {less:.0f} mm less than static sag.",
            "Check which length is which: on-wheels is without the rider, rider-aboard with.",
        )


def friction_n(wheel_rate_n_per_mm: float, apart_mm: float) -> float:
    """Friction at the wheel, about kw |La - Lb|/2, N: half the band that friction holds open [derived].

    Parameters
    ----------
    wheel_rate_n_per_mm : float
        kw, N/mm at the wheel.
    apart_mm : float
        Distance between the two approaches, mm of wheel travel.
    """
    return wheel_rate_n_per_mm * abs(apart_mm) / 2


def sag_hint(static: Sag, static_scale: SagScale, rider: Sag) -> str | None:
    """Say what both sags together mean for the spring, where both were judged; None where nothing stands out."""
    if static.length.coordinate is not Coordinate.WHEEL:
        return None
    return spring_hint(static.percent, static_scale.window, rider.judgement)


def _sag(which: WhichSag, length: Along, stiction: float | None, scale: SagScale) -> Sag:
    _refuse_negative(length.mm)
    percent = percent_of(length, scale.whole(length.coordinate))
    if percent is not None and percent.value - percent.u95 > 100:
        raise SuspensionError(
            f"A sag of {percent.value:.0f} % is more than the whole travel.",
            "Measure again between the same two points, and check wheel_travel in the bike's file.",
        )
    at_wheel = length.coordinate is Coordinate.WHEEL
    remarks = []
    if stiction is None:
        remarks.append("Measured from one side only: friction may have held it high or low by several mm.")
    elif at_wheel and stiction > USUAL_STICTION_MM[1]:
        low, high = USUAL_STICTION_MM
        remarks.append(
            f"The two approaches differ by {stiction:.0f} mm; {low:g} to {high:g} mm is usual. Check for "
            "binding."
        )
    if percent is None:
        whole = "wheel's travel (wheel_travel" if at_wheel else "stroke to the hard stop (stroke"
        remarks.append(f"No percentage: the {whole} in the bike's file) is not known.")
    elif not at_wheel:
        remarks.append(
            "A percentage of the stroke, without a motion ratio: the windows are of wheel travel and do not "
            "apply."
        )
    judgement = Judgement.UNKNOWN
    if at_wheel and percent is not None and scale.window is not None:
        judgement = judge_sag(percent, scale.window)
    friction = None
    if stiction is not None and at_wheel and scale.wheel_rate_n_per_mm is not None:
        friction = friction_n(scale.wheel_rate_n_per_mm, stiction)
    return Sag(which, length, percent, stiction, friction, judgement, tuple(remarks))


def _refuse_negative(length: Quantity) -> None:
    if length.value < -COVERAGE_FACTOR * length.sigma - 1e-9:
        raise SuspensionError(
            f"The bike would stand {-length.value:.1f} mm higher loaded than hanging free.",
            "Measure both lengths again between the same two points, the first with the wheel hanging free.",
        )
