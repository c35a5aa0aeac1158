"""Sample photos (rendered, exact truth beside them in photos.toml) read end to end by the real networks."""

from __future__ import annotations

import pytest

from bench.photo12 import sample_named
from strandline.demo.samples import Sample, find_folder, load_samples
from tests.helpers.special_photos import sample_case
from vision.names import LengthName
from vision.reading import Length, Reading, Status
from vision.reasons import Reason

TRUE_MM = {"bare-shock-red-o-ring.jpg": (50.47, 22.9, 27.57)}


def reading_of(name: str) -> Reading:
    return sample_case(sample_named(name)).read()


@pytest.mark.parametrize("name", sorted(TRUE_MM))
def test_lengths_lie_within_their_uncertainty(name: str) -> None:
    found = reading_of(name)
    assert found.status is Status.READ
    for length, true in zip((found.exposed, found.marker, found.remaining), TRUE_MM[name], strict=True):
        assert isinstance(length, Length)
        assert abs(length.value_mm - true) < 1.0
        assert length.u95_mm < 1.0


@pytest.mark.parametrize("sample", load_samples(find_folder(None)), ids=lambda s: s.path.stem)
def test_no_sample_is_read_wrongly(sample: Sample) -> None:
    """The project's own measure: no length off by more than its u95 or 1 mm, whichever is larger."""
    found = sample_case(sample).read()
    true = (sample.rendered.get(name.field) for name in LengthName)
    for length, true_mm in zip((found.exposed, found.marker, found.remaining), true, strict=True):
        if length is not None:
            assert true_mm is not None
            assert abs(length.value_mm - true_mm) <= max(1.0, length.u95_mm)


def test_a_photo_without_a_card_is_refused() -> None:
    found = reading_of("fork-without-card.jpg")
    assert found.status is Status.REFUSED
    assert found.reason is Reason.NO_CARD


def test_a_card_printed_smaller_than_stated_is_noticed() -> None:
    """Printed at 0.95, declared as 1.0: as if it lay 10 mm behind, where turned cards lie, too."""
    found = reading_of("fork-wrong-print-scale.jpg")
    assert found.scale is not None and found.scale.depth_gap_mm == pytest.approx(-10.4, abs=0.5)
    assert any("mm behind" in text and "print scale" in text for text in found.remarks)


def test_edges_hidden_by_coils_are_refused_with_what_to_do() -> None:
    found = reading_of("coil-over-edges-behind-coils.jpg")
    assert found.status is Status.REFUSED
    assert found.reason is Reason.SHAFT_EDGES_UNCLEAR
    assert "sheet" in found.reason.advice
