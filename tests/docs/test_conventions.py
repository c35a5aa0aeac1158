"""The glossary in docs/conventions.md and the one that the program prints are the same; no outside source."""

from __future__ import annotations

from pathlib import Path

from strandline.shared.terms import DRAWING, TERMS

CONVENTIONS = Path(__file__).parents[2] / "docs" / "conventions.md"


def test_conventions_quote_the_drawing() -> None:
    assert f"```text\n{DRAWING}```\n" in CONVENTIONS.read_text(encoding="utf-8")


def test_conventions_quote_every_term_in_order() -> None:
    section = CONVENTIONS.read_text(encoding="utf-8").split("## Terms")[1].split("Further terms")[0]
    rows = [line for line in section.splitlines() if line.startswith("| ") and not line.startswith("| ---")]
    assert rows == ["| Term | Meaning |", *(f"| {term} | {meaning} |" for term, meaning in TERMS)]


def test_terms_fit_a_terminal_and_a_page() -> None:
    # 80 columns: the drawing is plain ASCII so that every terminal shows it.
    assert max(map(len, DRAWING.splitlines())) < 80 and DRAWING.isascii()
    assert len(TERMS) == 10 and len({term for term, _ in TERMS}) == 10
