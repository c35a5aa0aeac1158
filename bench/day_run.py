"""One run over a day's folder in a process of its own: ``python -m bench.day_run FOLDER OUT``. POSIX only."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from bench.measures import LAUNCH
from bench.stages import REST, Clock, timed

if TYPE_CHECKING:
    from strandline.day.results.results import DayResults

# Stages of a run, as `bench.stages.STAGES` has those of a reading; all of them begin in the main thread.
REDUCING = "small pictures"
STAGES = {
    "roster": (("strandline.day.identify.roster_file", "read_roster"),),
    "find and hash": (("strandline.day.reading.pass_over_folder", "photos_of"),),
    "ask and keep": (("strandline.day.reading.pass_over_folder", "read_what_is_new"),),
    "put together": (("strandline.day.results.assemble", "assemble"),),
    REDUCING: (("strandline.day.output.small_pictures", "make_small"),),
    "write": (("strandline.day.output.write_all", "write_results"),),
}


@dataclass(frozen=True)
class Run:
    """Time and memory of one run.

    Attributes
    ----------
    photos, read, exceptions : int
    program : str
        Version of the program whose answers it used.
    wall_s : float
        From the program's start to its end.
    steady_a_minute : float
        Photos per minute while all workers are busy, without the program's start and end. 0 where there are too
        few photos.
    own_cpu_s, workers_cpu_s : float
        Processor time of the run itself, and of its workers together.
    own_mb, worker_mb : float
        Largest resident memory of the run itself, and of its largest worker; 0 where there was none.
    stages_s : dict of str to float
        The run's own processor time by stage; `bench.stages.REST` is loading the program and all else.
    """

    photos: int
    read: int
    exceptions: int
    program: str
    wall_s: float
    steady_a_minute: float
    own_cpu_s: float
    workers_cpu_s: float
    own_mb: float
    worker_mb: float
    stages_s: dict[str, float]

    @property
    def a_minute(self) -> float:
        """Photos per minute, the program's start and end included."""
        return 60 * self.photos / self.wall_s

    @property
    def bookkeeping_s(self) -> float:
        """Processor time of all but reducing pictures, which depends on their number; for recorded answers."""
        return self.own_cpu_s + self.workers_cpu_s - self.stages_s.get(REDUCING, 0.0)


def run(folder: Path, out: Path, cores: tuple[int, ...], workers: int, recorded: Path | None = None) -> Run:
    """Run over a folder.

    Parameters
    ----------
    folder, out : Path
        Of the day, and of its results.
    cores : tuple of int
        The cores that the run may use; empty: chosen by the system.
    workers : int
    recorded : Path, optional
        Answers in place of the vision; see `bench.recorded`.
    """
    words = [sys.executable, "-m", "bench.day_run", str(folder), str(out), "--workers", str(workers)]
    words += ["--cores", ",".join(map(str, cores))] if cores else []
    words += ["--recorded", str(recorded)] if recorded else []
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", LAUNCH, *words],
        stdout=subprocess.PIPE,
        text=True,
        check=True,
        cwd=Path(__file__).resolve().parents[1],
    )
    wall_s = time.perf_counter() - start
    return replace(Run(**json.loads(done.stdout.splitlines()[-1])), wall_s=wall_s)


def main() -> None:
    """Run once, and print its time and memory as one line of JSON."""
    parser = argparse.ArgumentParser(prog="python -m bench.day_run")
    parser.add_argument("folder", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--cores", default="")
    parser.add_argument("--recorded", type=Path)
    args = parser.parse_args()
    if args.cores:
        os.sched_setaffinity(0, [int(core) for core in args.cores.split(",")])
    # Processor time: it does not depend on other use of disk and cores.
    clock = Clock(time.process_time)
    clock.enter(REST)
    results, program, steady = _day(args, clock)
    clock.leave()
    import resource

    own, workers = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    found = Run(
        photos=results.photos,
        read=results.read,
        exceptions=len(results.exceptions),
        program=program,
        wall_s=0.0,
        steady_a_minute=steady,
        own_cpu_s=own.ru_utime + own.ru_stime,
        workers_cpu_s=workers.ru_utime + workers.ru_stime,
        own_mb=_mb(own.ru_maxrss),
        worker_mb=_mb(workers.ru_maxrss),
        stages_s=clock.own_s,
    )
    print(json.dumps(asdict(found)))


def _day(args: argparse.Namespace, clock: Clock) -> tuple[DayResults, str, float]:
    """Run as ``strandline day FOLDER`` does; also the program's version, and `Run.steady_a_minute`."""
    from bench import recorded
    from strandline.day.pipeline import DayRequest, run_day

    request = DayRequest(args.folder, args.out, print_scale="1", state="on-wheels", workers=args.workers)
    if args.recorded:
        os.environ[recorded.FILE] = str(args.recorded)
        request = replace(request, reader=recorded.READER, program="recorded")
    answers: list[tuple[int, float]] = []

    def count_answers(done: int, total: int) -> None:
        if done:
            answers.append((done, time.perf_counter()))

    with timed(clock, STAGES):
        results = run_day(request, count_answers)
    return results, request.program, rate(answers, args.workers)


def rate(answers: list[tuple[int, float]], workers: int) -> float:
    """Photos per minute, from when each worker has given its first answer.

    Parameters
    ----------
    answers : list of (int, float)
        Number of answers so far, and the time, s.
    workers : int
    """
    if len(answers) <= workers:
        return 0.0
    (first, start), (last, end) = answers[workers - 1], answers[-1]
    return 60 * (last - first) / (end - start)


def _mb(peak: int) -> float:
    return peak / (1e6 if sys.platform == "darwin" else 1e3)


if __name__ == "__main__":
    main()
