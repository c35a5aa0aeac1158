"""A motorcycle as its owner describes it; what is not known is None and costs only the answers that need it."""

from __future__ import annotations

from dataclasses import dataclass, field

from ridelog.errors import AmountError, RecordError
from ridelog.names import AdjusterKind, CountedFrom, End, LegName, Use
from suspension.quantities.declared import Amount
from suspension.quantities.quantity import Quantity
from suspension.springs.adjuster import Adjuster as PlainAdjuster
from suspension.springs.adjuster import Count
from suspension.springs.motion_ratio import MotionRatio
from suspension.stroke.leg import Layout, Leg
from suspension.stroke.marker import LockFacing, Marker, MarkerKind


@dataclass(frozen=True)
class Adjuster:
    """One adjuster of a leg.

    Attributes
    ----------
    name : str
        "preload", "compression", "rebound", or another word of the owner's.
    kind : AdjusterKind
    counted_from : CountedFrom
        Soft for preload; damping normally from fully closed, which is hard.
    steps : float or None
        Steps from one end to the other; for ramp positions their number.
    step : Amount or None
        Preload for each click or turn, mm.
    positions : tuple of Amount
        Preload at each ramp position from the softest, mm, where it was measured; else empty.
    standard : float or None
        The maker's count.
    """

    name: str
    kind: AdjusterKind
    counted_from: CountedFrom
    steps: float | None = None
    step: Amount | None = None
    positions: tuple[Amount, ...] = ()
    standard: float | None = None

    @property
    def range(self) -> tuple[float, float | None]:
        """Lowest and highest count; the highest is None where the range is not known."""
        first = float(self.kind.first)
        if self.steps is not None:
            return first, self.steps
        return first, float(len(self.positions)) if self.positions else None

    def check(self, count: float) -> None:
        """Refuse a count that this adjuster does not have.

        Raises
        ------
        AmountError
        """
        low, high = self.range
        if self.kind is not AdjusterKind.TURNS and count != int(count):
            raise AmountError(f"{self.kind.value.capitalize()} are whole: {count:g} is none.", "Count again.")
        if count < low or (high is not None and count > high):
            ends = f"from {low:g} up" if high is None else f"{low:g} to {high:g}"
            raise AmountError(
                f"The {self.name} has {self.kind.value} {ends}, counted from the {self.counted_from.value} "
                f"end; {count:g} is outside.",
                "Count again from that end, and do not wind past the last step: it can come off its thread.",
            )

    @property
    def plain(self) -> PlainAdjuster:
        """The adjuster for the arithmetic, in counts up from its soft end."""
        return PlainAdjuster(
            self.kind,
            self.steps,
            None if self.step is None else self.step.value,
            tuple(one.value for one in self.positions),
        )

    def added_mm(self, count: float) -> float | None:
        """Preload that this count adds to that at the soft end, mm; None where the mm per step are not known.

        Raises
        ------
        AmountError
            A count that this adjuster does not have.
        """
        self.check(count)
        up = self.plain.from_soft(Count(count, self.counted_from))
        return None if up is None else self.plain.added_mm(up)


@dataclass(frozen=True)
class Spring:
    """A leg's spring or springs.

    Attributes
    ----------
    rate : Amount or None
        Of each, N/mm.
    count : int
        How many work side by side in this leg.
    table : tuple of (Amount, Amount)
        A progressive spring: compression, mm, and force, N, both rising; else empty.
    wire, mean_diameter : Amount or None
        From which the rate follows, mm.
    active_coils : float or None
    shear_modulus : Amount or None
        Of the wire, N/mm²; from the maker, for none is assumed.
    preload_at_soft : Amount or None
        How far the spring is compressed with the adjuster at its soft end and the wheel hanging, mm.
    """

    rate: Amount | None = None
    count: int = 1
    table: tuple[tuple[Amount, Amount], ...] = ()
    wire: Amount | None = None
    mean_diameter: Amount | None = None
    active_coils: float | None = None
    shear_modulus: Amount | None = None
    preload_at_soft: Amount | None = None


@dataclass(frozen=True)
class Air:
    """The air in a leg at full extension; absolute pressure, kPa."""

    piston_diameter: Amount | None = None
    volume: Amount | None = None
    pressure_absolute: Amount | None = None


@dataclass(frozen=True)
class BikeLeg:
    """One leg."""

    name: LegName
    layout: Layout
    shaft: Amount | None = None
    extended: Amount | None = None
    stroke: Amount | None = None
    bumper_contact: Amount | None = None
    bumper_free: Amount | None = None
    bumper_crushed: Amount | None = None
    has_spring: bool | None = None
    has_damper: bool | None = None
    marker_kind: MarkerKind = MarkerKind.UNKNOWN
    marker_width: Amount | None = None
    marker_color: str | None = None
    marker_lock: LockFacing = LockFacing.UNKNOWN
    spring: Spring = field(default_factory=Spring)
    air: Air = field(default_factory=Air)
    adjusters: tuple[Adjuster, ...] = ()

    @property
    def leg(self) -> Leg:
        """What the arithmetic of strokes takes; a bumper counts only where both its lengths are known."""
        both = self.bumper_free is not None and self.bumper_crushed is not None
        return Leg(
            self.layout,
            _length(self.extended),
            _length(self.stroke),
            _length(self.bumper_free) if both else None,
            _length(self.bumper_crushed) if both else None,
        )

    @property
    def marker(self) -> Marker:
        """The marker for the arithmetic."""
        return Marker(self.marker_kind, _length(self.marker_width), self.marker_lock)

    @property
    def bumper_stroke_mm(self) -> Quantity | None:
        """Sb, mm: as given, else of a shock with a visible bumper its extended length."""
        if self.bumper_contact is not None:
            return self.bumper_contact.mm
        return _length(self.extended) if self.layout.has_visible_bumper else None

    def adjuster(self, name: str) -> Adjuster:
        """Find an adjuster by its name.

        Raises
        ------
        RecordError
            There is none of this name.
        """
        for one in self.adjusters:
            if one.name == name:
                return one
        known = ", ".join(one.name for one in self.adjusters) or "none"
        raise RecordError(
            f"The leg {self.name.value} has no adjuster {name} in the bike's file ({known}).",
            f"Add [leg.{self.name.value}.adjuster.{name}] to it with its kind, or name another.",
        )


@dataclass(frozen=True)
class BikeEnd:
    """What both legs of an end share.

    Attributes
    ----------
    wheel_travel : Amount or None
        Vertical travel of the axle, mm.
    rake : Amount or None
        A fork's, from the vertical, degrees.
    wheel_radius, fork_offset : Amount or None
        Front axle to the ground; steering axis forward to the axle, mm. With the rake they give the trail.
    motion_ratio : MotionRatio or None
        Stroke over vertical wheel travel.
    unsprung : Amount or None
        Mass that moves with the wheel, kg.
    wheel_load : Amount or None
        The unladen bike's mass on this wheel, by scales, kg.
    limit : Amount or None
        What the plate permits on this axle, kg.
    tyre_solo, tyre_loaded : Amount or None
        Cold pressures (gauge) by the placard, kPa.
    """

    wheel_travel: Amount | None = None
    rake: Amount | None = None
    wheel_radius: Amount | None = None
    fork_offset: Amount | None = None
    motion_ratio: MotionRatio | None = None
    unsprung: Amount | None = None
    wheel_load: Amount | None = None
    limit: Amount | None = None
    tyre_solo: Amount | None = None
    tyre_loaded: Amount | None = None


@dataclass(frozen=True)
class Bike:
    """A motorcycle.

    Attributes
    ----------
    name : str
    use : Use or None
    wheelbase : Amount or None
        mm.
    mass : Amount or None
        Ready to ride without rider, kg.
    total_limit : Amount or None
        What the plate permits in all, kg.
    front, rear : BikeEnd
    legs : tuple of BikeLeg
    note : str or None
    """

    name: str
    legs: tuple[BikeLeg, ...]
    use: Use | None = None
    wheelbase: Amount | None = None
    mass: Amount | None = None
    total_limit: Amount | None = None
    front: BikeEnd = field(default_factory=BikeEnd)
    rear: BikeEnd = field(default_factory=BikeEnd)
    note: str | None = None

    def end(self, end: End) -> BikeEnd:
        """Find what the legs of one end share."""
        return self.front if end is End.FRONT else self.rear

    def leg(self, name: LegName | str) -> BikeLeg:
        """Find a leg by its name.

        Raises
        ------
        RecordError
            The bike has none of this name.
        """
        for one in self.legs:
            if one.name.value == str(name):
                return one
        known = ", ".join(one.name.value for one in self.legs)
        one_end = len({one.name.end for one in self.legs}) == 1
        more = " The other end is described with strandline bike more." if one_end else ""
        raise RecordError(f"{self.name} has no leg {name}.", f"Its legs are {known}.{more}")

    def legs_of(self, name: str) -> tuple[BikeLeg, ...]:
        """Find the leg of this name, or both legs of the end of this name: "front" for front-left and front-right.

        Raises
        ------
        RecordError
            The bike has neither.
        """
        exact = tuple(one for one in self.legs if one.name.value == name)
        if exact:
            return exact
        of_end = tuple(one for one in self.legs if one.name.end.value == name)
        return of_end or (self.leg(name),)


def _length(amount: Amount | None) -> Quantity | None:
    return None if amount is None else amount.mm
