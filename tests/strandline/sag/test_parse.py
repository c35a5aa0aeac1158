"""What is typed about sag: before the / the bike was pushed down and rose, after it lifted and settled."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from ridelog.errors import LogbookError
from ridelog.names import LegName
from ridelog.storage.records import Approach, SagLength
from strandline.sag.parse import SagOptions, measurements
from suspension.stroke.leg import State
from tests.helpers.made_readings import made, photo, put_in_place
from tests.helpers.made_records import TYPED, bike_file


def parsed(**options: tuple[str, ...]) -> dict[tuple[Any, ...], float]:
    found = measurements(SagOptions(**options), bike_file().bike, TYPED)  # type: ignore[arg-type]
    return {(one.place, one.what, one.state, one.approach): one.length_mm.value for one in found.lengths}


def test_risen_stands_before_the_stroke_and_settled_after_it() -> None:
    # Friction holds a bike that rose lower than one that settled: from axle to tail 586 mm, then 590 mm.
    rear = LegName.REAR, SagLength.AXLE_TO_TAIL
    assert parsed(
        lengths=("rear=hanging 612 mm, on-wheels 586 mm / 590 mm, rider-aboard 573 mm / 578 mm",)
    ) == {
        (*rear, State.HANGING, Approach.NOT_STATED): 612.0,
        (*rear, State.ON_WHEELS, Approach.FROM_BELOW): 586.0,
        (*rear, State.ON_WHEELS, Approach.FROM_ABOVE): 590.0,
        (*rear, State.RIDER_ABOARD, Approach.FROM_BELOW): 573.0,
        (*rear, State.RIDER_ABOARD, Approach.FROM_ABOVE): 578.0,
    }


def test_exposed_lengths_are_of_a_leg() -> None:
    left = LegName.FRONT_LEFT, SagLength.EXPOSED
    assert parsed(exposed=('front-left=on-wheels 1 3/8" / 176 mm',)) == {
        (*left, State.ON_WHEELS, Approach.FROM_BELOW): pytest.approx(
            34.925
        ),  # NIST SP 811: an inch is 25.4 mm
        (*left, State.ON_WHEELS, Approach.FROM_ABOVE): 176.0,
    }


def test_the_first_photo_is_of_the_risen_bike(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lengths = iter((60.0, 62.0))
    put_in_place(monkeypatch, lambda *_: made(next(lengths)))
    names = [photo(tmp_path / name) for name in ("a.jpg", "b.jpg")]
    rear = LegName.REAR, SagLength.EXPOSED, State.ON_WHEELS
    assert parsed(photos=tuple(f"rear.on-wheels={name}" for name in names)) == {
        (*rear, Approach.FROM_BELOW): 60.0,
        (*rear, Approach.FROM_ABOVE): 62.0,
    }


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"lengths": ("side=hanging 612 mm",)}, "neither front nor rear"),
        ({"exposed": ("front=on-wheels 172 mm",)}, "has no leg front"),
        ({"lengths": ("rear",)}, "is not PLACE=LENGTHS"),
        ({"lengths": ("rear=612 mm",)}, "does not begin with the state"),
        ({"lengths": ("rear=on-wheels 1 mm / 2 mm / 3 mm",)}, "more than two"),
        ({"lengths": ("rear=hanging 612 mm", "rear=hanging 613 mm")}, "more than once"),
        ({"photos": ("rear=a.jpg",)}, "is not LEG.STATE=FILE"),
    ],
)
def test_refusals(options: dict[str, tuple[str, ...]], said: str) -> None:
    with pytest.raises(LogbookError, match=said):
        parsed(**options)
