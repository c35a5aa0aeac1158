"""Outside material that tests check against, and what happens where it is missing.

On a person's machine a test without its material is skipped with the reason. In CI (``CI`` set) it fails.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

OPENCV_DOC = Path("/usr/share/doc/opencv-doc")


def missing(what: str, remedy: str) -> None:
    """Skip the test for want of outside material, or fail it in CI."""
    if os.environ.get("CI"):
        pytest.fail(f"{what} must be there in CI: {remedy}", pytrace=False)
    pytest.skip(f"{what} is not here: {remedy}")


@pytest.fixture(scope="session")
def opencv_doc() -> Path:
    """Folder of Debian's package opencv-doc."""
    if not (OPENCV_DOC / "examples/data/left_intrinsics.yml").is_file():
        missing("OpenCV's example data", "install Debian's opencv-doc with its documentation files")
    return OPENCV_DOC


@pytest.fixture(scope="session")
def opencv_data(opencv_doc: Path) -> Path:
    """Real photos of OpenCV's examples, with published intrinsics of one camera."""
    return opencv_doc / "examples/data"


@pytest.fixture(scope="session")
def exiftool() -> str:
    """Path of exiftool, a second reader of EXIF."""
    found = shutil.which("exiftool")
    if found is None:
        missing("exiftool", "install Debian's libimage-exiftool-perl")
    return str(found)
