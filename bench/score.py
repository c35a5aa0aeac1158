"""Score readings of photographs against their truth: ``python -m bench.score [FOLDER]``.

A folder holds photos, and beside each ``NAME.json`` with its truth: ``exposed_mm``, ``marker_mm``, ``remaining_mm``
(None where there is none), ``seal_visible``, ``marker_visible``, ``far_visible`` (share of the facing rim that nothing
hides), ``declared`` (what a user would type in), ``layout``, ``split`` (plain, tough, real or trap), ``trap`` (why the
photo must not be answered like a usual one, or None), and ``marking_error_mm`` where a person marked the truth.

The photos are read with diameter, layout and print scale alone, or readings of ``strandline read --json`` are scored
with ``--readings FILE``. Exit status 1 where a length is wrong or a reading failed.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from bench.scoring import Expected, Result, Scored, Truth, failure, score, summary

PHOTOS = Path(__file__).parents[1] / "tests" / "vision" / "photos"
PHOTO_ENDINGS = (".jpg", ".heic")
LAYOUTS = {
    "fork": "fork",
    "upside_down_fork": "upside-down-fork",
    "coil_over": "shock",
    "bare_shock": "shock",
}


def load_truths(folder: Path) -> list[Truth]:
    """Load the truth of every photo in a folder, in the order of names."""
    truths = []
    for path in sorted(folder.glob("*.json")):
        photos = [path.with_suffix(ending) for ending in PHOTO_ENDINGS]
        photo = next((one for one in photos if one.exists()), photos[0])
        truths.append(Truth(photo, json.loads(path.read_text(encoding="utf-8"))))
    return truths


def read_photos(truths: Iterable[Truth]) -> Iterator[dict[str, Any]]:
    """Read each photo with its diameter, layout and print scale; yield the fields of ``strandline read --json``."""
    from strandline.read.json_line import json_line
    from strandline.read.one_photo import read_one
    from strandline.read.parse import ReadOptions, parse_options

    for truth in truths:
        declared = truth.fields["declared"]
        options = ReadOptions(
            shaft=f"{declared['shaft_diameter_mm']:.2f}mm",
            layout=LAYOUTS[declared["layout"]],
            print_scale=f"{declared['print_scale']:.4f}",
        )
        outcome, _ = read_one(str(truth.photo), parse_options(options))
        fields: dict[str, Any] = json.loads(json_line(outcome))
        yield fields


def report(found: Mapping[str, Any], scored: Iterable[Scored], failures: Mapping[str, str]) -> Iterator[str]:
    """Format the summary and every length to look into, line by line."""
    for name, row in found["lengths"].items():
        yield f"{name}: {_row(row)}"
    for split, row in found["coverage"].items():
        yield f"coverage, {split}: {_row(row)}"
    yield f"traps: {_row(found['traps'])}"
    yield f"wrong {found['wrong']}, failures {found['failures']}"
    for photo, what in failures.items():
        yield f"  {photo}: FAILURE, {what}"
    for one in scored:
        missed = one.result is Result.SILENT and one.expected is Expected.ANSWER
        if missed or one.result in (Result.WRONG, Result.LUCKY):
            error = "" if one.error_mm is None else f" {one.error_mm:+.2f} ± {one.u95_mm:.2f} mm"
            trap = f" ({one.truth.trap})" if one.truth.trap else ""
            yield f"  {one.truth.photo.name}{trap}: {one.quantity} {one.result}{error}, {one.reason}"


def _row(row: Mapping[str, float | None]) -> str:
    def text(value: float | None) -> str:
        return "none" if value is None else str(value) if isinstance(value, int) else f"{value:.3f}"

    return ", ".join(f"{name} {text(value)}" for name, value in row.items())


def main(arguments: Sequence[str] | None = None) -> int:
    """Score a folder of photos and print the result."""
    parser = argparse.ArgumentParser(prog="python -m bench.score", description=(__doc__ or "").split(":")[0])
    parser.add_argument("folder", type=Path, nargs="?", default=PHOTOS, help="default: tests/vision/photos")
    parser.add_argument("--readings", type=Path, help="JSON lines of `strandline read --json`; default: read")
    parser.add_argument("--json", action="store_true", help="print the summary as one JSON object")
    args = parser.parse_args(arguments)
    truths = load_truths(args.folder)
    if not truths:
        parser.error(f"{args.folder} holds no truth (NAME.json beside a photo)")
    if args.readings is None:
        lines: Iterable[dict[str, Any]] = read_photos(truths)
    else:
        text = args.readings.read_text(encoding="utf-8")
        lines = [json.loads(line) for line in text.splitlines() if line.strip()]
    readings = {Path(line["photo"]).name: line for line in lines}
    scored, failures = [], {}
    for truth in truths:
        reading = readings.get(truth.photo.name)
        scored += score(truth, reading)
        what = failure(truth, reading)
        if what is not None:
            failures[truth.photo.name] = what
    found = summary(scored, failures)
    print(json.dumps(found) if args.json else "\n".join(report(found, scored, failures)))
    return 1 if found["wrong"] or found["failures"] else 0


if __name__ == "__main__":
    sys.exit(main())
