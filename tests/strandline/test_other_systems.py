"""Windows and macOS, as far as Linux can show: what they lack is taken away, and their names and encodings are used.

Not the real systems: docs/trust.md says what was not tried on them.
"""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest

from ridelog.regular_file import read_regular, sync_folder
from ridelog.storage.store import Logbook
from strandline.shared.files import overlay_names, write_new
from tests.helpers.made_bikes import Garage

ADD = ("ride", "add", "--bike", "grey-twin", "--date", "2026-05-01", "--note", "wet")


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "garage")


@pytest.fixture
def lacking(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take away what Windows' Python does not have (library reference, "Availability: Unix")."""
    for name in ("fork", "O_NOFOLLOW", "O_NONBLOCK", "O_DIRECTORY", "getuid", "geteuid", "fchmod", "mkfifo"):
        monkeypatch.delattr(os, name, raising=False)


@pytest.mark.usefixtures("lacking")
def test_the_usual_commands_without_what_windows_lacks(garage: Garage, tmp_path: Path) -> None:
    for words in (
        ADD,
        ("ride", "amend", "1", "--note", "dry"),
        ("ride", "list"),
        (
            "sag",
            "--bike",
            "grey-twin",
            "--load",
            "solo",
            "--exposed",
            "rear=on-wheels 70 mm",
            "--date",
            "2026-05-01",
        ),
        ("bike", "edit", "grey-twin", "--set", "note=new"),
        ("logbook", "export", "-o", tmp_path / "out.json"),
        ("logbook", "backup", "-o", tmp_path / "out.sqlite"),
        ("logbook", "check"),
        ("advise", "--bike", "grey-twin"),
    ):
        garage.ok(*words)
    assert read_regular(garage.bike, 10_000)


def test_a_folder_that_cannot_be_synced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows opens no folder (EACCES), some network drives sync none (EINVAL); a disk that fails is said."""
    real = os.open
    for number in (errno.EACCES, errno.EPERM, errno.EINVAL, errno.ENOTSUP):

        def refuse(path: object, *rest: int, number: int = number, **more: int) -> int:
            if Path(str(path)).is_dir():
                raise OSError(number, os.strerror(number))
            return real(path, *rest, **more)  # type: ignore[arg-type]

        monkeypatch.setattr(os, "open", refuse)
        write_new(tmp_path / "a.toml", b"x", force=True)
        monkeypatch.undo()
    assert (tmp_path / "a.toml").read_bytes() == b"x"

    def broken(handle: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(os, "fsync", broken)
    with pytest.raises(OSError, match="error"):
        sync_folder(tmp_path)


def test_no_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, garage: Garage) -> None:
    """FAT and exFAT on a memory stick have none."""

    def refuse(*_: object, **__: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", refuse)
    garage.ok(*ADD)
    garage.ok("logbook", "backup", "-o", tmp_path / "stick.sqlite")
    garage.ok("logbook", "export", "-o", tmp_path / "stick.json")
    with Logbook.open(tmp_path / "stick.sqlite", create=False) as book:
        assert len(book.rides.all_rides()) == 1


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "ascii", "cp932"])
def test_output_in_the_code_pages_of_consoles(garage: Garage, encoding: str) -> None:
    """A console's code page lacks letters; UTF-8 mode is off, and the locale is C's, as where nothing is set."""
    garage.ok(*ADD, "--route", "Höhe ± → 峠")
    environment = {
        **{name: value for name, value in os.environ.items() if not name.startswith(("LC_", "LANG"))},
        **{"PYTHONIOENCODING": encoding, "PYTHONUTF8": "0", "LC_ALL": "C", "PYTHONCOERCECLOCALE": "0"},
        "PYTHONPATH": str(Path(__file__).parents[2]),
    }
    done = subprocess.run(
        [sys.executable, "-m", "strandline", "ride", "show", "1", "--logbook", str(garage.logbook)],
        env=environment,
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0 and b"Traceback" not in done.stderr, done.stderr
    # click takes ASCII for an encoding that nobody set, and writes UTF-8 (its documentation, "Unicode support")
    assert "H" in done.stdout.decode("utf-8" if encoding == "ascii" else encoding, "strict")


def test_names_that_differ_in_case_or_form_alone() -> None:
    """APFS and NTFS hold one of these only: overlays get names that differ otherwise."""
    composed, apart = (unicodedata.normalize(form, "Höhe.jpg") for form in ("NFC", "NFD"))
    names = overlay_names([Path("IMG_1.jpg"), Path("img_1.JPG"), Path(f"a/{composed}"), Path(f"b/{apart}")])
    assert len({unicodedata.normalize("NFC", name).casefold() for name in names}) == 4


def test_windows_paths_of_a_bike(garage: Garage) -> None:
    """A backslash makes a path of a name, on every system, and is never taken for a bike's name."""
    said = garage.refused("ride", "add", "--bike", "bikes\\grey-twin", "--note", "wet")
    assert "Traceback" not in said and "bikes\\" in said
