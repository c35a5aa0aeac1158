"""The glossary as lines for a terminal, and as fields for JSON."""

from __future__ import annotations

import textwrap
from typing import Any

from strandline.shared.terms import DRAWING, TERMS

WIDTH = 80
"""Columns of a terminal as it opens."""


def terms_text() -> str:
    """Write the drawing and the terms, each meaning hanging beside its term."""
    column = max(len(term) for term, _ in TERMS) + 2
    lines = [DRAWING.rstrip("\n"), ""]
    for term, meaning in TERMS:
        first = f"{term:<{column}}"
        lines += textwrap.wrap(meaning, WIDTH, initial_indent=first, subsequent_indent=" " * column)
    return "\n".join(lines)


def terms_fields() -> dict[str, Any]:
    """Fields for JSON."""
    return {
        "drawing": DRAWING,
        "terms": [{"term": term, "meaning": meaning} for term, meaning in TERMS],
    }
