"""Values of a bike's file that are unusual for what it describes: a slip of the pen, or a unit."""

from __future__ import annotations

from collections.abc import Iterator

from ridelog.bikes.bike import Adjuster, Bike, BikeLeg
from ridelog.names import AdjusterKind, End, Use
from strandline.facts.bike import motion_ratio
from strandline.facts.ends import PRELOAD
from suspension.errors import SuspensionError
from suspension.quantities.declared import Amount
from suspension.quantities.plausibility import Figure, warn_of, warn_of_crushed
from suspension.stroke.marker import MarkerKind


def unusual_values(bike: Bike, end: End | None = None) -> tuple[str, ...]:
    """List what is unusual, each with the key of the file that it stands under.

    Parameters
    ----------
    bike : Bike
    end : End, optional
        Only this end.
    """
    found: dict[str, str] = {}  # both sides are usually the same, and say it once
    for one in End if end is None else (end,):
        for key, words in (*_of_end(bike, one), *_of_legs(bike, one)):
            found.setdefault(words, key)
    return tuple(f"{key}: {words}" for words, key in found.items())


def _of_end(bike: Bike, end: End) -> Iterator[tuple[str, str]]:
    legs = [leg for leg in bike.legs if leg.name.end is end]
    yield from _warn(f"{end.value}.unsprung", Figure.UNSPRUNG_KG, bike.end(end).unsprung)
    if not legs or not legs[0].layout.has_visible_bumper:
        return
    try:
        ratio = motion_ratio(bike, end)
    except SuspensionError:
        return
    if ratio is None:
        return
    figure = Figure.TWIN_SHOCK_RATIO if len(legs) > 1 else Figure.LINKAGE_RATIO
    for value in dict.fromkeys(ratio.ratios):
        words = warn_of(figure, value)
        if words is not None:
            yield f"{end.value}.motion_ratio", words
            return


def _of_legs(bike: Bike, end: End) -> Iterator[tuple[str, str]]:
    legs = [leg for leg in bike.legs if leg.name.end is end]
    for leg in legs:
        key = f"leg.{leg.name.value}"
        stroke, shaft, rate = _figures(leg, len(legs), bike.use)
        yield from _warn(f"{key}.stroke", stroke, leg.stroke)
        yield from _warn(f"{key}.shaft", shaft, leg.shaft)
        yield from _warn(f"{key}.spring.rate", rate, leg.spring.rate)
        yield from _warn(f"{key}.bumper_free", Figure.BUMPER_MM, leg.bumper_free)
        width = Figure.O_RING_MM if leg.marker_kind is MarkerKind.O_RING else Figure.TIE_WIDTH_MM
        yield from _warn(f"{key}.marker.width", width, leg.marker_width)
        if leg.bumper_free is not None and leg.bumper_crushed is not None:
            words = warn_of_crushed(leg.bumper_free.value, leg.bumper_crushed.value)
            if words is not None:
                yield f"{key}.bumper_crushed", words
        for one in leg.adjusters:
            if one.name == PRELOAD:
                yield from _of_adjuster(f"{key}.adjuster.{PRELOAD}", one)


def _figures(leg: BikeLeg, legs: int, use: Use | None) -> tuple[Figure, Figure, Figure]:
    """Choose which figures of the trade hold for a leg's stroke, shaft and spring."""
    if not leg.layout.has_visible_bumper:
        stroke = Figure.OFF_ROAD_FORK_STROKE_MM if use is Use.OFF_ROAD else Figure.FORK_STROKE_MM
        return stroke, Figure.FORK_TUBE_MM, Figure.FORK_SPRING_RATE
    if legs > 1:
        return Figure.TWIN_SHOCK_STROKE_MM, Figure.SHOCK_SHAFT_MM, Figure.TWIN_SPRING_RATE
    return Figure.LINKAGE_SHOCK_STROKE_MM, Figure.SHOCK_SHAFT_MM, Figure.LINKAGE_SPRING_RATE


def _of_adjuster(key: str, one: Adjuster) -> Iterator[tuple[str, str]]:
    if one.kind is AdjusterKind.POSITIONS:
        for soft, hard in zip(one.positions, one.positions[1:], strict=False):
            words = warn_of(Figure.RAMP_POSITION_MM, round(hard.value - soft.value, 3))
            if words is not None:
                yield f"{key}.positions", words
                return
        return
    turns = one.kind is AdjusterKind.TURNS
    yield from _warn(f"{key}.step", Figure.PRELOAD_TURN_MM if turns else Figure.PRELOAD_CLICK_MM, one.step)
    if one.step is not None and one.steps is not None:
        words = warn_of(Figure.ADJUSTER_RANGE_MM, round(one.step.value * one.steps, 3))
        if words is not None:
            yield f"{key}.steps", words


def _warn(key: str, figure: Figure, amount: Amount | None) -> Iterator[tuple[str, str]]:
    words = None if amount is None else warn_of(figure, round(amount.value, 3))
    if words is not None:
        yield key, words
