"""Used stroke and what is left, from the lengths on one shaft.

Position s runs along the sliding member from the seal lip at full extension. With the exposed length E, the
marker's distance from the seal d, its distance to the far end gn, and E at full extension E0: compression c =
E0 - E, and used stroke u = c + d = E0 - gn. The second form needs neither seal nor state. A tie's lock meets
the seal before its strap, so the deepest point the seal reached is d less the overhang; that is carried
throughout.
"""

from __future__ import annotations

from dataclasses import dataclass

from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.derived import DerivedLengths
from suspension.stroke.question import StrokeQuestion
from suspension.stroke.text import remark_words, withheld_words


@dataclass(frozen=True)
class StrokeAnswer:
    """What can be said of one leg; None where it cannot, with the reason among `withheld`.

    Attributes
    ----------
    compression_mm : Quantity or None
        c at the reading.
    marker_position_mm : Quantity or None
        Where the band's seal-side edge stands, from the seal lip at full extension; the used stroke before
        the lock's overhang is taken off.
    used_mm : Quantity or None
        u, the deepest that the seal came.
    used_percent : Quantity or None
        100 u/S.
    reserve_hard_mm : Quantity or None
        S - u.
    reserve_bumper_mm : Quantity or None
        Shocks only: Sb - u.
    hard_stop_mm : Quantity or None
        S, stated or from the bumper.
    shortest_exposed_mm : Quantity or None
        Forks only: Emin = E0 - S.
    withheld : tuple of str
        What is not answered, and why, in words.
    remarks : tuple of str
        What the person should know about the answers given.
    """

    compression_mm: Quantity | None = None
    marker_position_mm: Quantity | None = None
    used_mm: Quantity | None = None
    used_percent: Quantity | None = None
    reserve_hard_mm: Quantity | None = None
    reserve_bumper_mm: Quantity | None = None
    hard_stop_mm: Quantity | None = None
    shortest_exposed_mm: Quantity | None = None
    bound: Bound = Bound.EXACT
    withheld: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def at_least(self) -> bool:
        """Right-censored: the marker reached the far end, so the used stroke is at least this."""
        return self.bound is Bound.AT_LEAST

    @property
    def at_most(self) -> bool:
        """Left-censored: the marker has not moved, so the used stroke is at most this."""
        return self.bound is Bound.AT_MOST


def answer_stroke(question: StrokeQuestion) -> StrokeAnswer:
    """Answer how much stroke was used and what is left.

    Parameters
    ----------
    question : StrokeQuestion

    Returns
    -------
    StrokeAnswer
        Estimates carry the standard uncertainty by first-order propagation with covariance (JCGM 100, 5.2.2).

    Raises
    ------
    StrokeError
        Lengths that contradict each other: used stroke beyond S and its uncertainty, a hanging wheel that is
        compressed, an exposed length over E0, a marker behind the seal or behind where it was reset.
    SuspensionError
        Uncertainties that do not fit together.
    """
    derived = DerivedLengths(question)
    derived.refuse_contradictions()
    bound = derived.bound()
    used = derived.used(bound)
    if used is not None:
        derived.refuse_beyond_stroke(used)
    hard_stop, conflict = derived.hard_stop()
    reserve_hard = None if conflict else derived.reserve_hard(bound)
    return StrokeAnswer(
        compression_mm=derived.compression(),
        marker_position_mm=derived.quantity(derived.position),
        used_mm=derived.quantity(used, bound, extra_sigma=derived.touching_sigma(bound)),
        used_percent=None if conflict else derived.percent(used, hard_stop, bound),
        reserve_hard_mm=reserve_hard,
        reserve_bumper_mm=derived.reserve_bumper(bound),
        hard_stop_mm=None if conflict else derived.quantity(hard_stop),
        shortest_exposed_mm=derived.shortest_exposed(),
        bound=bound if used is not None or bound is Bound.AT_LEAST else Bound.EXACT,
        withheld=withheld_words(question, derived, used, hard_stop, reserve_hard, conflict),
        remarks=remark_words(question, bound),
    )
