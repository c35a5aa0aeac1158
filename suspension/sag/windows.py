"""What sag should be, by use, and what a sag outside its window means. All windows: [common practice, no source]."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity


class Use(StrEnum):
    """What the bike is for; `STREET` is touring too."""

    STREET = "street"
    SPORT = "sport"
    OFF_ROAD = "off-road"


class End(StrEnum):
    """Front or rear."""

    FRONT = "front"
    REAR = "rear"


class WhichSag(StrEnum):
    """Unladen on its wheels, or with the rider aboard."""

    STATIC = "static"
    RIDER = "rider"


class Judgement(StrEnum):
    """A sag compared with its window, uncertainty included."""

    UNDER = "under its window"
    INSIDE = "in its window"
    OVER = "over its window"
    BETWEEN = "at an edge of its window"
    UNKNOWN = "not judged"


@dataclass(frozen=True)
class Window:
    """Sag from `low` to `high`, percent of wheel travel.

    Raises
    ------
    SuspensionError
        Limits that are not 0 <= low < high <= 100.
    """

    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0 <= self.low < self.high <= 100:
            raise SuspensionError(
                f"A sag window from {self.low:g} to {self.high:g} percent is not a window.",
                "Give the lower one first.",
            )


# Percent of wheel travel [common practice, no source]; an owner may put others in their place.
USUAL_WINDOWS: Mapping[tuple[Use, End, WhichSag], Window] = {
    (Use.STREET, End.FRONT, WhichSag.STATIC): Window(15, 22),
    (Use.STREET, End.FRONT, WhichSag.RIDER): Window(25, 35),
    (Use.STREET, End.REAR, WhichSag.STATIC): Window(5, 12),
    (Use.STREET, End.REAR, WhichSag.RIDER): Window(25, 35),
    (Use.SPORT, End.FRONT, WhichSag.STATIC): Window(12, 20),
    (Use.SPORT, End.FRONT, WhichSag.RIDER): Window(20, 30),
    (Use.SPORT, End.REAR, WhichSag.STATIC): Window(4, 10),
    (Use.SPORT, End.REAR, WhichSag.RIDER): Window(20, 30),
    (Use.OFF_ROAD, End.FRONT, WhichSag.STATIC): Window(8, 15),
    (Use.OFF_ROAD, End.FRONT, WhichSag.RIDER): Window(20, 27),
    (Use.OFF_ROAD, End.REAR, WhichSag.STATIC): Window(8, 14),
    (Use.OFF_ROAD, End.REAR, WhichSag.RIDER): Window(30, 35),
}

# A static sag under this share of the window's lower edge counts as near zero: half of it [common practice, no
# source]; the trade says "near zero" and gives no number.
_NEAR_ZERO_SHARE = 0.5


def sag_window(
    use: Use | None,
    end: End,
    which: WhichSag,
    windows: Mapping[tuple[Use, End, WhichSag], Window] | None = None,
) -> Window | None:
    """Give the window for a use, end and sag; None where the use is not known.

    Parameters
    ----------
    windows : mapping, optional
        The owner's own windows; where one is missing, the usual one applies.
    """
    if use is None:
        return None
    return {**USUAL_WINDOWS, **(windows or {})}[use, end, which]


def judge_sag(percent: Quantity, window: Window) -> Judgement:
    """Judge a sag on its interval, percent +- U (k = 2): an interval over an edge is at that edge."""
    low, high = percent.value - percent.u95, percent.value + percent.u95
    if high < window.low:
        return Judgement.UNDER
    if low > window.high:
        return Judgement.OVER
    return Judgement.INSIDE if window.low <= low and high <= window.high else Judgement.BETWEEN


def spring_hint(
    static_percent: Quantity | None, static_window: Window | None, rider: Judgement
) -> str | None:
    """Say what static sag means for the spring where rider sag is right; else None [common practice, no source].

    Near zero: the spring is too soft and needed much preload for the load. Over its window: too stiff.
    """
    if rider is not Judgement.INSIDE or static_percent is None or static_window is None:
        return None
    judged = judge_sag(static_percent, static_window)
    if judged is Judgement.UNDER and static_percent.value <= _NEAR_ZERO_SHARE * static_window.low:
        return (
            "Rider sag is right but static sag is almost zero: the spring is too soft for the load, and "
            "preload makes up for it."
        )
    if judged is Judgement.OVER:
        return "Rider sag is right but static sag is large: the spring is too stiff for the load."
    return None
