"""Write the page of terms, and what the site shows of it: ``python -m strandline.help.terms_page``."""

from __future__ import annotations

from pathlib import Path

from strandline.help.text import PAGE
from strandline.shared.terms import TERMS

DRAWINGS = Path(__file__).with_name("drawings")
DOCS = Path(__file__).resolve().parents[2] / "docs"
ALT = {
    "terms": "A leg with the wheel free and after a ride: hanging length, sag, used stroke, stroke",
    "sag-tape": "Sag by tape, from the axle straight up to a mark",
    "sag-shaft": "Sag by the shaft, from seal to far end",
}


def drawings() -> dict[str, str]:
    """Read the drawings, SVG, by name."""
    return {name: (DRAWINGS / f"{name}.svg").read_text(encoding="utf-8") for name in ALT}


def page() -> str:
    """Write the page, which fetches nothing."""
    from markupsafe import Markup

    from strandline.shared.html import environment

    # Several drawings in one page share their styles; the ids of their titles have to differ.
    inside = {name: Markup(text.replace('"t"', f'"{name}-title"')) for name, text in drawings().items()}
    return environment(__package__, {}).get_template("terms.html").render(drawings=inside, terms=TERMS)


def guide() -> str:
    """Write the site's page, Markdown."""
    lines = ["# Ten terms", "", _picture("terms"), "", "| Term | Meaning |", "| --- | --- |"]
    lines += [f"| {term} | {meaning} |" for term, meaning in TERMS]
    lines += ["", "## Two ways to read sag", "", _picture("sag-tape"), "", _picture("sag-shaft"), ""]
    lines.append("`strandline help terms` prints the terms and says where the same page lies on your disk.")
    return "\n".join(lines) + "\n"


def files() -> dict[Path, str]:
    """All that is written, by file."""
    copies = {DOCS / f"drawing-{name}.svg": text for name, text in drawings().items()}
    return {PAGE: page(), DOCS / "terms.md": guide(), **copies}


def _picture(name: str) -> str:
    return f"![{ALT[name]}](drawing-{name}.svg)"


if __name__ == "__main__":
    for path, text in files().items():
        path.write_text(text, encoding="utf-8")
