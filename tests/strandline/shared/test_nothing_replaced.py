"""What --force, two processes at once and odd names must not cost: the logbook, the other's change, the ride.

Two processes are real ones where what counts is the lock; the demands are the project's own.
"""

from __future__ import annotations

import contextlib
import os
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from ridelog.storage.check import check_file
from ridelog.storage.store import Logbook
from strandline.__main__ import cli
from strandline.shared.files import OutputError, write_new
from strandline.shared.one_at_a_time import one_at_a_time
from tests.helpers.made_bikes import Garage

ROOT = Path(__file__).parents[3]
MAIN = "import sys; from strandline.__main__ import main; sys.exit(main())"


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    made = Garage(tmp_path / "garage")
    made.ok("ride", "add", "--bike", "grey-twin", "--note", "wet")
    return made


@pytest.mark.parametrize(
    "words",
    [
        ("logbook", "export"),
        ("logbook", "backup"),
        ("logbook", "repair"),
        ("card",),
        ("pool", "demo"),
    ],
)
def test_no_output_replaces_the_logbook(garage: Garage, words: tuple[str, ...]) -> None:
    before = garage.logbook.read_bytes()
    more = ("--logbook", str(garage.logbook)) if words[0] == "logbook" else ()
    done: Result = CliRunner().invoke(cli, [*words, "-o", str(garage.logbook), "--force", *more])
    assert done.exit_code == 1 and "logbook" in done.stderr and "Name another file" in done.stderr
    assert garage.logbook.read_bytes() == before and not check_file(garage.logbook).findings


def test_a_backup_replaces_an_older_one_and_no_other_name_of_the_logbook(garage: Garage) -> None:
    copy, other = garage.logbook.with_name("copy.sqlite"), garage.logbook.with_name("other.sqlite")
    for _ in range(2):
        garage.ok("logbook", "backup", "-o", copy, "--force")
    os.link(garage.logbook, other)
    assert "the logbook itself" in garage.refused("logbook", "backup", "-o", other, "--force")


def test_the_logbook_of_an_unfinished_commit_is_one(tmp_path: Path) -> None:
    """Any file of SQLite's: its first 16 bytes say so."""
    path = tmp_path / "x.pdf"
    path.write_bytes(b"SQLite format 3\0torn")
    with pytest.raises(OutputError, match="nothing replaces"):
        write_new(path, b"%PDF", force=True)
    assert path.read_bytes().endswith(b"torn")


@pytest.mark.parametrize("name", [":memory:", "file::memory:?cache=shared", "file:ride.sqlite?mode=memory"])
def test_names_that_mean_something_to_sqlite_are_files(
    garage: Garage, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite's documentation, "In-Memory Databases" and "Uniform Resource Identifiers"."""
    monkeypatch.chdir(garage.logbook.parent)
    try:
        Path(name).touch()
    except OSError:
        pytest.skip("no file can have this name here")
    words = ["ride", "add", "--bike", str(garage.bike), "--note", "wet", "--logbook", name]
    assert CliRunner().invoke(cli, words).exit_code == 0
    with Logbook.open(garage.logbook.parent / name) as book:
        assert len(book.rides.all_rides()) == 1


def test_changes_of_two_processes_are_both_kept(garage: Garage) -> None:
    command = [sys.executable, "-c", MAIN, "bike", "edit", "grey-twin", "--set", "mass=211 kg"]
    with one_at_a_time(garage.bike):
        before = garage.bike.read_text(encoding="utf-8")
        other = subprocess.Popen([*command, "--logbook", str(garage.logbook)], cwd=ROOT)
        # Long enough for it to have written, were there no lock: it takes some 0.3 s.
        with contextlib.suppress(subprocess.TimeoutExpired):
            other.wait(4.0)
        write_new(garage.bike, f'note = "mine"\n{before}'.encode(), force=True)
    assert other.wait(60.0) == 0
    after = garage.bike.read_text(encoding="utf-8")
    assert "211 kg" in after and 'note = "mine"' in after


def test_an_editor_does_not_take_back_what_was_changed_meanwhile(
    garage: Garage, monkeypatch: pytest.MonkeyPatch
) -> None:
    def edit(text: str, **_: object) -> str:
        garage.ok("bike", "edit", "grey-twin", "--set", "mass=211 kg")
        return f'note = "mine"\n{text}'

    monkeypatch.setattr("click.edit", edit)
    said = garage.refused("bike", "edit", "grey-twin")
    draft = garage.bike.with_name(garage.bike.name + ".draft")
    assert "changed meanwhile" in said and str(draft) in said
    assert "211 kg" in garage.bike.read_text(encoding="utf-8")
    assert 'note = "mine"' in draft.read_text(encoding="utf-8")


def test_a_setting_that_another_command_sets_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    def edit(text: str, **_: object) -> str:
        assert CliRunner().invoke(cli, ["settings", "units=in"]).exit_code == 0
        return f'{text}\npaper = "letter"\n'

    monkeypatch.setattr("click.edit", edit)
    done = CliRunner().invoke(cli, ["settings", "--edit"], input="n\n")
    assert "changed meanwhile" in done.stderr
    assert "units" in CliRunner().invoke(cli, ["settings"]).stdout
    CliRunner().invoke(cli, ["settings", "units=", "paper="])


@pytest.mark.skipif(os.name != "posix", reason="modes mean something else on this system")
def test_modes_stay_and_exports_are_their_owners_alone(garage: Garage) -> None:
    garage.bike.chmod(0o600)
    garage.ok("bike", "edit", "grey-twin", "--set", "mass=211 kg")
    garage.ok("logbook", "export", "-o", garage.logbook.with_name("out.json"))
    for path in (garage.bike, garage.logbook.with_name("out.json")):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path


def test_a_lock_that_cannot_be_made_is_done_without(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_bytes(b"")
    monkeypatch.setattr("platformdirs.user_cache_path", lambda *_, **__: tmp_path / "file")
    began = time.monotonic()
    with one_at_a_time(tmp_path / "x"):
        pass
    assert time.monotonic() - began < 5
