"""Which packages a command loads, seen from a process of its own."""

from __future__ import annotations

import subprocess
import sys

HEAVY = {
    "numpy",
    "cv2",
    "scipy",
    "skimage",
    "pint",
    "uncertainties",
    "rich",
    "reportlab",
    "PIL",
    "pi_heif",
    "matplotlib",
}
ROOMS = {"vision", "calibration", "suspension", "ridelog"}


def modules_after(*words: str) -> set[str]:
    code = (
        "import sys\n"
        f"sys.argv = ['strandline', *{words!r}]\n"
        "from strandline.__main__ import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print('MODULES', *{name.split('.')[0] for name in sys.modules})\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.rsplit("MODULES", 1)[1].split())
