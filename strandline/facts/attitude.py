"""How the bike stands by the sag of both ends, and what a step of preload at one end does to it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from ridelog.bikes.bike import Bike
from ridelog.names import End
from strandline.facts.ends import EndFacts, end_facts
from strandline.facts.sag import PlaceSag, of_end
from suspension.sag.attitude import Steering, pitch_deg, pitch_words
from suspension.sag.travel import Coordinate
from suspension.sag.windows import WhichSag


def steering(bike: Bike) -> Steering | None:
    """Give the steering geometry, where rake, wheel radius and fork offset are known."""
    front = bike.front
    if front.rake is None or front.wheel_radius is None or front.fork_offset is None:
        return None
    return Steering(front.rake.value, front.wheel_radius.value, front.fork_offset.value)


def attitude_lines(
    bike: Bike, sags: Sequence[PlaceSag], before: Sequence[PlaceSag] = (), ends: Collection[End] = tuple(End)
) -> Iterator[str]:
    """Say how the bike stands with its rider aboard, since when it stands otherwise, and what a step would do.

    Parameters
    ----------
    bike : Bike
    sags : sequence of PlaceSag
        Of one session.
    before : sequence of PlaceSag
        Of the session before it, with the same load.
    ends : collection of End
        At which a step is spoken of.
    """
    if bike.wheelbase is None:
        return
    length = bike.wheelbase.value
    now = {end: _rider_mm(sags, end) for end in End}
    front, rear = now[End.FRONT], now[End.REAR]
    if front is not None and rear is not None:
        pitch = pitch_deg(front, -rear, length)
        degrees = f"{abs(pitch):.1f}"
        way = "nose down" if pitch > 0 else "nose up"
        stands = "as level as" if degrees == "0.0" else f"{degrees} degrees {way}, compared"
        yield f"With the rider aboard the bike stands {stands} with both wheels hanging free."
        then = {end: _rider_mm(before, end) for end in End}
        if None not in then.values():
            change = pitch_deg(front - (then[End.FRONT] or 0.0), (then[End.REAR] or 0.0) - rear, length)
            yield f"Since sag was last measured: {pitch_words(change, steering(bike))}"
    for end in End:
        if end in ends and now[end] is not None:
            yield from step_lines(bike, end_facts(bike, end), now[end] or 0.0)


def step_lines(bike: Bike, facts: EndFacts, sag_mm: float) -> Iterator[str]:
    """Say what one step more of preload does: in the linear zone a mm of preload is a mm of stroke.

    Parameters
    ----------
    bike : Bike
    facts : EndFacts
    sag_mm : float
        At the wheel with the rider aboard, about where the motion ratio is taken.
    """
    adjuster = facts.adjuster
    if adjuster is None or facts.ratio is None or bike.wheelbase is None or adjuster.step_mm is None:
        return
    rise = adjuster.step_mm / facts.ratio.at(facts.ratio.stroke_mm(sag_mm))
    front, rear = (-rise, 0.0) if facts.end is End.FRONT else (0.0, rise)
    pitch = pitch_deg(front, rear, bike.wheelbase.value)
    yield (
        f"One {adjuster.kind.one} more preload at the {facts.end.value} lifts it by {rise:.1f} mm. "
        f"{pitch_words(pitch, steering(bike))}"
    )


def _rider_mm(sags: Sequence[PlaceSag], end: End) -> float | None:
    """Give rider sag at the wheel, mm."""
    found = of_end(tuple(sags), end)
    rider = None if found is None else found.sag(WhichSag.RIDER)
    if rider is None or rider.length.coordinate is not Coordinate.WHEEL:
        return None
    return rider.length.mm.value
