"""Measurements of a day: on one core and two, beside decoding; first and second run; with recorded answers."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

from bench.day_folder import Kind, make
from bench.day_run import Run, run
from bench.measures import cores_here, decode, settle, spin
from bench.recorded import record
from bench.side_by_side import Ratio, ratio_of


@dataclass(frozen=True)
class Place:
    """Folder and cores of a measurement.

    Attributes
    ----------
    folder : Path
        Days are made in it and removed.
    one, two : tuple of int
        The cores that one and two workers may use; empty where the system cannot keep a process to them.
    """

    folder: Path
    one: tuple[int, ...]
    two: tuple[int, ...]

    @classmethod
    def found(cls, folder: Path) -> Place | None:
        """Return the first two cores that this process may use; None where there is only one."""
        cores = cores_here()
        return None if cores is None else cls(folder, cores[:1], cores[:2])

    @contextmanager
    def day(self, kind: Kind, count: int) -> Iterator[tuple[Path, Path]]:
        """Make a day and a folder for its results, and remove both after the measurement."""
        folder, out = self.folder / "made-day", self.folder / "made-day-results"
        try:
            yield make(folder, kind, count), out
        finally:
            shutil.rmtree(folder, ignore_errors=True)
            shutil.rmtree(out, ignore_errors=True)


@dataclass(frozen=True)
class SideBySide:
    """A day read by one worker and by two, and its photos decoded by two, in turn.

    Attributes
    ----------
    whole : Ratio
        Time on one core over time on two, the program's start and end included.
    steady : Ratio
        The same for the time of all photos while all workers are busy.
    arithmetic : Ratio
        The same for plain arithmetic: what the machine offers at the moment.
    decoding : Ratio
        The run on two cores over Pillow's decoding of the same photos on the same cores.
    reading : Ratio
        The same, counting only the time in which all workers are busy.
    last : Run
        The last one on two cores.
    """

    whole: Ratio
    steady: Ratio
    arithmetic: Ratio
    decoding: Ratio
    reading: Ratio
    last: Run


def side_by_side(place: Place, kind: Kind, count: int, rounds: int) -> SideBySide:
    """Run over one day in turn with one worker on one core and with two on two.

    Parameters
    ----------
    place : Place
    kind : Kind
    count : int
        At least 3.
    rounds : int
    """
    spawn = get_context("spawn")
    pools = [ProcessPoolExecutor(n, spawn, settle, (cores,)) for n, cores in ((1, place.one), (2, place.two))]
    whole: tuple[list[float], list[float]] = ([], [])
    steady: tuple[list[float], list[float]] = ([], [])
    spins: tuple[list[float], list[float]] = ([], [])
    decoding: list[float] = []
    last: Run | None = None
    with place.day(kind, count) as (folder, out), pools[0], pools[1]:
        photos = sorted(folder.rglob("*.jpg"))
        for pool in pools:
            list(pool.map(decode, photos[:4]))  # loads what decoding needs
        for _ in range(rounds):
            for which, cores in enumerate((place.one, place.two)):
                shutil.rmtree(out, ignore_errors=True)
                last = run(folder, out, cores, which + 1)
                whole[which].append(last.wall_s)
                steady[which].append(60 * count / last.steady_a_minute)
                start = time.perf_counter()
                list(pools[which].map(spin, [3_000_000] * 8))
                spins[which].append(time.perf_counter() - start)
            start = time.perf_counter()
            list(pools[1].map(decode, photos, chunksize=4))
            decoding.append(time.perf_counter() - start)
    assert last is not None
    return SideBySide(
        ratio_of(*whole),
        ratio_of(*steady),
        ratio_of(*spins),
        ratio_of(whole[1], decoding),
        ratio_of(steady[1], decoding),
        last,
    )


def twice(
    place: Place, kind: Kind, count: int, recorded: Path | None = None, to_record: Path | None = None
) -> tuple[Run, Run]:
    """Run over a new day with two workers, and once more when nothing is left to read.

    Parameters
    ----------
    place : Place
    kind : Kind
    count : int
    recorded : Path, optional
        Answers in place of the vision.
    to_record : Path, optional
        File in which to record the answers.
    """
    with place.day(kind, count) as (folder, out):
        first = run(folder, out, place.two, 2, recorded)
        if to_record is not None:
            record(folder, out, first.program, to_record)
        return first, run(folder, out, place.two, 2, recorded)
