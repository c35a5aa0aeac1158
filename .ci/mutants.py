"""Change the code in a sample of places and see whether a test notices: ``python .ci/mutants.py``; ``--all`` for all.

First modules are drawn, long ones more often, then changes in these: making the changes of all modules takes longer
than running the tests on a sample. Both are drawn by the commit's hash, so that they are the same for one commit and
others for the next. It stops after ``--minutes``; what was not reached then is not counted. mutmut keeps its copy of
the project in ``mutants/``, which a sample makes anew.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
# mutmut takes its modules from pyproject.toml alone, and asks for the lines that tests run at every start; both are set
# here before it starts, by the names that 3.8.1 gives them (constraints.txt pins it).
MAKE = """
import sys
import mutmut.__main__ as tool
tool.config().only_mutate = sys.argv[2:]
tool.copy_src_dir()
tool.copy_also_copy_files()
tool.setup_source_paths()
tool.set_mutant_under_test("mutant_generation")
tool.store_lines_covered_by_tests()
tool.create_mutants(int(sys.argv[1]))
"""
TRY = """
import sys
import mutmut.__main__ as tool
children, modules = int(sys.argv[1]), int(sys.argv[2])
if modules:
    tool.config().only_mutate = sys.argv[3 : 3 + modules]
    tool.config().mutate_only_covered_lines = False  # known since they were made
tool._run(sys.argv[3 + modules :], children)
"""
MODULES = 6
"""Drawn for a sample, of some 50, so that their changes are made in about a minute [a choice]."""
# The runs of docs/mutation.md noticed 80 % of 3,319 changes, 66 to 88 % each. Where three in four are noticed a sample
# of 150 shows fewer than this once in 300 times [binomial distribution].
LEAST_NOTICED = 0.65
# mutmut's exit codes, as its `status_by_exit_code` has them.
KILLED = {1, 3}
OVER_TIME = {-24, 24, 36, 152, 255}
SURVIVED = 0


def known_changes() -> dict[str, int | None]:
    """Read every change that mutmut has made, with the exit code of its tests; None where they have not run."""
    found: dict[str, int | None] = {}
    for path in sorted((ROOT / "mutants").rglob("*.meta")):
        found.update(json.loads(path.read_text("utf-8"))["exit_code_by_key"])
    return found


def modules() -> list[str]:
    """List the modules that pyproject.toml lets mutmut change."""
    wanted = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["mutmut"]["only_mutate"]
    return sorted({str(path.relative_to(ROOT)) for pattern in wanted for path in ROOT.glob(pattern)})


def draw_modules(draw: random.Random) -> list[str]:
    """Draw without putting back, each by its lines."""
    left = {name: len((ROOT / name).read_text("utf-8").splitlines()) for name in modules()}
    drawn = []
    for _ in range(min(MODULES, len(left))):
        drawn += draw.choices(list(left), list(left.values()))
        del left[drawn[-1]]
    return sorted(drawn)


def run(script: str, *words: str, minutes: float | None = None) -> None:
    """Run mutmut, and interrupt it when its time is over."""
    process = subprocess.Popen(
        [sys.executable, "-c", script, str(os.cpu_count() or 2), *words],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        said, _ = process.communicate(timeout=None if minutes is None else 60 * minutes)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGINT)  # it waits for what is under way, and keeps what it has
        process.communicate()
        return
    if process.returncode:
        sys.exit(f"mutmut ended with {process.returncode}:\n{said[-2000:]}")


def main() -> int:
    """Draw, run, and count."""
    parser = argparse.ArgumentParser(prog="python .ci/mutants.py", description=__doc__)
    parser.add_argument("--all", action="store_true", help="all changes, without a limit of time (hours)")
    parser.add_argument("--sample", type=int, default=150, help="how many changes")
    parser.add_argument("--minutes", type=float, default=20.0, help="for running them")
    asked = parser.parse_args()
    if asked.all:
        run(TRY, "0")
        tried = known_changes()
    else:
        commit = subprocess.run(
            ["git", "rev-parse", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout.strip()
        draw = random.Random(commit)
        chosen = draw_modules(draw)
        print(f"Drawn by commit {commit[:7]}: {', '.join(chosen)}", flush=True)
        shutil.rmtree(ROOT / "mutants", ignore_errors=True)
        run(MAKE, *chosen)
        names = sorted(known_changes())
        drawn = draw.sample(names, min(asked.sample, len(names)))
        print(f"{len(drawn)} of their {len(names)} changes", flush=True)
        run(TRY, str(len(chosen)), *chosen, *drawn, minutes=asked.minutes)
        after = known_changes()
        tried = {name: after[name] for name in drawn}
    counts = Counter(
        "not run"
        if code is None
        else "noticed"
        if code in KILLED
        else "survived"
        if code == SURVIVED
        else "ended by its limit of time"
        if code in OVER_TIME
        else f"exit code {code}"
        for code in tried.values()
    )
    survivors = sorted(name for name, code in tried.items() if code == SURVIVED)
    print("\n".join(f"survived: {name}" for name in survivors))
    print(", ".join(f"{count} {what}" for what, count in counts.most_common()))
    judged = counts["noticed"] + counts["survived"]
    if not judged or counts["noticed"] < LEAST_NOTICED * judged:
        print(f"Too few are noticed: at least {LEAST_NOTICED:.0%} of those that ran to their end.")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
