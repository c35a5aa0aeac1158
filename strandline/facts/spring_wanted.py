"""The spring that an end would need, the headroom that its rides leave, and what oil would do: as numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from strandline.facts.bike import air
from strandline.facts.ends import EndFacts
from strandline.facts.loads import CaseLoads
from strandline.facts.rides import EndRide
from suspension.errors import SuspensionError
from suspension.sag.windows import WhichSag
from suspension.springs.adjuster import preload_mm
from suspension.springs.headroom import Headroom, headroom
from suspension.springs.oil_level import force_of_oil_n
from suspension.springs.spring_to_buy import SpringWanted, Wanted, spring_to_buy
from suspension.springs.springs import LinearSpring
from suspension.springs.wheel_rate import wheel_force_n
from suspension.stroke.verdict import reference_bumper_mm

# The worst hit is to use the middle of the band "in the window", 0.75 to 1.0 of the stroke to the bumper
# [common practice, no source].
DEPTH_SHARE = 0.875
MORE_OIL_MM = 10.0


@dataclass(frozen=True)
class WorstRide:
    """The hardest ride of a load at an end.

    Attributes
    ----------
    ride : int
        Its number.
    used_mm : float
    preload_mm : float
        At its count.
    load_factor : float
        lam, its hardest hit over the load at rest.
    """

    ride: int
    used_mm: float
    preload_mm: float
    load_factor: float


@dataclass(frozen=True)
class SpringAnswer:
    """What the numbers say.

    Attributes
    ----------
    worst : WorstRide or None
    headroom : Headroom or None
        Of the worst ride.
    spring : SpringWanted or None
    sag_stroke_mm, depth_mm : float or None
        What the spring is for: stroke with the rider aboard, and stroke that the worst hit may use.
    oil : tuple of (float, float)
        Stroke, mm, and what 10 mm more oil adds in one leg there, N.
    missing : tuple of str
        What is not known, each with the command that sets it.
    """

    worst: WorstRide | None
    headroom: Headroom | None
    spring: SpringWanted | None
    sag_stroke_mm: float | None
    depth_mm: float | None
    oil: tuple[tuple[float, float], ...]
    missing: tuple[str, ...]


def spring_answer(facts: EndFacts, load: CaseLoads, rides: Sequence[EndRide]) -> SpringAnswer:
    """Work out worst ride, headroom, spring and oil of one end and load.

    Parameters
    ----------
    facts : EndFacts
    load : CaseLoads
    rides : sequence of EndRide
        Of this load, comparable with today.
    """
    missing = _missing(facts, load)
    worst = None if missing else _worst(facts, load, rides)
    if not missing and worst is None:
        missing = ("No ride of this load has a used stroke and a count: strandline ride add.",)
    bumper = reference_bumper_mm(facts.bumper_met_mm, facts.hard_stop_mm)
    room = spring = sag = depth = None
    if worst is not None:
        room = headroom(worst.used_mm, worst.preload_mm, facts.bumper_met_mm, facts.hard_stop_mm)
        sag = _sag_stroke_mm(facts)
        depth = None if bumper is None else DEPTH_SHARE * bumper
        spring = _spring(facts, load, worst, sag, depth)
    strokes = [one for one in (sag, depth, facts.hard_stop_mm) if one is not None]
    return SpringAnswer(worst, room, spring, sag, depth, _oil(facts, strokes), missing)


def _missing(facts: EndFacts, load: CaseLoads) -> tuple[str, ...]:
    found = []
    edit = "strandline bike edit BIKE --set"
    name = facts.legs[0].name.value if facts.legs else facts.end.value
    if facts.ratio is None:
        found.append(
            f"The motion ratio is not known: {edit} {facts.end.value}.motion_ratio=0.85, or rake of a fork."
        )
    if facts.forces is None and facts.ratio is not None:
        found.append(f"The spring's rate is not known: {edit} leg.{name}.spring.rate='9 N/mm'.")
    if facts.preload_at_soft_mm is None:
        found.append(
            f"The preload at the soft end is not known: {edit} leg.{name}.spring.preload_at_soft='10 mm'."
        )
    if facts.adjuster is None or (facts.adjuster.step_mm is None and not facts.adjuster.positions_mm):
        found.append(f"What a step is worth is not known: {edit} leg.{name}.adjuster.preload.step='1 mm'.")
    if load.sprung_n(facts.bike, facts.end) is None:
        found.append(
            f"The load on the springs is not known: weigh both wheels, strandline loads --scales, and {edit} "
            f"{facts.end.value}.unsprung='20 kg'."
        )
    return tuple(found)


def _worst(facts: EndFacts, load: CaseLoads, rides: Sequence[EndRide]) -> WorstRide | None:
    found = []
    sprung = load.sprung_n(facts.bike, facts.end)
    for one in rides:
        if (
            one.used_mm is None
            or one.up is None
            or facts.adjuster is None
            or facts.forces is None
            or sprung is None
        ):
            continue
        preload = preload_mm(facts.adjuster, one.up, facts.preload_at_soft_mm)
        if preload is None:
            continue
        used = max(0.0, one.used_mm.value)
        try:
            force = wheel_force_n(facts.forces.with_preload(preload), used)
        except SuspensionError:  # a table that ends before
            continue
        found.append(WorstRide(one.ride.number, used, preload, force / sprung.value))
    return max(found, key=lambda one: one.load_factor, default=None)


def _sag_stroke_mm(facts: EndFacts) -> float | None:
    """Stroke in the middle of the rider sag's window."""
    scale = facts.scale(WhichSag.RIDER, facts.bike.use)
    travel = facts.bike.end(facts.end).wheel_travel
    if scale.window is None or facts.ratio is None:
        return None
    if travel is None:
        whole = None if facts.hard_stop_mm is None else facts.ratio.wheel_travel_mm(facts.hard_stop_mm)
    else:
        whole = travel.value
    return (
        None if whole is None else facts.ratio.stroke_mm((scale.window.low + scale.window.high) / 200 * whole)
    )


def _spring(
    facts: EndFacts, load: CaseLoads, worst: WorstRide, sag: float | None, depth: float | None
) -> SpringWanted | None:
    sprung = load.sprung_n(facts.bike, facts.end)
    springs = sum(leg.spring.count for leg in facts.legs if leg.has_spring is not False)
    linear = facts.forces is not None and all(
        leg.spring is None or isinstance(leg.spring, LinearSpring) for leg in facts.forces.legs
    )
    if sag is None or depth is None or sprung is None or facts.ratio is None or not linear:
        return None
    try:
        # At the spring, whose force is W/MR: a ratio that changes between sag and depth changes the hit, too.
        at_sag, at_depth = facts.ratio.at(sag), facts.ratio.at(depth)
        wanted = Wanted(worst.load_factor * at_sag / at_depth, sprung.value, sag, depth)
        return spring_to_buy(wanted, springs, at_sag)
    except SuspensionError:
        return None


def _oil(facts: EndFacts, strokes: Sequence[float]) -> tuple[tuple[float, float], ...]:
    chamber = air(facts.legs[0]) if facts.legs else None
    if chamber is None:
        return ()
    try:
        return tuple((stroke, force_of_oil_n(chamber, MORE_OIL_MM, stroke)) for stroke in strokes)
    except SuspensionError:  # no air would be left: the volume in the file is wrong
        return ()


def springs_now(facts: EndFacts) -> str:
    """Give the rate of the springs as they are, for a sentence; "" where it is not known."""
    rate = next((leg.spring.rate for leg in facts.legs if leg.spring.rate is not None), None)
    return "" if rate is None else f" (now {rate.value:g} N/mm)"


def spring_words(facts: EndFacts, load: CaseLoads, rides: Sequence[EndRide]) -> str | None:
    """Say which spring would do where preload has come to its end; None where it cannot be worked out.

    Parameters
    ----------
    facts : EndFacts
    load : CaseLoads
    rides : sequence of EndRide
        Of this load, comparable with today, whose readings count.
    """
    answer = spring_answer(facts, load, rides)
    if answer.spring is None:
        return None
    words = f"What would do: {answer.spring.words}{springs_now(facts)}; or less load."
    if answer.oil:
        stroke, force = answer.oil[-1]
        words += f" Or {MORE_OIL_MM:.0f} mm more oil in each leg: {force:.0f} N more at {stroke:.0f} mm, little before."
    return words
