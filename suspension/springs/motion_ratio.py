"""Motion ratio: how far the stroke moves for each mm of vertical wheel travel, constant or over a table.

The convention is stroke over wheel travel, d(stroke)/d(wheel travel): about 0.35 to 0.6 for a shock on a
linkage, over 1 for a leaning fork. The reciprocal ("leverage") is in use too.
"""

from __future__ import annotations

import itertools
import math
from bisect import bisect_right
from dataclasses import dataclass

from suspension.errors import SuspensionError

CONVENTION = "stroke over vertical wheel travel"

# Rake of a road or off-road motorcycle, from the vertical, degrees; outside it the angle was measured from the
# horizontal, or is no rake [common practice, no source].
RAKE_RANGE_DEG = (15.0, 40.0)


@dataclass(frozen=True)
class MotionRatio:
    """d(stroke)/d(vertical wheel travel), linear between the points of a table.

    Attributes
    ----------
    strokes_mm : tuple of float
        Stroke from full extension, rising, the first 0. One point: the ratio is constant.
    ratios : tuple of float
        Ratio at each, more than 0.

    Raises
    ------
    SuspensionError
        Lengths that differ, strokes that do not rise from 0, a ratio that is not positive.
    """

    strokes_mm: tuple[float, ...]
    ratios: tuple[float, ...]

    def __post_init__(self) -> None:
        strokes, ratios = self.strokes_mm, self.ratios
        rising = all(a < b for a, b in itertools.pairwise(strokes))
        if not strokes or len(strokes) != len(ratios) or strokes[0] != 0 or not rising:
            raise SuspensionError(
                "The motion ratio's table does not run up from a stroke of 0, one ratio for each stroke.",
                "Give stroke and ratio in pairs, the first at full extension (0 mm), strokes rising.",
            )
        if not all(math.isfinite(x) for x in (*strokes, *ratios)) or min(ratios) <= 0:
            raise SuspensionError(
                "A motion ratio is not a number above zero.", f"Give it as {CONVENTION}, for example 0.75."
            )

    @classmethod
    def constant(cls, ratio: float) -> MotionRatio:
        """Build a ratio that does not change with the stroke."""
        return cls((0.0,), (ratio,))

    @property
    def is_constant(self) -> bool:
        """Whether one number holds over the whole stroke."""
        return len(set(self.ratios)) == 1

    def at(self, stroke_mm: float) -> float:
        """Ratio at a stroke.

        Raises
        ------
        SuspensionError
            A stroke outside the table: nothing is made up beyond its end.
        """
        i = self._segment(stroke_mm)
        return self.ratios[i] + self._gradient(i) * (stroke_mm - self.strokes_mm[i])

    def slope_per_mm(self, stroke_mm: float) -> float:
        """d(ratio)/d(stroke) at a stroke, 1/mm; at a table's point, that of the piece that follows."""
        return self._gradient(self._segment(stroke_mm))

    def wheel_travel_mm(self, stroke_mm: float) -> float:
        """Vertical wheel travel at a stroke: the integral of dc/MR(c) from 0, mm [derived]."""
        i = self._segment(stroke_mm)
        return sum(self._wheel_within(j, self.strokes_mm[j + 1]) for j in range(i)) + self._wheel_within(
            i, stroke_mm
        )

    def stroke_mm(self, wheel_travel_mm: float) -> float:
        """Stroke at a vertical wheel travel, the inverse of `wheel_travel_mm`, mm."""
        left = wheel_travel_mm
        last = len(self.strokes_mm) - 1
        for i in range(len(self.strokes_mm)):
            piece = (
                math.inf if last == 0 else self._wheel_within(i, self.strokes_mm[i + 1]) if i < last else 0.0
            )
            if left <= piece or i >= last - 1:
                gradient, ratio = self._gradient(i), self.ratios[i]
                grown = left * ratio if gradient == 0 else ratio * math.expm1(gradient * left) / gradient
                stroke = self.strokes_mm[i] + grown
                self._segment(stroke)
                return stroke
            left -= piece
        raise AssertionError("unreachable")  # the last piece always returns

    def _segment(self, stroke_mm: float) -> int:
        last = len(self.strokes_mm) - 1
        # rounding may put a stroke a hair outside
        beyond = last > 0 and stroke_mm > self.strokes_mm[-1] + 1e-9
        if stroke_mm < -1e-9 or beyond or not math.isfinite(stroke_mm):
            raise SuspensionError(
                f"The motion ratio is not known at a stroke of {stroke_mm:.1f} mm: its table runs from 0 to "
                f"{self.strokes_mm[-1]:.1f} mm.",
                "Measure it over the whole stroke.",
            )
        return max(0, min(bisect_right(self.strokes_mm, stroke_mm) - 1, last - 1 if last else 0))

    def _gradient(self, i: int) -> float:
        if i + 1 >= len(self.strokes_mm):
            return 0.0
        return (self.ratios[i + 1] - self.ratios[i]) / (self.strokes_mm[i + 1] - self.strokes_mm[i])

    def _wheel_within(self, i: int, stroke_mm: float) -> float:
        """Wheel travel of a piece from its start: (1/b) ln(1 + b x/a) for a ratio a + b x."""
        gradient, x = self._gradient(i), stroke_mm - self.strokes_mm[i]
        if gradient == 0:
            return x / self.ratios[i]
        return math.log1p(gradient * x / self.ratios[i]) / gradient


def fork_motion_ratio(rake_deg: float) -> MotionRatio:
    """Ratio of a fork that leans by the rake: 1/cos(rake), so vertical travel is stroke x cos(rake).

    Parameters
    ----------
    rake_deg : float
        From the vertical, 15 to 40 degrees.

    Raises
    ------
    SuspensionError
        An angle that is no rake.

    Examples
    --------
    >>> round(fork_motion_ratio(25).wheel_travel_mm(120), 2)
    108.76
    """
    low, high = RAKE_RANGE_DEG
    if not low <= rake_deg <= high:
        raise SuspensionError(
            f"A rake of {rake_deg:g} degrees is outside {low:g} to {high:g}.",
            "Give it from the vertical, as manuals do; 65 degrees from the ground is a rake of 25.",
        )
    return MotionRatio.constant(1 / math.cos(math.radians(rake_deg)))


def swingarm_motion_ratio(
    pivot_to_mount_mm: float, shock_to_arm_deg: float, arm_length_mm: float, arm_to_horizontal_deg: float
) -> float:
    """Ratio of an inclined shock on a swingarm, at one position: r sin(psi)/(La cos(beta)) [derived].

    It varies with travel; work it out at several positions for a table.

    Parameters
    ----------
    pivot_to_mount_mm : float
        r, swingarm pivot to the shock's lower mount.
    shock_to_arm_deg : float
        psi, between shock and the line from pivot to mount, over 0 to under 180.
    arm_length_mm : float
        La, pivot to wheel axle.
    arm_to_horizontal_deg : float
        beta, between arm and the horizontal, within -60 to 60 (a swingarm never stands steeper).

    Raises
    ------
    SuspensionError
        Lengths or angles that no swingarm has.

    Examples
    --------
    >>> round(swingarm_motion_ratio(400, 70, 500, 0), 4)
    0.7518
    """
    sane = pivot_to_mount_mm > 0 and arm_length_mm > 0 and 0 < shock_to_arm_deg < 180
    if not sane or not abs(arm_to_horizontal_deg) <= 60:
        raise SuspensionError(
            "These lengths and angles are not those of a swingarm.",
            "Give both lengths in mm, the angle between shock and arm (0 to 180 degrees) and the arm's to the "
            "horizontal.",
        )
    along = math.sin(math.radians(shock_to_arm_deg)) / math.cos(math.radians(arm_to_horizontal_deg))
    return pivot_to_mount_mm / arm_length_mm * along
