"""The README's picture of advice shows what the program prints."""

from __future__ import annotations

import pytest

from docs.pictures import FOLDER, advice_svg, advice_text


@pytest.mark.long
def test_the_picture_of_advice_is_current() -> None:
    made = advice_svg(advice_text())
    assert "Done:" in made and "http" not in made.replace("http://www.w3.org/2000/svg", "")
    assert (FOLDER / "advice.svg").read_text("utf-8") == made, "run python -m docs.pictures"
