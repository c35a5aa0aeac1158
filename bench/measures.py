"""Measurements: reading against decoding, start-up, memory, two cores against one."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from bench.photo12 import Subject, enlarged
from bench.side_by_side import Ratio, compare, ratio_of
from strandline.read.one_photo import read_one

# Packages that `strandline --help` must not import: each takes longer to load than the help takes to show.
HEAVY = (
    "numpy",
    "cv2",
    "scipy",
    "skimage",
    "pint",
    "rich",
    "reportlab",
    "PIL",
    "pi_heif",
    "tomlkit",
    "sqlite3",
)


def read_against_decoding(subject: Subject, rounds: int) -> tuple[Ratio, str]:
    """One photo read in a running process, against Pillow's decoding of it; and the reading's status."""
    status = ""

    def read() -> None:
        nonlocal status
        outcome, _ = read_one(str(subject.path), subject.inputs)
        status = outcome.reading.status.value

    return compare(read, lambda: decode(subject.path), rounds), status


def decode(photo: Path) -> None:
    """Pillow's decoding alone."""
    from PIL import Image

    with Image.open(photo) as image:
        image.load()


def help_against_pass(rounds: int) -> Ratio:
    """``strandline --help`` against an interpreter that does nothing."""
    script = Path(sys.executable).with_name("strandline")
    words = [str(script)] if script.exists() else [sys.executable, "-m", "strandline"]
    return compare(lambda: _quiet([*words, "--help"]), lambda: _quiet([sys.executable, "-c", "pass"]), rounds)


def heavy_in_help() -> list[str]:
    """Heavy modules, and the project's own rooms, that ``strandline --help`` imports: there should be none."""
    code = (
        "import sys\nsys.argv = ['strandline', '--help']\nfrom strandline.__main__ import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print(*sorted({name.split('.')[0] for name in sys.modules}), file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stderr.split())
    return [name for name in (*HEAVY, "calibration", "vision", "suspension", "ridelog") if name in loaded]


def _quiet(words: list[str]) -> None:
    subprocess.run(words, stdout=subprocess.DEVNULL, check=True)


# Program of the process whose peak is measured: start, then read one photo by its file's name.
_PEAK = """
import resource, sys
from strandline.read.one_photo import read_one
if {imports}:
    import numpy, cv2, scipy.optimize, scipy.ndimage, PIL.Image
{work}
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(peak / (1e6 if sys.platform == 'darwin' else 1e3))
"""
# Linux passes a process's peak on to the program that it starts: a small process must stand between this one, which
# has grown large, and the measured one.
LAUNCH = "import subprocess, sys; sys.exit(subprocess.run(sys.argv[1:]).returncode)"
_READ = """
from bench.photo12 import sample_named
from strandline.read.parse import parse_options
declared = parse_options(sample_named(sys.argv[2]).options)
outcome, photo = read_one(sys.argv[1], declared)
assert outcome.reading.status.value != 'refused', outcome.messages
"""
_DRAW = (
    _READ
    + """
from strandline.read.overlays import overlay_jpeg
overlay_jpeg(outcome, photo, declared.units, declared.leg.layout)
"""
)
_DECODE = """
from PIL import Image
Image.open(sys.argv[1]).load()
"""


def peak_memory_mb(folder: Path, sample: str) -> dict[str, float]:
    """Largest resident memory, MB, of a process that only loads the libraries, decodes, reads, draws 12 megapixels.

    POSIX only (getrusage); kB on Linux, bytes on macOS.
    """
    path = enlarged(folder, sample).path
    work = {
        "libraries alone": (True, ""),
        "Pillow decoding alone": (False, _DECODE),
        "reading": (False, _READ),
        "reading and drawing": (False, _DRAW),
    }
    out = {}
    for name, (imports, code) in work.items():
        words = [sys.executable, "-c", _PEAK.format(imports=imports, work=code), str(path), sample]
        done = subprocess.run(
            [sys.executable, "-c", LAUNCH, *words], capture_output=True, text=True, check=True
        )
        out[name] = float(done.stdout.split()[-1])
    return out


def settle(cores: tuple[int, ...]) -> None:
    """Restrict this worker to these cores, and OpenCV to one thread: work is divided by photos."""
    import cv2

    cv2.setNumThreads(1)
    if cores:
        os.sched_setaffinity(0, cores)


def cores_here() -> tuple[int, ...] | None:
    """Return the cores that this process may use; empty where the system does not list them, None for a single core."""
    cores = tuple(sorted(os.sched_getaffinity(0))) if hasattr(os, "sched_getaffinity") else ()
    return None if (len(cores) or os.cpu_count() or 1) < 2 else cores


def _read(subject: Subject) -> str:
    return read_one(str(subject.path), subject.inputs)[0].reading.status.value


def spin(count: int) -> int:
    """Plain arithmetic that needs neither memory nor files."""
    return sum(k * k for k in range(count))


def two_cores_against_one(subjects: list[Subject], rounds: int) -> tuple[Ratio, Ratio] | None:
    """Compare photos per second of one process on each of two cores with one process on one core.

    None on a single core. The second ratio is that of plain arithmetic in the same pools: what the machine offers at
    the moment. Both pools are running and warm before anything is timed; batches are read in turn. Every process has
    one thread, so that only the division of photos is compared.
    """
    cores = cores_here()
    if cores is None:
        return None
    # Small matrices on several threads only wait for each other; a spawned process reads this when it starts.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    spawn = get_context("spawn")
    one = ProcessPoolExecutor(1, spawn, settle, (cores[:1],))
    two = ProcessPoolExecutor(2, spawn, settle, (cores[:2],))
    with one, two:
        list(one.map(_read, subjects[:2]))
        list(two.map(_read, subjects[:4]))
        times: tuple[list[float], list[float]] = ([], [])
        spins: tuple[list[float], list[float]] = ([], [])
        for _ in range(rounds):
            for which, pool in enumerate((one, two)):
                start = time.perf_counter()
                list(pool.map(_read, subjects))
                between = time.perf_counter()
                list(pool.map(spin, [3_000_000] * 4))
                times[which].append(between - start)
                spins[which].append(time.perf_counter() - between)
    return ratio_of(*times), ratio_of(*spins)
