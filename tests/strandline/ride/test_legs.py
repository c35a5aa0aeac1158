"""``strandline ride legs``: 205 mm less what remains is the stroke used [derived], left less right."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.made_bikes import Garage


def test_left_against_right_over_time(tmp_path: Path) -> None:
    garage = Garage(tmp_path / "garage")
    at = ("ride", "legs", "--bike", "grey-twin")
    for day, (left, right) in enumerate(((110, 114), (112, 115), (108, 113)), start=1):
        garage.ok(
            *("ride", "add", "--bike", "grey-twin", "--date", f"2026-05-0{day}"),
            *(
                "--reading",
                f"front-left=remaining {left} mm",
                "--reading",
                f"front-right=remaining {right} mm",
            ),
        )
    garage.ok("ride", "add", "--bike", "grey-twin", "--reading", "front-left=remaining 110 mm")
    (front,) = garage.json(*at)["ends"]
    assert [one["left_less_right_mm"] for one in front["rides"]] == pytest.approx([4, 3, 5])
    assert front["mean_mm"] == pytest.approx(4) and front["lasting"]
    assert "left leg goes 4.0 mm deeper" in garage.ok(*at)
