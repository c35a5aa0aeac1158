"""Install the project beside the logging library `Logbook` in a fresh venv, and try both: ``python .ci/apart.py``.

That library owns the import name ``logbook``, which a package of this project once had, too.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]

TRY_BOTH = """
from importlib.metadata import version

import logbook, ridelog, ridelog.names, calibration, suspension, vision, strandline
assert hasattr(logbook, "Logger"), "logbook is not the logging library"
assert ridelog.__file__ and logbook.__file__ and ridelog.__file__ != logbook.__file__
with logbook.TestHandler() as seen:
    logbook.Logger("try").warning("both are there")
assert seen.has_warning("both are there")
print("Logbook", version("Logbook"), "and strandline", version("strandline"))
"""


def main() -> None:
    """Make the venv, install both, and run each; the first failure ends it."""
    with tempfile.TemporaryDirectory() as folder:
        venv.create(folder, with_pip=True)
        bin_ = Path(folder) / ("Scripts" if sys.platform == "win32" else "bin")
        pip = [str(bin_ / "python"), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
        # Installed as a wheel, not editable: what an owner gets.
        subprocess.run([*pip, "-c", str(ROOT / "constraints.txt"), str(ROOT), "Logbook"], check=True)
        for command in (
            [str(bin_ / "python"), "-c", TRY_BOTH],
            [str(bin_ / "strandline"), "--version"],
            [str(bin_ / "strandline"), "ride", "list", "--help"],
        ):
            subprocess.run(command, check=True, cwd=folder)


if __name__ == "__main__":
    main()
