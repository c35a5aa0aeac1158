"""The table of all sets of photos side by side in docs/accuracy.md: ``python -m bench accuracy``.

Each measurement replaces the rows of its name in docs/accuracy.json, from which the tables are written anew:

- ``--set NAME=FOLDER``: photos with their truth, as for `bench.score`; a row for each split, and one for the traps.
- ``--spoilt FILE``, ``--no-shaft FILE``: what ``python -m bench spoilt`` and ``no_shaft`` wrote with ``--out``.
- ``--large``: memory and time of 12, 24 and 48 megapixels.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from bench.large import LargePhoto, measure_large
from bench.no_shaft import Look
from bench.score import load_truths, read_photos
from bench.scoring import BOUNDS, SPLITS, Expected, Result, Scored, score
from bench.spoilt import Copy

DOCS = Path(__file__).parents[1] / "docs"
START, END = "<!-- accuracy tables -->", "<!-- end of the accuracy tables -->"
# Rows of one split each: real photographs have no other.
REAL, TRAPS = "real", "traps"


@dataclass(frozen=True)
class Lengths:
    """One kind of length in one row.

    Attributes
    ----------
    answerable, answered : int
        Lengths of which enough can be seen, and how many of these were answered.
    median_mm, p95_mm : float or None
        Absolute error of all answers.
    """

    answerable: int
    answered: int
    median_mm: float | None
    p95_mm: float | None


@dataclass(frozen=True)
class Row:
    """One split of one set.

    Attributes
    ----------
    name, split : str
    photos : int
    lengths : tuple of Lengths
        Exposed, marker, remaining.
    answers, inside, wrong : int
        Answers with a true length, those within u95, and wrong lengths.
    median_u95_mm : float or None
    """

    name: str
    split: str
    photos: int
    lengths: tuple[Lengths, ...]
    answers: int
    inside: int
    wrong: int
    median_u95_mm: float | None


@dataclass(frozen=True)
class Count:
    """A count in words, of spoilt copies or of photographs without a shaft."""

    name: str
    words: str


@dataclass(frozen=True)
class Figures:
    """Everything in docs/accuracy.json."""

    rows: tuple[Row, ...] = ()
    counts: tuple[Count, ...] = ()
    large: tuple[LargePhoto, ...] = ()


def row_of(name: str, split: str, scored: Sequence[Scored]) -> Row:
    """Count the lengths of one split.

    Parameters
    ----------
    name, split : str
    scored : sequence of Scored
        Of that split's photos.
    """
    known = [one for one in scored if one.error_mm is not None and one.u95_mm is not None]
    u95s = [one.u95_mm for one in known if one.u95_mm is not None]
    return Row(
        name,
        split,
        len({one.truth.photo for one in scored}),
        tuple(_lengths([one for one in scored if one.quantity == quantity]) for quantity in BOUNDS),
        len(known),
        sum(abs(one.error_mm or 0.0) <= (one.u95_mm or 0.0) for one in known),
        sum(one.result is Result.WRONG for one in scored),
        statistics.median(u95s) if u95s else None,
    )


def _lengths(scored: Sequence[Scored]) -> Lengths:
    asked = [one for one in scored if one.expected is Expected.ANSWER]
    errors = sorted(abs(one.error_mm) for one in scored if one.error_mm is not None)
    rank = min(int(0.95 * len(errors)), len(errors) - 1)
    return Lengths(
        len(asked),
        sum(one.result is not Result.SILENT for one in asked),
        statistics.median(errors) if errors else None,
        errors[rank] if errors else None,
    )


def measure_set(name: str, folder: Path) -> list[Row]:
    """Read and score a folder: a row for each split, and one for its traps where these have a split of their own."""
    truths = load_truths(folder)
    scored = [
        one
        for truth, reading in zip(truths, read_photos(truths), strict=True)
        for one in score(truth, reading)
    ]
    rows = []
    for split in (*SPLITS, TRAPS):
        those = [one for one in scored if _split(one) == split]
        if those:
            rows.append(row_of(name, split, those))
    return rows


def _split(one: Scored) -> str:
    split = str(one.truth.fields["split"])
    return split if split in SPLITS else TRAPS


def count_spoilt(copies: Sequence[Copy]) -> Count:
    """Put a run of `bench.spoilt` into words."""
    wrong = sum(bool(one.wrong) for one in copies)
    damaged = [one for one in copies if one.damaged]
    read = sum(one.status != "refused" for one in damaged)
    answers, inside = (sum(getattr(one, name) for one in copies) for name in ("answered", "inside"))
    return Count(
        "Spoilt copies",
        f"{len(copies)} copies, {sum(one.answered > 0 for one in copies)} with an answer; wrong {wrong} "
        f"({1000 * wrong / max(1, len(copies)):.1f} of 1,000); {inside} of {answers} lengths inside u95; "
        f"{len(damaged)} files damaged, {read} of them read, "
        f"{sum(bool(one.wrong) for one in damaged)} of these wrongly",
    )


def count_no_shaft(looks: Sequence[Look]) -> Count:
    """Put a run of `bench.no_shaft` into words."""
    return Count(
        "Real photographs without a shaft",
        f"{len({one.photo for one in looks})} photographs, each as fork and as shock; card found in "
        f"{sum(one.card is not None for one in looks)} of {len(looks)} readings, beside a bar in "
        f"{sum(one.beside_bar for one in looks)}; invented {sum(bool(one.invented) for one in looks)}",
    )


def tables(figures: Figures) -> Iterator[str]:
    """Format the tables, line by line."""
    yield (
        "| Photographs | Photos | Answered (exposed, marker, remaining) | Median error, mm | 95th percentile, mm "
        "| Wrong lengths | Inside u95 | Median u95, mm |"
    )
    yield "| --- | --- | --- | --- | --- | --- | --- | --- |"
    for row in figures.rows:
        answered = ", ".join(f"{one.answered} of {one.answerable}" for one in row.lengths)
        if row.split == TRAPS:
            answered = "none asked for"
        medians = ", ".join(_mm(one.median_mm) for one in row.lengths)
        worst = ", ".join(_mm(one.p95_mm) for one in row.lengths)
        inside = f"{100 * row.inside / row.answers:.0f} % of {row.answers}" if row.answers else "-"
        name = row.name if row.split == REAL else f"{row.name}, {row.split}"
        yield (
            f"| {name} | {row.photos} | {answered} | {medians} | {worst} | {row.wrong} | {inside} "
            f"| {_mm(row.median_u95_mm)} |"
        )
    yield ""
    yield "| Others | |"
    yield "| --- | --- |"
    for count in figures.counts:
        yield f"| {count.name} | {count.words} |"
    for photo in figures.large:
        yield (
            f"| {photo.megapixels:.0f} megapixels | peak {photo.peak_mb:.0f} MB; {photo.read_s:.2f} s of one core, "
            f"of which Pillow's decoding alone takes {photo.decode_s:.2f} s |"
        )


def _mm(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def load_figures(path: Path) -> Figures:
    """Read docs/accuracy.json; nothing is held where it does not exist."""
    if not path.exists():
        return Figures()
    fields = json.loads(path.read_text(encoding="utf-8"))
    rows = tuple(
        Row(**{**one, "lengths": tuple(Lengths(**length) for length in one["lengths"])})
        for one in fields["rows"]
    )
    return Figures(
        rows,
        tuple(Count(**one) for one in fields["counts"]),
        tuple(LargePhoto(**one) for one in fields["large"]),
    )


def with_tables(text: str, figures: Figures) -> str:
    """Put the tables between their marks in a text."""
    before, rest = text.split(START)
    _, after = rest.split(END)
    return f"{before}{START}\n" + "\n".join(tables(figures)) + f"\n{END}{after}"


def _replaced(old: Sequence[Row], new: Sequence[Row]) -> tuple[Row, ...]:
    names = {row.name for row in new}
    place = next((k for k, row in enumerate(old) if row.name in names), len(old))
    kept = [row for row in old if row.name not in names]
    place = min(place, len(kept))
    return (*kept[:place], *new, *kept[place:])


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure what is asked for, and write the tables."""
    parser = argparse.ArgumentParser(
        prog="python -m bench accuracy", description=(__doc__ or "").split(":")[0]
    )
    parser.add_argument(
        "--set", action="append", default=[], metavar="NAME=FOLDER", help="photos with their truth"
    )
    parser.add_argument("--spoilt", type=Path, help="lines written by `python -m bench spoilt --out`")
    parser.add_argument("--no-shaft", type=Path, help="lines written by `python -m bench no_shaft --out`")
    parser.add_argument("--large", action="store_true", help="memory and time of 12, 24 and 48 megapixels")
    args = parser.parse_args(arguments)
    path, page = DOCS / "accuracy.json", DOCS / "accuracy.md"
    figures = load_figures(path)
    for words in args.set:
        name, _, folder = words.partition("=")
        figures = Figures(
            _replaced(figures.rows, measure_set(name, Path(folder))), figures.counts, figures.large
        )
    counts = list(figures.counts)
    if args.no_shaft:
        counts = _counted(counts, count_no_shaft([Look(**one) for one in _lines(args.no_shaft)]))
    if args.spoilt:
        counts = _counted(counts, count_spoilt([Copy(**one) for one in _lines(args.spoilt)]))
    large = tuple(measure_large()) if args.large else figures.large
    figures = Figures(figures.rows, tuple(counts), large)
    path.write_text(json.dumps(asdict(figures), indent=1) + "\n", encoding="utf-8")
    page.write_text(with_tables(page.read_text(encoding="utf-8"), figures), encoding="utf-8")
    print("\n".join(tables(figures)))
    return 0


def _counted(counts: Sequence[Count], new: Count) -> list[Count]:
    return [*(one for one in counts if one.name != new.name), new]


def _lines(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]


if __name__ == "__main__":
    sys.exit(main())
