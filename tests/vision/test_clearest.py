"""Each end from the look that sees it most clearly: rims at known places, with known uncertainties."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from tests.helpers.made_frame import CYLINDER, FRAME
from vision import read
from vision.adjustment.observations import RimPoints
from vision.names import LengthName, RimName
from vision.reading import Length, Note, Reading, Status
from vision.reasons import Reason
from vision.rims.choose import Choice
from vision.rims.clearest import place_mm, with_clearest_ends
from vision.rims.second_opinion import SecondOpinion

SOLUTION: Any = SimpleNamespace(cylinder=CYLINDER, camera=FRAME.camera)
# The frame's lens of 3000 px, 380 mm before the shaft's surface.
PX_PER_MM = 3000 / 400


def rim(name: RimName, s_mm: float, sd_mm: float) -> RimPoints:
    phi = np.linspace(-1, 1, 24)
    points = FRAME.camera.project(CYLINDER.surface(np.full(24, s_mm), phi))
    return RimPoints(name, points, sd_px=sd_mm * PX_PER_MM, shape_sd_px=0.01)


def choice(**sd_mm: float) -> Choice:
    """Seal at -50, marker at 0, far end at 60 mm, each where a standard uncertainty is given."""
    at = {"seal": (RimName.SEAL, -50.0), "marker": (RimName.MARKER_NEAR, 0.0), "far": (RimName.FAR_END, 60.0)}
    rims = {name: rim(name, s_mm, sd_mm[key]) for key, (name, s_mm) in at.items() if key in sd_mm}
    missing = {Reason.SEAL_HIDDEN: RimName.SEAL, Reason.FAR_END_HIDDEN: RimName.FAR_END}
    notes = tuple(Note(reason) for reason, name in missing.items() if name not in rims)
    return Choice(rims, rims, dict.fromkeys(rims, 1.0), notes=notes)


def test_a_place_is_as_uncertain_as_its_parts_say() -> None:
    """Offset 0.3 mm; a height of 2 mm, seen from behind at a tangent of 50/400; nothing else."""
    raised = replace(rim(RimName.FAR_END, -50.0, 0.3), height_sd_mm=2.0)
    s_mm, sd_mm = place_mm(raised, SOLUTION)
    assert s_mm == pytest.approx(-50.0, abs=1e-6)
    assert sd_mm == pytest.approx(np.hypot(0.3, 2.0 * 50 / 400), rel=0.07)


def test_each_end_is_the_clearer_one_and_the_marker_stays() -> None:
    first, other = choice(seal=0.3, marker=0.5, far=1.2), choice(seal=0.9, marker=0.1, far=0.6)
    found = with_clearest_ends(first, [other], SOLUTION)
    assert found.rims[RimName.SEAL] is first.rims[RimName.SEAL]
    assert found.rims[RimName.MARKER_NEAR] is first.rims[RimName.MARKER_NEAR]
    assert found.rims[RimName.FAR_END] is other.rims[RimName.FAR_END]
    assert list(found.rims) == [RimName.SEAL, RimName.MARKER_NEAR, RimName.FAR_END]


def test_an_end_that_one_look_alone_finds_is_found() -> None:
    found = with_clearest_ends(choice(marker=0.2, far=1.0), [choice(seal=0.4, marker=0.2)], SOLUTION)
    assert set(found.rims) == {RimName.SEAL, RimName.MARKER_NEAR, RimName.FAR_END}
    assert found.notes == ()


@pytest.mark.parametrize(("apart_mm", "taken"), [(2.3, True), (2.5, False)])
def test_looks_that_put_an_end_apart_are_not_put_together(apart_mm: float, taken: bool) -> None:
    """By more than twice the larger standard uncertainty, 1.2 mm."""
    first, other = choice(seal=0.3, far=1.2), choice(seal=0.3)
    other.rims[RimName.FAR_END] = rim(RimName.FAR_END, 60 + apart_mm, 0.6)
    assert (with_clearest_ends(first, [other], SOLUTION) is not first) is taken


def test_nothing_is_exchanged_where_the_marker_may_touch_the_far_end() -> None:
    first, other = choice(seal=0.3, far=1.2), choice(seal=0.3, far=0.6)
    assert with_clearest_ends(first, [replace(other, touching=True)], SOLUTION) is first


OPEN = Reading(Status.PARTIAL, (Note(Reason.UNCERTAIN, LengthName.EXPOSED),), marker=Length(60.0, 0.8))
ELSEWHERE = replace(OPEN, marker=Length(62.0, 0.8))
WHOLE = Reading(Status.READ, exposed=Length(110.0, 2.5), marker=Length(60.0, 0.8))


@pytest.mark.parametrize(("other", "believed"), [(OPEN, WHOLE), (ELSEWHERE, OPEN)])
def test_ends_are_put_together_where_all_looks_agree_and_it_answers_more(
    monkeypatch: pytest.MonkeyPatch, other: Reading, believed: Reading
) -> None:
    nothing: Any = None
    seen: Any = SimpleNamespace(fit=SimpleNamespace(solution=SOLUTION), classes=None)
    request: Any = SimpleNamespace(declared=SimpleNamespace(diameter_mm=40.0))
    second = SecondOpinion(np.zeros((1, 1, 3)), nothing, 40.0)
    look = read.Trace(seen, choice(seal=0.3, marker=0.2, far=1.6), SOLUTION, second)
    clearer = read.Trace(seen, choice(seal=0.9, marker=0.2, far=0.8), SOLUTION, second)
    asked: list[Choice] = []

    def solved(_seen: Any, _known: Any, _request: Any, best: Choice, _second: Any) -> Any:
        asked.append(best)
        return WHOLE, look

    monkeypatch.setattr(read, "_measured", lambda *_: (other, clearer))
    monkeypatch.setattr(read, "_solved", solved)
    monkeypatch.setattr(read, "_by_new_ones_alone", lambda *_: False)
    monkeypatch.setattr(read, "by_network", lambda seen, _diameter_mm, _network: seen)
    photo = np.zeros((1, 1, 3), np.uint8)
    assert read._with_other_networks(photo, nothing, request, OPEN, look)[0] is believed
    if believed is WHOLE:
        assert clearer.choice is not None
        assert asked[0].rims[RimName.FAR_END] is clearer.choice.rims[RimName.FAR_END]
