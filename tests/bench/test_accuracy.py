"""The tables of docs/accuracy.md: counts worked out by hand, and the page is what its figures give."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench.accuracy import (
    DOCS,
    Figures,
    Row,
    count_no_shaft,
    count_spoilt,
    load_figures,
    row_of,
    tables,
    with_tables,
)
from bench.no_shaft import Look
from bench.scoring import Expected, Result, Scored, Truth
from bench.spoilt import Copy


def scored(
    quantity: str, result: Result, error_mm: float | None = None, u95_mm: float | None = None
) -> Scored:
    truth = Truth(Path("a.jpg"), {"split": "plain"})
    return Scored(truth, quantity, Expected.ANSWER, result, error_mm, u95_mm, "")


def test_a_row_counts_answers_errors_and_coverage() -> None:
    row = row_of(
        "set",
        "plain",
        [
            scored("exposed_mm", Result.RIGHT, 0.2, 0.5),
            scored("exposed_mm", Result.RIGHT, -0.6, 0.5),
            scored("exposed_mm", Result.SILENT),
            scored("marker_mm", Result.WRONG, 3.0, 1.0),
            scored("remaining_mm", Result.SILENT),
        ],
    )
    exposed, marker, remaining = row.lengths
    assert (exposed.answerable, exposed.answered) == (3, 2)
    assert exposed.median_mm == pytest.approx(0.4) and exposed.p95_mm == 0.6
    assert (marker.answerable, marker.answered, marker.median_mm) == (1, 1, 3.0)
    assert (remaining.answerable, remaining.answered, remaining.median_mm) == (1, 0, None)
    assert (row.photos, row.answers, row.inside, row.wrong, row.median_u95_mm) == (1, 3, 1, 1, 0.5)
    line = list(tables(Figures((row,))))[2]
    assert (
        line
        == "| set, plain | 1 | 2 of 3, 1 of 1, 0 of 1 | 0.40, 3.00, - | 0.60, 3.00, - | 1 | 33 % of 3 | 0.50 |"
    )


def test_counts_in_words() -> None:
    copies = [
        Copy(0, "a", "truncated", "refused", None, True, (), 0, 0),
        Copy(1, "a", "bits flipped", "read", None, True, (), 2, 1),
        Copy(2, "a", "noise", "read", None, False, ("exposed_mm",), 3, 2),
        Copy(3, "a", "noise", "refused", None, False, (), 0, 0),
    ]
    assert count_spoilt(copies).words == (
        "4 copies, 2 with an answer; wrong 1 (250.0 of 1,000); 3 of 5 lengths inside u95; "
        "2 files damaged, 1 of them read, 0 of these wrongly"
    )
    looks = [
        Look("a", "fork", True, 41.0, "refused", "no_shaft", 3, ()),
        Look("a", "shock", False, 14.0, "read", None, None, ("exposed_mm 1.0 ± 0.5",)),
    ]
    assert count_no_shaft(looks).words == (
        "1 photographs, each as fork and as shock; card found in 1 of 2 readings, beside a bar in 1; invented 1"
    )


def test_the_page_has_the_tables_of_its_figures() -> None:
    page = (DOCS / "accuracy.md").read_text(encoding="utf-8")
    figures = load_figures(DOCS / "accuracy.json")
    assert figures.rows and all(isinstance(row, Row) for row in figures.rows)
    assert with_tables(page, figures) == page, "run python -m bench accuracy"
