"""From a session of sag lengths to the sags of each end and leg."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.bikes.bike import Bike
from ridelog.errors import LogbookError, RecordError
from ridelog.names import End, LegName
from ridelog.storage.records import Approach, SagLength, SagMeasurement, SagSession
from ridelog.storage.store import Logbook
from strandline.facts.bike import count as count_of
from strandline.facts.ends import PRELOAD, EndFacts, end_facts
from strandline.facts.rides import BikeLog, EndRide
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity
from suspension.sag.sag import (
    Sag,
    SagScale,
    TwoApproaches,
    refuse_less_with_rider,
    sag_from_exposed,
    sag_from_lengths,
    sag_hint,
)
from suspension.sag.windows import Use, WhichSag, Window
from suspension.stroke.leg import State

STATE_OF = {WhichSag.STATIC: State.ON_WHEELS, WhichSag.RIDER: State.RIDER_ABOARD}


@dataclass(frozen=True)
class PlaceSag:
    """The sags of one place: an end by axle-to-tail lengths, or a leg by exposed lengths.

    Attributes
    ----------
    place : LegName
    what : SagLength
    sags : tuple of Sag
        Static, rider, as far as measured.
    windows : tuple of Window or None
        Of each.
    hint : str or None
        What both together say of the spring.
    """

    place: LegName
    what: SagLength
    sags: tuple[Sag, ...]
    windows: tuple[Window | None, ...]
    hint: str | None

    def sag(self, which: WhichSag) -> Sag | None:
        """Find the static or the rider sag."""
        return next((one for one in self.sags if one.which is which), None)


def place_sags(session: SagSession, bike: Bike, use: Use | None) -> tuple[PlaceSag, ...]:
    """Work out a session, place by place.

    Raises
    ------
    RecordError
        No length with the wheel hanging, or none under a load.
    SuspensionError
        A bike that stands higher loaded than hanging.
    """
    places = dict.fromkeys((one.place, one.what) for one in session.measurements)
    return tuple(_place(place, what, session, bike, use) for place, what in places)


def _place(place: LegName, what: SagLength, session: SagSession, bike: Bike, use: Use | None) -> PlaceSag:
    lengths = [one for one in session.measurements if (one.place, one.what) == (place, what)]
    facts = end_facts(bike, place.end)
    hanging = _hanging(place, what, lengths, bike)
    sags, scales = [], []
    for which, state in STATE_OF.items():
        loaded = _approaches([one for one in lengths if one.state is state])
        if loaded is None:
            continue
        scale = _scale(facts, which, use, what, hanging, loaded)
        work_out = sag_from_lengths if what is SagLength.AXLE_TO_TAIL else sag_from_exposed
        try:
            sags.append(work_out(which, hanging, loaded, scale))
        except SuspensionError as error:
            raise SuspensionError(
                f"{place.value}, {which.value} sag: {error.message}", error.remedy
            ) from error
        scales.append(scale)
    if not sags:
        raise RecordError(
            f"{place.value}: there is no length with the bike on its wheels or the rider aboard.",
            "Add on-wheels, rider-aboard, or both, but do not measure on the side stand.",
        )
    hint = None
    if len(sags) == 2:
        try:
            refuse_less_with_rider(*sags)
        except SuspensionError as error:
            raise SuspensionError(f"{place.value} sag: {error.message}", error.remedy) from error
        hint = sag_hint(sags[0], scales[0], sags[1])
    return PlaceSag(place, what, tuple(sags), tuple(one.window for one in scales), hint)


def _hanging(place: LegName, what: SagLength, lengths: list[SagMeasurement], bike: Bike) -> Quantity:
    """Find the length with the wheel hanging: measured, else a leg's extended length in the bike's file."""
    found = _approaches([one for one in lengths if one.state is State.HANGING])
    if found is not None:
        return found.mean_mm
    if what is SagLength.EXPOSED:
        extended = bike.leg(place).extended
        if extended is not None:
            return extended.mm
    raise RecordError(
        f"{place.value}: the length with the wheel hanging free is not known.",
        "Add it as hanging, or for a leg set extended in the bike's file.",
    )


def _approaches(lengths: list[SagMeasurement]) -> TwoApproaches | None:
    """Pair the length after rising with the one after settling; one alone stands for both."""
    if not lengths:
        return None
    above = next((one.length_mm for one in lengths if one.approach is Approach.FROM_ABOVE), None)
    below = next((one.length_mm for one in lengths if one.approach is not Approach.FROM_ABOVE), None)
    if below is None:
        assert above is not None
        return TwoApproaches(above)
    return TwoApproaches(below, above)


def _scale(
    facts: EndFacts,
    which: WhichSag,
    use: Use | None,
    what: SagLength,
    hanging: Quantity,
    loaded: TwoApproaches,
) -> SagScale:
    sag = hanging.value - loaded.mean_mm.value
    stroke = None
    if what is SagLength.EXPOSED:
        stroke = sag
    elif facts.ratio is not None and sag >= 0:
        stroke = facts.ratio.stroke_mm(sag)
    return facts.scale(which, use, stroke)


def of_end(sags: tuple[PlaceSag, ...], end: End) -> PlaceSag | None:
    """Choose the place that stands for an end: axle to tail, else the leg with the deepest rider sag."""

    def weight(one: PlaceSag) -> tuple[bool, float]:
        rider = one.sag(WhichSag.RIDER)
        return one.what is SagLength.AXLE_TO_TAIL, -1.0 if rider is None else rider.length.mm.value

    return max((one for one in sags if one.place.end is end), key=weight, default=None)


def sag_sessions(logbook: Logbook, log: BikeLog) -> tuple[tuple[SagSession, str | None], ...]:
    """All sessions of a bike by date, each with the name of its load case."""
    known = logbook.bikes.find(log.bike.name)
    if known is None:
        return ()
    names = logbook.loads.names(known.id)
    return tuple((one, names.get(one.load_case_id or "")) for one in logbook.sag.current(known.id))


def sag_at(
    sessions: tuple[tuple[SagSession, str | None], ...],
    log: BikeLog,
    load: str,
    end: End,
    rides: tuple[EndRide, ...],
) -> tuple[PlaceSag | None, float | None, tuple[str, ...]]:
    """Find the latest rider sag of a load at an end, the count that it was measured at, and remarks on it.

    The count is the one kept with the session, else that of the rides about that day; None where none has one.
    """
    for session, name in reversed(sessions):
        if name not in (None, load):
            continue
        try:
            found = of_end(place_sags(session, log.bike, log.bike.use), end)
        except (LogbookError, SuspensionError) as error:
            return None, None, (error.message,)
        if found is None or found.sag(WhichSag.RIDER) is None:
            continue
        return found, _count_of(session, log.bike, end, rides), ()
    return None, None, ()


def _count_of(session: SagSession, bike: Bike, end: End, rides: tuple[EndRide, ...]) -> float | None:
    kept = [one for one in session.settings if one.leg.end is end and one.adjuster == PRELOAD]
    adjuster = end_facts(bike, end).adjuster
    if not kept or adjuster is None:
        return _count_then(session, rides)
    counts = {count_of(one) for one in kept if one.kind is adjuster.kind}
    if len(counts) != 1 or not (only := counts.pop()).is_sure:
        return None  # the sides differ, or nobody is sure
    try:
        up = adjuster.from_soft(only)
        if up is not None:
            adjuster.check(up)
    except SuspensionError:
        return None  # the file describes another adjuster now
    return up


def _count_then(session: SagSession, rides: tuple[EndRide, ...]) -> float | None:
    before = [one for one in rides if one.ride.entry.date <= session.date and one.up is not None]
    after = [one for one in rides if one.ride.entry.date > session.date and one.up is not None]
    # Before a day's first ride nothing else is known than what it was ridden at.
    then = before[-1] if before else after[0] if after else None
    return None if then is None else then.up
