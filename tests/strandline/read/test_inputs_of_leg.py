"""What a bike's file says of a leg reaches the reading as the same numbers as when it is typed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from calibration.focal import FocalPrior
from ridelog.bikes.bike import BikeLeg
from ridelog.errors import RecordError
from strandline.day.reading.from_outcome import hash_of_inputs
from strandline.read.inputs import PhotoInputs, inputs_of_leg, request_for
from strandline.read.parse import ReadOptions, parse_options, parse_photo_options
from suspension.quantities.lengths import Units
from suspension.quantities.print_scale import print_scale
from suspension.stroke.leg import State
from suspension.stroke.marker import LockFacing, MarkerKind
from tests.helpers.made_records import bike_file
from vision.stated import Stated, StatedLengths

REAR_TYPED: dict[str, Any] = {
    "shaft": "14.0 mm",
    "layout": "shock",
    "extended": "80 mm",
    "bumper": "20 mm",
    "bumper_crushed": "8 mm",
    "marker": "o-ring",
    "marker_width": "2.5 mm",
}
FORK_TYPED: dict[str, Any] = {
    "shaft": "41.0 mm",
    "layout": "fork",
    "extended": "205 mm",
    "stroke": "120 mm",
    "marker": "o-ring",
    "marker_width": "3.6 mm",
}


def leg(name: str, **changed: Any) -> BikeLeg:
    return replace(bike_file().bike.leg(name), **changed)


@pytest.mark.parametrize(("name", "typed"), [("front-left", FORK_TYPED), ("rear", REAR_TYPED)])
def test_a_leg_gives_what_its_values_typed_give(name: str, typed: dict[str, Any]) -> None:
    about = {"print_scale": "0.985", "focal_35mm": "26", "state": "on-wheels"}
    photo = parse_photo_options(about["print_scale"], about["focal_35mm"], State.ON_WHEELS)
    assert inputs_of_leg(leg(name), photo) == parse_options(ReadOptions(**typed, **about))
    unsaid = inputs_of_leg(leg(name), parse_photo_options(None, None))
    assert unsaid == parse_options(ReadOptions(**typed))
    assert unsaid.state is State.UNKNOWN and unsaid.units is Units.MM and unsaid.marks is None


def test_numbers_of_a_shock() -> None:
    # The bike's file of the trade's check values: E0 80, b 20, bs 8; 95 % half-widths where no ± is written:
    # 0.05 mm by caliper to a tenth, 0.5 mm by rule.
    found = inputs_of_leg(leg("rear"), PhotoInputs(print_scale("0.985"), 26.0, State.HANGING))
    assert (found.shaft_mm.value, found.shaft_mm.u95) == pytest.approx((14.0, 0.05))
    assert found.leg.extended_mm is not None and found.leg.bumper_free_mm is not None
    assert (found.leg.extended_mm.value, found.leg.extended_mm.u95) == pytest.approx((80.0, 0.5))
    assert (found.leg.bumper_free_mm.value, found.leg.bumper_free_mm.u95) == pytest.approx((20.0, 0.5))
    assert found.leg.bumper_crushed_mm is not None and found.leg.bumper_crushed_mm.value == 8.0
    assert found.print.along == 0.985 and found.focal_35mm == 26.0 and found.asks_stroke


def test_values_are_not_written_and_parsed_again(monkeypatch: pytest.MonkeyPatch) -> None:
    its, photo = leg("rear"), PhotoInputs(print_scale("0.985"))

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a value that was parsed is parsed again")

    for name in ("declared.read_stated", "lengths.read_stated"):
        monkeypatch.setattr(f"suspension.quantities.{name}", refuse)
    assert inputs_of_leg(its, photo).shaft_mm.value == 14.0


def test_a_leg_without_a_diameter_and_a_lock_without_a_tie_are_refused() -> None:
    photo = PhotoInputs(print_scale(None))
    with pytest.raises(RecordError, match="no shaft diameter for rear"):
        inputs_of_leg(leg("rear", shaft=None), photo)
    with pytest.raises(RecordError, match="Only a tie has a lock"):
        inputs_of_leg(leg("rear", marker_lock=LockFacing.MEETS_SEAL), photo)
    tie = leg("rear", marker_lock=LockFacing.MEETS_SEAL, marker_kind=MarkerKind.TIE)
    assert inputs_of_leg(tie, photo).marker.lock is LockFacing.MEETS_SEAL


FOCAL = FocalPrior(3000.0, 0.01, "exif", ())


@pytest.mark.parametrize("state", [State.UNKNOWN, State.HANGING])
def test_a_files_lengths_reach_the_reading(state: State) -> None:
    """E0 205 and S 120 mm of the trade's fork, known to 0.5 and 1 mm (95 %) where no ± is written."""
    photo = PhotoInputs(print_scale(None), None, state)
    of_fork = request_for(inputs_of_leg(leg("front-left"), photo), FOCAL, 0).stated
    hanging = state is State.HANGING
    assert of_fork == StatedLengths(Stated(205.0, 0.25), Stated(120.0, 0.5), hanging, "lower clamp")
    # A shock's stroke ends inside its bumper, whose face is its far end: it limits nothing that is seen.
    of_shock = request_for(
        inputs_of_leg(leg("rear", stroke=leg("front-left").stroke), photo), FOCAL, 0
    ).stated
    assert of_shock == StatedLengths(Stated(80.0, 0.25), None, hanging, "bumper")
    bare = leg("front-left", extended=None, stroke=None)
    assert request_for(inputs_of_leg(bare, photo), FOCAL, 0).stated is None


def test_a_colour_that_is_not_known_is_said_and_not_used() -> None:
    photo = PhotoInputs(print_scale(None))
    assert inputs_of_leg(leg("rear", marker_color="Light Orange"), photo).marker_color == "light orange"
    found = inputs_of_leg(leg("rear", marker_color="mauvish"), photo)
    assert found.marker_color is None and "mauvish" in found.assumed[-1]


def test_the_hash_tells_every_difference_and_nothing_else() -> None:
    """A day reads a photo again exactly where something that it is read with has changed."""
    photo = PhotoInputs(print_scale("0.985"), None, State.ON_WHEELS)
    base = inputs_of_leg(leg("rear"), photo)
    assert hash_of_inputs(base) == hash_of_inputs(inputs_of_leg(leg("rear"), photo))
    others = [
        inputs_of_leg(leg("rear"), replace(photo, state=State.HANGING)),
        inputs_of_leg(leg("rear"), replace(photo, print=print_scale("0.986"))),
        inputs_of_leg(leg("rear"), replace(photo, focal_35mm=26.0)),
        inputs_of_leg(leg("rear", marker_kind=MarkerKind.TIE), photo),
        inputs_of_leg(leg("rear", extended=leg("front-left").extended), photo),
        inputs_of_leg(leg("rear", shaft=leg("front-left").shaft), photo),
    ]
    assert len({hash_of_inputs(base), *map(hash_of_inputs, others)}) == 7
