"""Read spoilt copies of photos whose truth is known: ``python -m bench spoilt FOLDER [FOLDER ...]``.

Each copy is one photo of the folders (as `bench.score` describes them) with one fault of `bench.spoilage`; photos and
faults are drawn from a seed, so that the same command reads the same copies. A spoilt photo is read rightly or not at
all, and a file that is cut off is refused. Exit status 1 where more than 2 of 1,000 copies are read wrongly, or where a
cut or visibly damaged file is read.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from bench.score import load_truths, read_photos
from bench.scoring import Result, Scored, Truth, failure, score
from bench.spoilage import FAULTS, Fault, Original, original, picture_changed

# Wrong copies of a thousand that are accepted: the project's own limit.
WRONG_LIMIT = 0.002


@dataclass(frozen=True)
class Copy:
    """One spoilt copy, read.

    Attributes
    ----------
    number : int
        Which of the draw.
    photo, fault : str
    status : str
        "read", "partial", "refused", or what failed.
    reason : str or None
    damaged : bool
        The file is cut off, or its picture visibly another one.
    wrong : tuple of str
        Wrong lengths in words, with error and u95.
    answered, inside : int
        Lengths answered, and of these inside their u95 where the truth is known.
    """

    number: int
    photo: str
    fault: str
    status: str
    reason: str | None
    damaged: bool
    wrong: tuple[str, ...]
    answered: int
    inside: int


def spoilt_copies(truths: Sequence[Truth], count: int, seed: int) -> Iterator[tuple[int, Truth, Fault]]:
    """Choose photos and faults: every fault equally often, and the photos in a random order of each round."""
    rng = np.random.default_rng(seed)
    order: list[int] = []
    for number in range(count):
        if not order:
            order = [int(one) for one in rng.permutation(len(truths))]
        yield number, truths[order.pop()], FAULTS[number % len(FAULTS)]


def read_copies(truths: Sequence[Truth], count: int, seed: int) -> Iterator[Copy]:
    """Spoil, read and score, one copy after another.

    Parameters
    ----------
    truths : sequence of Truth
    count, seed : int
        The first copies of a longer run are the copies of a shorter one with the same seed.
    """
    with tempfile.TemporaryDirectory() as name:
        for number, truth, fault in spoilt_copies(truths, count, seed):
            base = original(truth.photo.read_bytes(), truth.fields["declared"]["card"])
            content = fault.spoil(base, np.random.default_rng([seed, number]))
            # A damaged file keeps its ending; what is saved anew is a JPEG.
            ending = truth.photo.suffix if fault.damage else ".jpg"
            path = Path(name) / f"{number:05d}-{truth.photo.stem}{ending}"
            path.write_bytes(content)
            yield _read(number, Truth(path, truth.fields), fault, base, truth.photo.name)
            path.unlink()


def _read(number: int, truth: Truth, fault: Fault, base: Original, photo: str) -> Copy:
    reading = next(iter(read_photos([truth])))
    damaged = fault.name == "truncated" or (fault.damage and picture_changed(base, truth.photo.read_bytes()))
    scored = score(truth, reading)
    fails = failure(truth, reading)
    if fails is not None and fails.startswith("card ") and fault.name == "second card":
        fails = None  # the card that was laid in was read instead: its lengths are scored
    wrong = [_words(one) for one in scored if one.result is Result.WRONG]
    answers = [one for one in scored if one.result is not Result.SILENT]
    inside = sum(
        one.error_mm is not None and one.u95_mm is not None and abs(one.error_mm) <= one.u95_mm
        for one in answers
    )
    status = str(reading.get("status")) if fails is None else fails
    return Copy(
        number, photo, fault.name, status, reading.get("reason"), damaged, tuple(wrong), len(answers), inside
    )


def _words(one: Scored) -> str:
    error = "no true length" if one.error_mm is None else f"{one.error_mm:+.2f} mm"
    return f"{one.quantity} {error}, u95 {one.u95_mm:.2f}"


def report(copies: Sequence[Copy]) -> Iterator[str]:
    """Count by fault, and name every copy that was read wrongly or should not have been read."""
    yield f"{'fault':<22} copies  answered  wrong  damaged, read"
    for name in (fault.name for fault in FAULTS):
        those = [one for one in copies if one.fault == name]
        read = sum(one.answered > 0 for one in those)
        wrong, damaged = _wrong(those), _damaged_read(those)
        yield f"{name:<22} {len(those):6d}  {read:8d}  {len(wrong):5d}  {len(damaged):13d}"
    wrong, damaged = _wrong(copies), _damaged_read(copies)
    answers = sum(one.answered for one in copies)
    inside = sum(one.inside for one in copies)
    share = f"{100 * inside / answers:.1f} %" if answers else "none"
    yield (
        f"{len(copies)} copies, {sum(one.answered > 0 for one in copies)} with an answer, {answers} lengths, {share} "
        f"inside u95; wrong {len(wrong)} copies, {1000 * len(wrong) / max(len(copies), 1):.1f} of 1,000; "
        f"damaged {sum(one.damaged for one in copies)}, of these read {len(damaged)}; "
        f"failures {len(_failed(copies))}"
    )
    for one in [*wrong, *_failed(copies)]:
        yield f"  {one.number} {one.photo}, {one.fault}: {one.status}: {'; '.join(one.wrong)}"
    for one in damaged:
        yield f"  {one.number} {one.photo}, {one.fault}: damaged and {one.status}"


def _wrong(copies: Iterable[Copy]) -> list[Copy]:
    return [one for one in copies if one.wrong]


def _damaged_read(copies: Iterable[Copy]) -> list[Copy]:
    return [one for one in copies if one.damaged and one.status != "refused"]


def _failed(copies: Iterable[Copy]) -> list[Copy]:
    return [one for one in copies if one.status not in ("read", "partial", "refused") and not one.wrong]


def kept(copies: Sequence[Copy]) -> bool:
    """Whether the limits are kept."""
    few = len(_wrong(copies)) <= WRONG_LIMIT * len(copies)
    return few and not _damaged_read(copies) and not _failed(copies)


def main(arguments: Sequence[str] | None = None) -> int:
    """Read spoilt copies and print the counts."""
    parser = argparse.ArgumentParser(prog="python -m bench spoilt", description=(__doc__ or "").split(":")[0])
    parser.add_argument("folders", type=Path, nargs="+", help="photos with their truth, as for bench.score")
    parser.add_argument("--count", type=int, default=2000, help="copies (default 2000, about a second each)")
    parser.add_argument("--seed", type=int, default=18, help="of the draw (default 18)")
    parser.add_argument("--out", type=Path, help="write each copy's result there as a line of JSON")
    parser.add_argument(
        "--keep", type=int, nargs="*", default=[], help="write these copies' files here; read none"
    )
    args = parser.parse_args(arguments)
    truths = [truth for folder in args.folders for truth in load_truths(folder)]
    if not truths:
        parser.error("these folders hold no truth (NAME.json beside a photo)")
    if args.keep:
        return _keep(truths, args.count, args.seed, set(args.keep))
    copies = []
    for one in read_copies(truths, args.count, args.seed):
        copies.append(one)
        if args.out:
            with args.out.open("a", encoding="utf-8") as file:
                print(json.dumps(asdict(one)), file=file)
    print("\n".join(report(copies)))
    return 0 if kept(copies) else 1


def _keep(truths: Sequence[Truth], count: int, seed: int, wanted: set[int]) -> int:
    for number, truth, fault in spoilt_copies(truths, count, seed):
        if number in wanted:
            base = original(truth.photo.read_bytes(), truth.fields["declared"]["card"])
            ending = truth.photo.suffix if fault.damage else ".jpg"
            path = Path(f"{number:05d}-{truth.photo.stem}-{fault.name.replace(' ', '-')}{ending}")
            path.write_bytes(fault.spoil(base, np.random.default_rng([seed, number])))
            print(path)
    return 0


if __name__ == "__main__":
    sys.exit(main())
