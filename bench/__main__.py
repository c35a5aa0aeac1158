"""``python -m bench``: measure and print; exit status 1 where a limit of the project is exceeded."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Iterable
from importlib import import_module
from pathlib import Path

from bench import day, measures
from bench.limits import Result, against, if_free
from bench.photo12 import DEFAULT, Subject, copies, enlarged
from bench.stages import profile, unknown_stages
from strandline.read.one_photo import read_one

# The project's own limits.
READ_LIMIT, HELP_LIMIT, MEMORY_LIMIT_MB = 3.0, 8.0, 350.0
PARTS = ("stages", "read", "help", "memory", "cores", "day")
# Simulated owners: no photo, no timing, and so only by name.
OWNERS = "owners"
# Modules with a command line of their own: photos are read there, not timed.
BY_THEMSELVES = {
    "spoilt": "spoilt copies of photos whose truth is known",
    "no_shaft": "photographs that show no shaft",
    "accuracy": "the tables of docs/accuracy.md",
}


def main() -> int:
    """Measure the requested parts."""
    if sys.argv[1:2] and sys.argv[1] in BY_THEMSELVES:
        return int(import_module(f"bench.{sys.argv[1]}").main(sys.argv[2:]))
    parser = argparse.ArgumentParser(
        prog="python -m bench", description=__doc__.split(";")[0] if __doc__ else ""
    )
    parser.add_argument(
        "parts",
        nargs="*",
        choices=[*PARTS, OWNERS, []],
        help=f"what to measure: {', '.join(PARTS)} (all of them where none is named); {OWNERS}",
    )
    parser.add_argument("--owners", type=int, default=400, help="simulated owners a cell (default 400)")
    parser.add_argument("--rounds", type=int, default=9, help="rounds of each comparison (default 9)")
    parser.add_argument("--sample", default=DEFAULT, help="sample photo to enlarge to 12 megapixels")
    parser.add_argument("--photos", type=int, default=12, help="photos in a batch for the cores (default 12)")
    parser.add_argument(
        "--most", type=int, default=100, help="a day's photos that are really read, at most (default 100)"
    )
    parser.add_argument(
        "--recorded", type=int, default=3000, help="a day's photos with recorded answers (default 3000)"
    )
    more = "; ".join(f"{name}: {what}" for name, what in BY_THEMSELVES.items())
    parser.epilog = f"With arguments of their own (python -m bench NAME --help): {more}."
    args = parser.parse_args()
    if args.most < 3 or args.recorded < 1:
        parser.error("--most takes 3 or more, --recorded 1 or more")
    if args.parts == [OWNERS]:
        from bench import owners

        owners.main(args.owners)
        return 0
    if OWNERS in args.parts:
        parser.error(f"{OWNERS} goes alone")
    wanted = args.parts or PARTS
    print(_machine())
    kept = True
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        subject = enlarged(folder, args.sample)
        print(f"12 megapixels: {subject.path.stat().st_size / 1e6:.1f} MB, from {args.sample}\n")
        for part in wanted:
            for result in _measure(part, args, folder, subject):
                print(result.line, flush=True)
                kept &= result.kept
            print()
    return 0 if kept else 1


def _measure(part: str, args: argparse.Namespace, folder: Path, subject: Subject) -> Iterable[Result]:
    if part == "stages":
        return _stages(subject, args.rounds)
    if part == "read":
        ratio, status = measures.read_against_decoding(subject, args.rounds)
        words = f"Reading 12 megapixels ({status}) against Pillow's decoding: {ratio}"
        return [against(words, ratio.median, READ_LIMIT)]
    if part == "help":
        ratio = measures.help_against_pass(3 * args.rounds)
        heavy = measures.heavy_in_help()
        return [
            against(f"`strandline --help` against `python -c pass`: {ratio}", ratio.median, HELP_LIMIT),
            Result(
                f"`strandline --help` imports these heavy packages: {', '.join(heavy) or 'none'}", not heavy
            ),
        ]
    if part == "memory":
        peaks = measures.peak_memory_mb(folder, args.sample)
        lines = {name: f"Peak memory, {name}: {peak:.0f} MB" for name, peak in peaks.items()}
        limited = ("reading", "reading and drawing")
        return [
            against(line, peaks[name], MEMORY_LIMIT_MB) if name in limited else Result(line)
            for name, line in lines.items()
        ]
    if part == "day":
        return day.results(folder, args.most, args.recorded, max(1, args.rounds // 3))
    found = measures.two_cores_against_one(copies(folder, args.photos), max(3, args.rounds // 3))
    if found is None:
        return [Result("Two cores against one: this machine has one")]
    photos, arithmetic = found
    words = f"{args.photos} photos, rate on two cores against one core: {photos}"
    return if_free(words, photos.median, arithmetic.median, str(arithmetic))


def _stages(subject: Subject, rounds: int) -> list[Result]:
    found = profile(lambda: read_one(str(subject.path), subject.inputs), rounds)
    total = sum(one.own_s for one in found)
    lines = [Result(f"The {1e3 * total:.0f} ms of one reading by stage (own time of each stage, median):")]
    lines += [
        Result(f"  {one.stage:<28} {1e3 * one.own_s:7.1f} ms  {100 * one.share:5.1f} %  {one.calls:3d} calls")
        for one in found
    ]
    lines += [
        Result(f"  {name} no longer exists: correct bench/stages.py", False) for name in unknown_stages()
    ]
    return lines


def _machine() -> str:
    import cv2

    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    return (
        f"Python {sys.version.split()[0]}, OpenCV {cv2.__version__} with {cv2.getNumThreads()} threads, "
        f"{os.cpu_count()} cores, load {load:.1f} before the start"
    )


if __name__ == "__main__":
    sys.exit(main())
