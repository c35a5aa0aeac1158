"""Outside material that tests check against, and what happens where it is missing.

On a person's machine a test without its material is skipped with the reason. In CI (``CI`` set) it fails.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.helpers.outside import missing

# No deadline for an example, nor a limit on how long drawing one takes: both would fail on a busy machine.
settings.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any machine")

OPENCV_DOC = Path("/usr/share/doc/opencv-doc")


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


@pytest.fixture(scope="session", autouse=True)
def no_settings_of_the_person(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep the settings of whoever runs the tests out of them, and the tests out of these settings."""
    before = os.environ.get("STRANDLINE_SETTINGS")
    os.environ["STRANDLINE_SETTINGS"] = str(tmp_path_factory.mktemp("settings") / "settings.toml")
    yield
    if before is None:
        del os.environ["STRANDLINE_SETTINGS"]
    else:
        os.environ["STRANDLINE_SETTINGS"] = before
