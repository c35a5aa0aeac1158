"""Why a part of the stroke's answer is withheld, and what to know about the rest, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.derived import DerivedLengths
from suspension.stroke.leg import State
from suspension.stroke.question import StrokeQuestion

if TYPE_CHECKING:
    from uncertainties import UFloat


def withheld_words(
    question: StrokeQuestion,
    derived: DerivedLengths,
    used: UFloat | None,
    stop: UFloat | None,
    reserve_hard: Quantity | None,
    conflict: str | None,
) -> tuple[str, ...]:
    """Name each answer that is missing and what it would take."""
    found = []
    used_known, stop_known = used is not None, stop is not None
    if not used_known:
        found.append(_why_not_used(question, derived))
    if question.state is not State.HANGING and derived.compression() is None and used_known:
        found.append("Compression: seal to far end was not read.")
    if conflict is not None:
        found.append(
            f"Reserve to the hard stop and percent: {conflict}; measure the hanging length, look the stroke up again."
        )
        return tuple(found)
    shock = question.leg.layout.has_visible_bumper
    if reserve_hard is None and not stop_known:
        need = "the stroke, or the bumper's length free and crushed," if shock else "the stroke"
        found.append(f"Reserve to the hard stop: {need} is not known.")
    elif reserve_hard is None and not used_known:
        found.append("Reserve to the hard stop: it needs the used stroke.")
    if not stop_known or not used_known:
        found.append(f"Percent of stroke: {'the used stroke' if stop_known else 'the stroke'} is not known.")
    if shock and derived.reserve_bumper(derived.bound()) is None:
        found.append("Reserve to the bumper: the marker's distance to the bumper was not read.")
    return tuple(found)


def _why_not_used(question: StrokeQuestion, derived: DerivedLengths) -> str:
    left = " What is left to the far end still holds." if derived.remaining is not None else ""
    if derived.remaining is None and derived.marker is None:
        return "Used stroke: the marker's place was not read."
    if question.state is State.HANGING:
        return f"Used stroke: the marker's distance from the seal and the hanging length are not known.{left}"
    if derived.extended is not None:
        return "Used stroke: it needs the marker's distance to the far end, which was not read."
    if question.state is State.UNKNOWN:
        return (
            "Used stroke: neither the bike's state nor the hanging length is given. The marker's "
            "distance from the seal is the used stroke only where the wheel hangs free, so it is not "
            f"used as such.{left}"
        )
    return f"Used stroke: the bike was on its wheels, and the hanging length is not known.{left}"


def remark_words(question: StrokeQuestion, bound: Bound) -> tuple[str, ...]:
    """Say what the person should know about the answers given."""
    layout = question.leg.layout
    found = list(question.marker.remarks)
    if bound is Bound.AT_LEAST:
        text = (
            f"The marker is at the {layout.far_end}: at least this much stroke was used, and bottoming "
            "cannot be excluded."
        )
        if not layout.has_visible_bumper:
            text += f" Or the marker slipped: {layout.slip}."
        found.append(text)
    elif bound is Bound.AT_MOST:
        found.append(
            "The marker has not been moved from where the seal stood: at most this much stroke was used "
            "since it was set."
        )
    if not layout.has_visible_bumper and question.leg.stroke_mm is not None:
        found.append(
            "A hydraulic stop or bumper inside the fork is not seen; what is left is counted to the hard "
            "stop."
        )
    return tuple(found)
