"""Memory and time of reading photos of 12, 24 and 48 megapixels, each in a process of its own."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bench.measures import LAUNCH
from bench.photo12 import DEFAULT, WIDTH_PX, enlarged

# Widths, px, of 4:3 pictures: 12 megapixels as most phones write, 24 and 48 as newer ones do.
WIDTHS_PX = (WIDTH_PX, 5656, 8000)
# Readings of which the quickest counts: others only wait for other work on the machine.
ROUNDS = 3
_PROGRAM = """
import resource, sys, time
import cv2
from bench.photo12 import sample_named
from strandline.read.one_photo import read_one
from strandline.read.parse import parse_options
cv2.setNumThreads(1)
declared = parse_options(sample_named(sys.argv[2]).options)
outcome, _ = read_one(sys.argv[1], declared)
assert outcome.reading.status.value != 'refused', outcome.messages
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == 'darwin' else 1e3)
def quickest(work):
    times = []
    for _ in range(int(sys.argv[3])):
        start = time.process_time(); work(); times.append(time.process_time() - start)
    return min(times)
from PIL import Image
print(peak, quickest(lambda: read_one(sys.argv[1], declared)), quickest(lambda: Image.open(sys.argv[1]).load()))
"""


@dataclass(frozen=True)
class LargePhoto:
    """One size.

    Attributes
    ----------
    megapixels : float
    peak_mb : float
        Largest resident memory of the process that read it once.
    read_s, decode_s : float
        Processor time of reading it, and of Pillow's decoding alone.
    """

    megapixels: float
    peak_mb: float
    read_s: float
    decode_s: float


def measure_large(name: str = DEFAULT) -> Iterator[LargePhoto]:
    """Enlarge a sample photo and read it, size by size. POSIX only (getrusage)."""
    for width in WIDTHS_PX:
        with tempfile.TemporaryDirectory() as folder:
            path = enlarged(Path(folder), name, width).path
            words = [
                sys.executable,
                "-c",
                LAUNCH,
                sys.executable,
                "-c",
                _PROGRAM,
                str(path),
                name,
                str(ROUNDS),
            ]
            done = subprocess.run(words, capture_output=True, text=True, check=True)
        peak_mb, read_s, decode_s = (float(word) for word in done.stdout.split()[-3:])
        yield LargePhoto(width * width * 3 / 4 / 1e6, peak_mb, read_s, decode_s)
