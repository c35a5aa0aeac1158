"""What leaves the machine, and who on it may read the log.

The demands are the project's own; modes are POSIX (IEEE Std 1003.1, chmod).
"""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.storage.store import Logbook
from strandline.day.pipeline import run_day
from strandline.pool.file import owner_label
from tests.helpers.made_day import MadeDay

POSIX = pytest.mark.skipif(os.name != "posix", reason="modes mean something else on this system")


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def open_umask() -> Iterator[None]:
    """Make new files readable by everybody, unless the program says otherwise."""
    before = os.umask(0o000)
    yield
    os.umask(before)


@POSIX
@pytest.mark.usefixtures("open_umask")
def test_a_new_logbook_is_its_owners_alone(tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "logbook.sqlite"
    with Logbook.open(path):
        assert mode(path) == 0o600
        assert mode(path.parent) == 0o700
    assert mode(path) == 0o600


@POSIX
@pytest.mark.usefixtures("open_umask")
def test_a_logbook_named_by_a_link_is_its_owners_alone(tmp_path: Path) -> None:
    """The link may be there before the file, as into a folder that is kept in step with another machine."""
    (tmp_path / "link.sqlite").symlink_to(tmp_path / "kept" / "logbook.sqlite")
    with Logbook.open(tmp_path / "link.sqlite"):
        pass
    assert mode(tmp_path / "kept" / "logbook.sqlite") == 0o600
    assert mode(tmp_path / "kept") == 0o700


@POSIX
@pytest.mark.usefixtures("open_umask")
@pytest.mark.parametrize(
    ("words", "made"),
    [
        (["bike", "new", "Grey twin", "--blank"], "data/strandline/bikes"),
        (["settings", "units=in"], "config/strandline"),
    ],
    ids=["bike", "settings"],
)
def test_the_first_command_makes_private_folders(tmp_path: Path, words: list[str], made: str) -> None:
    """Whichever comes first, up to what was there before (XDG Base Directory Specification: mode 0700)."""
    done = subprocess.run(
        [sys.executable, "-m", "strandline", *words],
        env={
            **os.environ,
            "XDG_DATA_HOME": str(tmp_path / "data"),
            "XDG_CONFIG_HOME": str(tmp_path / "config"),
            "STRANDLINE_SETTINGS": "",
        },
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    folder = tmp_path / made
    while folder != tmp_path:
        assert mode(folder) == 0o700, folder
        folder = folder.parent


@POSIX
def test_the_mode_that_an_owner_gave_a_logbook_stays(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    with Logbook.open(path):
        pass
    path.chmod(0o640)
    with Logbook.open(path):
        pass
    assert mode(path) == 0o640


@POSIX
def test_a_reading_leaves_nothing_in_home_or_temporary_folder(tmp_path: Path) -> None:
    """ONNX Runtime's wheels (1.32) keep a number for the machine and call home, unless they are stopped in time."""
    home, temporary = tmp_path / "home", tmp_path / "temporary"
    home.mkdir()
    temporary.mkdir()
    # With the first of these the number is not kept, with XDG's folders elsewhere.
    left_out = ("CI", "GITHUB_ACTIONS", "TF_BUILD", "ORT_DISABLE_TELEMETRY")
    kept = {
        name: value
        for name, value in os.environ.items()
        if name not in left_out and not name.startswith("XDG_")
    }
    words = ["sample-images/fork-chrome-blue-tie.jpg", "--shaft", "41 mm", "--layout", "fork", "--json"]
    done = subprocess.run(
        [sys.executable, "-m", "strandline", "read", *words],
        env=kept | {"HOME": str(home), "TMPDIR": str(temporary)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.startswith("{"), done.stderr
    assert [one.relative_to(tmp_path) for one in (*home.rglob("*"), *temporary.rglob("*"))] == []


def test_results_of_a_day_name_no_folder_above_it(tmp_path: Path) -> None:
    """Nor does the file in which a day keeps what it has read: the folder of results is handed on as it is."""
    day = MadeDay(tmp_path / "somebodys-home" / "day")
    for number in (3, 4):
        day.put(f"{number} fl.jpg", card=number)
    results = run_day(day.request)
    assert results.read == 2
    files = [path for path in day.out.rglob("*") if path.is_file()]
    assert len(files) >= 6
    for path in files:
        assert b"somebodys-home" not in path.read_bytes(), path.name


def test_a_day_that_was_moved_is_not_hashed_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    day = MadeDay(tmp_path / "day")
    day.put("fl.jpg", card=3)
    run_day(day.request)
    day.folder.rename(tmp_path / "moved")
    hashed: list[Path] = []
    monkeypatch.setattr("strandline.day.reading.pass_over_folder.content_hash", hashed.append)
    results = run_day(replace(day.request, folder=tmp_path / "moved", out=tmp_path / "moved" / "results"))
    assert results.read == 1 and hashed == []


def test_labels_of_owners_are_linked_only_where_asked() -> None:
    assert owner_label("bike", "a") != owner_label("bike", "b")
    assert owner_label("bike") == owner_label("bike") != owner_label("other bike")
