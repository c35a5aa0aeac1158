"""The two legs whose figures the trade's arithmetic gives, as questions that tests can vary."""

from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import Layout, Leg, State
from suspension.stroke.marker import LockFacing, Marker, MarkerKind
from suspension.stroke.question import StrokeQuestion
from suspension.stroke.shaft_lengths import ShaftLengths
from suspension.stroke.stroke import StrokeAnswer, answer_stroke

FORKS = (Layout.FORK, Layout.UPSIDE_DOWN_FORK)
LOADED = (State.ON_WHEELS, State.RIDER_ABOARD)


def length(value: float | None, sd: float = 0.1) -> Quantity | None:
    return None if value is None else Quantity(value, sd)


def ask(
    layout: Layout = Layout.FORK,
    state: State = State.UNKNOWN,
    *,
    e0: float | None = None,
    e: float | None = None,
    d: float | None = None,
    gn: float | None = None,
    s: float | None = None,
    b: float | None = None,
    bs: float | None = None,
    w: float | None = None,
    kind: MarkerKind = MarkerKind.O_RING,
    lock: LockFacing = LockFacing.UNKNOWN,
    sd: float = 0.1,
    **more: object,
) -> StrokeAnswer:
    """Ask with the trade's symbols, mm; an O-ring unless said, so that there is no overhang."""
    return answer_stroke(
        StrokeQuestion(
            lengths=ShaftLengths(length(e, sd), length(d, sd), length(gn, sd)),
            leg=Leg(layout, length(e0, sd), length(s, sd), length(b, sd), length(bs, sd)),
            marker=Marker(kind, length(w, sd), lock),
            state=state,
            **more,  # type: ignore[arg-type]
        )
    )


def value(estimate: Quantity | None) -> float:
    assert estimate is not None
    return estimate.value
