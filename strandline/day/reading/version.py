"""Version of the program that reads: its code, its networks and the libraries that a reading depends on."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from strandline import __version__

# Everything that a reading, or what is kept of it, depends on; tests and training are not among it.
_ROOMS = ("calibration", "vision", "suspension")
_OWN = (
    "read/one_photo.py",
    "read/overlays.py",
    "read/causes.py",
    "read/inputs.py",
    "read/parse.py",
    "read/sources.py",
    "read/stroke.py",
    "shared/fields.py",
    "day/identify/sighting.py",
    "day/output/small_pictures.py",
    "day/reading/from_outcome.py",
    "day/reading/records.py",
    "day/reading/worker_job.py",
)
_LIBRARIES = (
    "numpy",
    "opencv-python",
    "opencv-python-headless",
    "onnxruntime",
    "scipy",
    "Pillow",
    "pi-heif",
    "simplejpeg",
)


@cache
def program_version() -> str:
    """Version and check sum of the program, so that readings of a changed program are never taken for this one's.

    Returns
    -------
    str
        For example ``0.1.0+3f2a…``.
    """
    found = hashlib.sha256()
    root = Path(__file__).resolve().parents[3]
    files = [path for room in _ROOMS for path in (root / room).rglob("*") if path.suffix in (".py", ".onnx")]
    files += [root / "strandline" / name for name in _OWN]
    for path in sorted(files):
        found.update(path.relative_to(root).as_posix().encode() + b"\0")
        found.update(hashlib.sha256(path.read_bytes()).digest())
    for name in _LIBRARIES:
        try:
            found.update(f"{name} {version(name)}\0".encode())
        except PackageNotFoundError:
            continue
    return f"{__version__}+{found.hexdigest()[:16]}"
