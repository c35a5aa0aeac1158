"""Fuzz all parsers side by side, and count processor time for each: ``python -m tests.fuzz.hours --minutes 60``.

One process for each parser, or for each that is named (twice for two); those of one parser share what they find. A
process that ends with a crash is started again for what is left of its time, so that a crash that lies on the way does
not end the search behind it. Figures go to ``.fuzz/hours.csv`` as they come; ``--least`` lists what each has had.
"""

from __future__ import annotations

import argparse
import csv
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections import defaultdict

from tests.fuzz.__main__ import FOUND, SEEDS

TABLE = FOUND / "hours.csv"
COLUMNS = ("name", "inputs", "covered", "cpu_s", "wall_s", "status")
# A parser that ends its process as often as this, and at once, teaches nothing new by one more.
MOST_CRASHES = 40
# What libFuzzer ends with when its time is over, and when it was asked to end.
ENDED, ASKED_TO_END = 0, 72
_writing = threading.Lock()
_stopping = threading.Event()
_children: set[subprocess.Popen[bytes]] = set()


def run_one(name: str, seconds: float) -> bool:
    """Run one process to its end, write its line, and say whether it came to its time's end."""
    begun = time.monotonic()
    command = [sys.executable, "-m", "tests.fuzz", "--here", name, "--seconds", str(max(int(seconds), 1))]
    with (FOUND / f"{name}-{time.time_ns()}.log").open("wb+") as log:
        child = subprocess.Popen(command, stdout=log, stderr=subprocess.STDOUT)
        _children.add(child)
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        _children.discard(child)
        log.seek(0)
        said = log.read().decode("utf-8", "replace")
    inputs = re.findall(r"number_of_executed_units: *(\d+)", said) or re.findall(r"^#(\d+)\t", said, re.M)
    covered = re.findall(r" cov: (\d+)", said)
    line = (
        name,
        inputs[-1] if inputs else "",
        covered[-1] if covered else "",
        f"{used.ru_utime + used.ru_stime:.1f}",
        f"{time.monotonic() - begun:.1f}",
        str(child.returncode),
    )
    with _writing, TABLE.open("a", newline="", encoding="utf-8") as table:
        csv.writer(table).writerow(line)
    print(*line, flush=True)
    return child.returncode in (ENDED, ASKED_TO_END)


def run_for(name: str, seconds: float) -> None:
    """Fuzz one parser for a time, whatever ends its process."""
    until, crashes = time.monotonic() + seconds, 0
    while not _stopping.is_set() and until - time.monotonic() > 1 and crashes < MOST_CRASHES:
        crashes += not run_one(name, until - time.monotonic())


def had() -> dict[str, tuple[int, float, int]]:
    """Sum what was run: inputs, seconds of processor, ends that were none of time."""
    sums: dict[str, tuple[int, float, int]] = defaultdict(lambda: (0, 0.0, 0))
    if TABLE.exists():
        with TABLE.open(newline="", encoding="utf-8") as table:
            for name, inputs, _, cpu_s, _, status in csv.reader(table):
                before = sums[name]
                crashed = int(status) not in (ENDED, ASKED_TO_END)
                sums[name] = (before[0] + int(inputs or 0), before[1] + float(cpu_s), before[2] + crashed)
    return {one.name: sums[one.name] for one in sorted(SEEDS.iterdir())}


def _stop(*_: object) -> None:
    _stopping.set()
    for child in list(_children):
        child.terminate()


def main() -> int:
    """Fuzz, or list."""
    signal.signal(signal.SIGTERM, _stop)
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.hours")
    parser.add_argument(
        "names", nargs="*", metavar="NAME", help="one process each; default: one for each parser"
    )
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--list", action="store_true", help="only list what each has had")
    asked = parser.parse_args()
    (FOUND / "crashes").mkdir(parents=True, exist_ok=True)
    if not asked.list:
        names = asked.names or list(had())
        for name in names:
            (FOUND / name).mkdir(exist_ok=True)
        threads = [threading.Thread(target=run_for, args=(one, 60 * asked.minutes)) for one in names]
        for one in threads:
            one.start()
        for one in threads:
            one.join()
    for name, (inputs, cpu_s, crashes) in sorted(had().items(), key=lambda one: one[1][1]):
        print(f"{name:12} {inputs:12,} inputs {cpu_s / 60:7.1f} min of processor {crashes:4} crashes")
    return 1 if any(crashes for _, _, crashes in had().values()) else 0


if __name__ == "__main__":
    sys.exit(main())
