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
from strandline.bike.questions import file_name
from strandline.day.identify.roster_legs import find_bike
from strandline.shared.files import overlay_names, write_new
from tests.helpers.made_bikes import BIKE, Garage

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
    if not hasattr(os, "O_DIRECTORY"):  # a folder that cannot be opened has nothing that could fail
        return
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


LIKE_WINDOWS = Path(__file__).parents[1] / "helpers" / "like_windows"


@pytest.mark.long
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="asks Linux which files are open")
def test_commands_where_files_are_as_on_windows(garage: Garage, tmp_path: Path) -> None:
    """Open files cannot be replaced, folders not be opened, no fcntl, no resource; C's locale, no UTF-8 mode."""
    environment = {
        **{name: value for name, value in os.environ.items() if not name.startswith(("LC_", "LANG"))},
        **{"PYTHONUTF8": "0", "LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": "cp1252"},
        "PYTHONPATH": os.pathsep.join([str(LIKE_WINDOWS), str(Path(__file__).parents[2])]),
    }
    samples = Path(__file__).parents[2] / "sample-images"
    photos = [samples / name for name in ("fork-chrome-blue-tie.jpg", "upside-down-fork-orange-tie.jpg")]
    photos.append(tmp_path / "IMG_1.jpg")  # three are read in a process of their own
    photos[-1].write_bytes(photos[0].read_bytes() + b"\0")
    book = ("--logbook", garage.logbook)
    for words in (
        (*ADD, "--route", "Ridge", *book),
        ("ride", "amend", "1", "--note", "dry", *book),
        ("sag", "--bike", "grey-twin", "--exposed", "rear=on-wheels 70 mm", *book),
        ("bike", "edit", "grey-twin", "--set", "note=new", *book),
        ("bike", "edit", "grey-twin", "--set", "note=newer", *book),
        ("logbook", "export", "-o", tmp_path / "out.json", *book),
        ("logbook", "import", tmp_path / "out.json", *book),
        ("logbook", "backup", "-o", tmp_path / "out.sqlite", *book),
        ("logbook", "backup", "-o", tmp_path / "out.sqlite", "--force", *book),
        ("logbook", "check", *book),
        ("read", *photos, "--shaft", "41.0 mm", "--layout", "fork", "-o", tmp_path / "read"),
        ("day", "new", tmp_path / "day", "--count", "2"),
    ):
        done = subprocess.run(
            [sys.executable, "-c", _MAIN, *map(str, words)], env=environment, capture_output=True, check=False
        )
        said = done.stderr.decode("cp1252", "replace")
        # `read` ends with 1 where a photo was refused.
        assert done.returncode <= (words[0] == "read") and "Traceback" not in said, (words, said)
    assert len(list((tmp_path / "read").glob("*-reading.jpg"))) >= 2


_MAIN = """
import sys
try:
    import fcntl
except ImportError:
    from strandline.__main__ import main
    sys.exit(main())
sys.exit("nothing was taken away")
"""


@pytest.mark.parametrize("name", ["CON", "nul", "Com1", "LPT9", "Aux."])
def test_no_file_is_called_as_windows_calls_a_device(name: str) -> None:
    """Microsoft, "Naming Files, Paths, and Namespaces": with any ending."""
    made = file_name(name)
    assert made.partition(".")[0] not in ("con", "nul", "com1", "lpt9", "aux") and made.endswith(".toml")
    assert file_name("Connie") == "connie.toml"


def test_accents_in_either_form_are_one_name(tmp_path: Path) -> None:
    """A name as HFS+ keeps it (Unicode, annex 15: NFD) and as keyboards give it (NFC), and the other way round."""
    composed, apart = (unicodedata.normalize(form, "Höhe") for form in ("NFC", "NFD"))
    assert composed != apart
    for number, (stored, typed) in enumerate(((composed, apart), (apart, composed))):
        garage = Garage(tmp_path / str(number))
        garage.bike.rename(garage.bike.with_name(f"{stored}.toml"))
        add = ("ride", "add", "--bike", typed, "--date", "2026-05-01", "--note", "wet")
        garage.ok(*add, "--load", stored)
        garage.ok(*add, "--load", typed)
        with Logbook.open(garage.logbook, create=False) as book:
            (bike,) = book.bikes.all_bikes()
            assert len(book.loads.current(bike.id)) == 1


def test_a_roster_that_was_written_on_another_system(tmp_path: Path) -> None:
    """Backslashes from Windows, accents from macOS; what names a file outside the folder stays refused."""
    day = tmp_path / "day"
    (day / "bikes").mkdir(parents=True)
    (day / "bikes" / f"{unicodedata.normalize('NFC', 'höhe')}.toml").write_text(BIKE, encoding="utf-8")
    (tmp_path / "outside.toml").write_text(BIKE, encoding="utf-8")
    for written in ("bikes\\höhe.toml", unicodedata.normalize("NFD", "bikes/höhe.toml")):
        assert find_bike(day, written).file is not None, written
    for written in ("..\\outside.toml", "bikes\\..\\..\\outside.toml", "bikes\\none.toml"):
        assert find_bike(day, written).file is None and find_bike(day, written).problem, written
