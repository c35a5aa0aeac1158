"""Fuzz parsers, guided by the lines that they run: ``python -m tests.fuzz --seconds 60 toml csv``.

Each parser runs in a process of its own, with Atheris, which drives libFuzzer. What it finds on the way is kept in
``.fuzz/NAME``, crashes in ``.fuzz/crashes``; what made the program end in anything but words becomes a seed when it
is fixed, in ``tests/fuzz/seeds/NAME``, where a test replays it.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
from pathlib import Path

SEEDS = Path(__file__).parent / "seeds"
FOUND = Path(".fuzz")
# An input that takes longer is a crash, s and MB: parsers of small files need milliseconds; a photo may take 10 s
# and 1 GB (calibration.photo_limits).
TIMEOUT_S = 25
MEMORY_MB = 2_048
# These have no words that help; libFuzzer refuses a list without any.
BINARY = {"photo", "stripped", "exif"}
ROOMS = ["calibration", "ridelog", "strandline", "suspension"]
LIBRARIES = ["PIL", "tomllib", "tomlkit", "csv", "json", "python_multipart", "urllib"]


def words_of(name: str) -> Path:
    """Write down the words of a parser's seeds, which libFuzzer puts into its inputs: their names and their marks."""
    found: set[bytes] = set()
    for seed in sorted((SEEDS / name).iterdir()):
        content = seed.read_bytes()
        found.update(re.findall(rb"[A-Za-z0-9_.+-]{3,40}|[\[\]{}=:;,%#'\"\\\n]{1,3}", content))
    path = FOUND / f"{name}.words"
    written = ("".join(f"\\x{byte:02x}" for byte in word) for word in sorted(found))
    path.write_text("".join(f'"{word}"\n' for word in written), encoding="ascii")
    return path


def run(name: str, arguments: list[str]) -> None:
    """Hand one parser to libFuzzer, which ends this process."""
    import atheris

    with atheris.instrument_imports(include=[*ROOMS, *LIBRARIES]):
        from tests.fuzz.targets import TARGETS

        target = TARGETS[name]
        # Most parsers import what they need as they run: without this their lines would guide nothing.
        for seed in sorted((SEEDS / name).iterdir()):
            target.attack(seed.read_bytes())
    atheris.Setup(
        [
            *arguments,
            f"-max_len={target.longest}",
            f"-timeout={TIMEOUT_S}",
            f"-rss_limit_mb={MEMORY_MB}",
            "-verbosity=1",
        ],
        target.attack,
    )
    atheris.Fuzz()


def fuzz(name: str, seconds: int) -> None:
    """Fuzz one parser in this process, which ends with it."""
    arguments = [
        str(FOUND / name),
        str(SEEDS / name),
        f"-max_total_time={seconds}",
        f"-artifact_prefix={FOUND / 'crashes' / name}-",
        "-print_final_stats=1",
    ]
    if name not in BINARY:
        arguments.append(f"-dict={words_of(name)}")
    run(name, [sys.argv[0], *arguments])


def reduce(name: str) -> None:
    """Keep of what was found the smallest files that run the same lines, in `.fuzz/min-NAME`."""
    smallest = FOUND / f"min-{name}"
    smallest.mkdir(parents=True, exist_ok=True)
    # libFuzzer starts itself once more, by the name of its program.
    again = FOUND / f"{name}.sh"
    again.write_text(
        f'#!/bin/sh\nexec {sys.executable} -m tests.fuzz --inner {name} -- "$@"\n', encoding="utf-8"
    )
    again.chmod(0o755)
    run(name, [str(again.absolute()), "-merge=1", str(smallest), str(FOUND / name), str(SEEDS / name)])


def main() -> int:
    """Fuzz those that are named, or all, and count the crashes."""
    known = sorted(one.name for one in SEEDS.iterdir())
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz")
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of {', '.join(known)}")
    parser.add_argument("--seconds", type=int, default=60, help="for each")
    parser.add_argument("--reduce", action="store_true", help="keep the smallest of what was found, and stop")
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--inner", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.here:
        fuzz(asked.names[0], asked.seconds)
    if asked.reduce:
        reduce(asked.names[0])
    if asked.inner:
        run(asked.names[0], [str((FOUND / f"{asked.names[0]}.sh").absolute()), *asked.names[1:]])
    failed = []
    for name in asked.names or known:
        for folder in (FOUND / name, FOUND / "crashes"):
            folder.mkdir(parents=True, exist_ok=True)
        command = [sys.executable, "-m", "tests.fuzz", "--here", name, "--seconds", str(asked.seconds)]
        done = subprocess.run(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            check=False,
        )
        runs = [line for line in done.stdout.splitlines() if "number_of_executed_units" in line]
        print(f"{name}: {runs[-1].split()[-1] if runs else '?'} inputs in {asked.seconds} s", flush=True)
        if done.returncode:
            failed.append(name)
            print("\n".join(done.stdout.splitlines()[-40:]), flush=True)
    print(f"Crashed: {', '.join(failed)}." if failed else "No crash.")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
