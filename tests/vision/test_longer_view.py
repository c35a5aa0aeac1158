"""Which of two readings of one photo is believed: that in the usual view along the shaft, or that in a longer one."""

from __future__ import annotations

from typing import Any, cast

import numpy as np
import pytest

from calibration.find_card import CardSighting
from vision import read as reading_module
from vision.names import LengthName, RimName
from vision.read import Trace, _read_either_way
from vision.reading import Length, Note, Reading, Rim, Status
from vision.reasons import Reason
from vision.request import Request
from vision.rims.choose import Choice
from vision.shaft.find import ShaftGuess
from vision.shaft_view import ShaftView

HIDDEN = (Note(Reason.FAR_END_HIDDEN, LengthName.EXPOSED),)
LENGTH = Length(100.0, 1.0)


def rims(count: int) -> tuple[Rim, ...]:
    return tuple(cast(Rim, name) for name in list(RimName)[:count])


NOTHING = Reading(Status.REFUSED, notes=HIDDEN)
MARKER_ONLY = Reading(Status.PARTIAL, notes=HIDDEN, marker=LENGTH, rims=rims(2))
WHOLE = Reading(Status.READ, exposed=LENGTH, marker=LENGTH, remaining=LENGTH, rims=rims(3))
EXPOSED_ONLY = Reading(Status.PARTIAL, exposed=LENGTH, rims=rims(2))
BOTH_ENDS_VAGUELY = Reading(Status.REFUSED, notes=(Note(Reason.UNCERTAIN, LengthName.EXPOSED),), rims=rims(2))


@pytest.mark.parametrize(
    "usual, longer, believed",
    [
        (NOTHING, WHOLE, WHOLE),
        (MARKER_ONLY, WHOLE, WHOLE),
        (MARKER_ONLY, NOTHING, MARKER_ONLY),
        # A length for a length: that of the view trained on.
        (MARKER_ONLY, EXPOSED_ONLY, MARKER_ONLY),
        # No length either way: that which finds both ends says what is wrong.
        (NOTHING, BOTH_ENDS_VAGUELY, BOTH_ENDS_VAGUELY),
        (MARKER_ONLY, BOTH_ENDS_VAGUELY, MARKER_ONLY),
    ],
)
def test_the_reading_that_knows_more_is_believed(
    monkeypatch: pytest.MonkeyPatch, usual: Reading, longer: Reading, believed: Reading
) -> None:
    def one_way(*_: Any, than: ShaftGuess | None = None) -> tuple[Reading, Trace]:
        nothing = cast(Any, None)
        seen = ShaftView(cast(ShaftGuess, object()), nothing, nothing, nothing, nothing)
        return (usual if than is None else longer), Trace(seen)

    monkeypatch.setattr(reading_module, "_read_one_way", one_way)
    photo = np.zeros((4, 4, 3), np.uint8)
    found, _ = _read_either_way(photo, cast(Request, None), cast(CardSighting, None))
    assert found is believed


def test_an_end_that_the_usual_view_shows_aslant_is_none_in_a_longer_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A fender's edge: aslant in two networks' usual view, and within the limit in a longer one, 174.6 ± 1.5 mm."""
    rim = cast(Any, object())

    def one_way(*_: Any, than: ShaftGuess | None = None) -> tuple[Reading, Trace]:
        nothing = cast(Any, None)
        seen = ShaftView(cast(ShaftGuess, object()), nothing, nothing, nothing, nothing)
        if than is None:
            return MARKER_ONLY, Trace(seen, Choice(aslant=True), covered=(RimName.FAR_END,))
        return WHOLE, Trace(seen, Choice(rims={RimName.SEAL: rim, RimName.FAR_END: rim}))

    monkeypatch.setattr(reading_module, "_read_one_way", one_way)
    photo = np.zeros((4, 4, 3), np.uint8)
    found, _ = _read_either_way(photo, cast(Request, None), cast(CardSighting, None))
    assert found is MARKER_ONLY
