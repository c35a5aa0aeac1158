"""The glossary as lines for a terminal, and as fields for JSON."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import Any

from strandline.shared.terms import DRAWING, TERMS

PAGE = Path(__file__).with_name("terms.html")
"""The same as a page with drawings, which a browser opens."""

WIDTH = 80
"""Columns of a terminal as it opens."""


def terms_text() -> str:
    """Write the drawing and the terms, each meaning hanging beside its term."""
    column = max(len(term) for term, _ in TERMS) + 2
    lines = [DRAWING.rstrip("\n"), ""]
    for term, meaning in TERMS:
        first = f"{term:<{column}}"
        lines += textwrap.wrap(meaning, WIDTH, initial_indent=first, subsequent_indent=" " * column)
    lines += ["", "With drawings, also of the two ways to read sag:", str(PAGE)]
    return "\n".join(lines)


def terms_fields() -> dict[str, Any]:
    """Fields for JSON."""
    return {
        "drawing": DRAWING,
        "page": str(PAGE),
        "terms": [{"term": term, "meaning": meaning} for term, meaning in TERMS],
    }
