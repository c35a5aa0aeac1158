"""Records as JSON fields, by known numbers; the names are those of the first released form."""

from __future__ import annotations

from ridelog.bikes.amounts import MASS
from strandline.shared.fields import as_fields
from suspension.quantities.declared import amount
from suspension.quantities.quantity import Bound, Quantity
from tests.helpers.made_records import fork_reading


def test_measured_lengths_go_by_their_name_alone() -> None:
    fields = as_fields(fork_reading())
    assert fields["exposed"] == {"value": 175, "u95": 0.5}
    assert fields["marker_width"] == {"value": 3.6, "u95": 0.1}
    assert fields["reset_compression"] is None
    assert not [name for name in fields if name.endswith("_mm")]


def test_results_tell_their_bound() -> None:
    expected = {"value": 77.5, "u95": 0.6, "bound": "at least"}
    assert as_fields(Quantity(77.5, 0.3, Bound.AT_LEAST)) == expected


def test_amounts() -> None:
    assert as_fields(amount(MASS, "210 kg ± 3 kg", name="mass")) == {
        "value": 210.0,
        "u95": 3.0,
        "unit": "kg",
        "as_written": "210 kg ± 3 kg",
    }
