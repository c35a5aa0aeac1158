"""The terms that the program prints, the page with drawings and the site's are the same; no outside source."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from strandline.help.terms_page import drawings, files
from strandline.shared.terms import DRAWING, TERMS


def test_pages_are_up_to_date() -> None:
    for path, text in files().items():
        said = "run: python -m strandline.help.terms_page"
        assert path.read_text(encoding="utf-8") == text, f"{path}: {said}"


def test_terms_fit_a_terminal() -> None:
    # 80 columns: the drawing is plain ASCII so that every terminal shows it.
    assert max(map(len, DRAWING.splitlines())) < 80 and DRAWING.isascii()
    assert len(TERMS) == 10 and len({term for term, _ in TERMS}) == 10


def test_no_symbol_of_the_guides_stands_among_the_terms() -> None:
    text = " ".join([DRAWING, *(word for pair in TERMS for word in pair), *drawings().values()])
    assert not re.search(r"\b(E0|Sb|gn|u95)\b|\bS\b", re.sub(r"<[^>]*>", " ", text))


def test_drawings_stay_within_their_frames_and_fetch_nothing() -> None:
    """Text by its length at 0.55 of its size a letter, as wide as usual faces are [estimated]."""
    for name, text in drawings().items():
        assert not re.search(r"https?://(?!www\.w3\.org)|href|url\(", text), name
        root = ET.fromstring(text)
        width, height = map(float, root.attrib["viewBox"].split()[2:])
        for one in root.iter("{http://www.w3.org/2000/svg}text"):
            size = 14.0 if "small" in one.get("class", "") else 17.0
            long = 0.55 * size * len(one.text or "")
            x = (
                float(one.attrib["x"])
                - {"middle": 0.5, "end": 1.0}.get(one.get("text-anchor", ""), 0.0) * long
            )
            assert x >= 0 and x + long <= width and 0 < float(one.attrib["y"]) < height, (name, one.text)
