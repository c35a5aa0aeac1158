"""``strandline card-of-settings``: one printed page, looked at by pypdfium2."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest

from tests.helpers.made_bikes import Garage


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "garage")


def test_card_of_settings_is_one_page(invented_demo: tuple[Path, str]) -> None:
    document = pypdfium2.PdfDocument(invented_demo[0] / "settings.pdf")
    assert len(document) == 1
    # ISO 216: A4 is 210 x 297 mm
    assert [round(size / 72 * 25.4) for size in document[0].get_size()] == [210, 297]
    words = " ".join(document[0].get_textpage().get_text_range().split())
    for one in ("Sandpiper (invented)", "try 4 turns", "4 clicks", "not ridden yet", "over the plate"):
        assert one in words, one
    assert "try 4 clicks" not in words  # ridden and found
    assert "5 rides, found" in words
    assert "up from the soft end" in words and "come off its thread" in words
    document.close()


def test_many_loads_and_strange_names_stay_on_one_page(garage: Garage, tmp_path: Path) -> None:
    for i in range(40):
        name = f"load {i} <b>&amp; Łódź"
        garage.ok("loads", "--bike", "grey-twin", "--load", name, "--rider", "80 kg at 700 mm")
    page = tmp_path / "settings.pdf"
    garage.ok("card-of-settings", "--bike", "grey-twin", "-o", page, "--paper", "letter", "--units", "in")
    document = pypdfium2.PdfDocument(page)
    assert len(document) == 1 and [round(x / 72, 2) for x in document[0].get_size()] == [8.5, 11.0]
    words = document[0].get_textpage().get_text_range()
    document.close()
    assert "load 39 <b>&amp; Łódź" in " ".join(words.split()) and "7.480" not in words and " mm" not in words
