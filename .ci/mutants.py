"""Change the code in a sample of places and see whether a test notices: ``python .ci/mutants.py``; ``--all`` for all.

The sample is drawn by the commit's hash, so that it is the same for one commit and another for the next. It stops after
``--minutes``; what was not reached then is not counted. mutmut keeps its copy of the project in ``mutants/``.
"""

from __future__ import annotations

import argparse
import json
import random
import signal
import subprocess
import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
# Beside .venv/bin/python, which runs this.
MUTMUT = str(Path(sys.executable).with_name("mutmut"))
# Any one change: with it mutmut makes all, of which the sample is drawn.
FIRST = "strandline.pool.file.x_owner_label*"
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


def run(names: list[str], minutes: float | None = None) -> None:
    """Run mutmut for changes, and interrupt it when its time is over."""
    process = subprocess.Popen([MUTMUT, "run", *names], cwd=ROOT, stdout=subprocess.PIPE, text=True)
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
        run([])
        tried = known_changes()
    else:
        run([FIRST])
        commit = subprocess.run(
            ["git", "rev-parse", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout.strip()
        names = sorted(known_changes())
        drawn = random.Random(commit).sample(names, min(asked.sample, len(names)))
        print(f"{len(drawn)} of {len(names)} changes, drawn by commit {commit[:7]}", flush=True)
        run(drawn, asked.minutes)
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
