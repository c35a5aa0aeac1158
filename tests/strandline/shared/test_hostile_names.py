"""Names that are too long, hold control characters, or begin as a formula.

XML 1.0, section 2.2, says which characters a document may hold; the parser is Python's own expat. NAME_MAX is 255 in
Linux (limits.h). Formulas: OWASP, CSV injection.
"""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from click.testing import CliRunner

from ridelog.errors import TransferError
from ridelog.transfer.as_csv import read_csv, without_formulas
from strandline.__main__ import cli
from strandline.bike.questions import file_name
from strandline.charts.style import new_figure, picture, title
from strandline.day.identify.roster_legs import find_bike
from strandline.shared.files import OutputError, overlay_names, write_new
from tests.helpers.made_bikes import Garage
from tests.helpers.made_day import run
from tests.helpers.made_records import BIKE, entry, new_logbook, put_bike, put_ride


@pytest.mark.parametrize("letter", ["a", "é", "漢"])
@pytest.mark.parametrize("size", [230, 243, 245, 251])
def test_overlays_of_long_stems_fit(tmp_path: Path, letter: str, size: int) -> None:
    """Each has a name that the file system takes, and no two the same."""
    stem = letter * (size // len(letter.encode()))
    photos = [tmp_path / f"{stem}.jpg", tmp_path / f"{stem[:-1]}b.jpg"]
    names = overlay_names(photos)
    assert len(set(names)) == 2
    for name in names:
        write_new(tmp_path / name, b"x", force=False)


def test_a_name_that_is_too_long_is_one_message(tmp_path: Path) -> None:
    """Not an error of the system, which would end a batch."""
    with pytest.raises(OutputError, match="cannot be written"):
        write_new(tmp_path / ("a" * 300), b"x", force=False)


def test_charts_with_control_characters_are_xml() -> None:
    """A route with a bell, an escape and what XML does not have."""
    figure = new_figure(2.0)
    axes = figure.subplots()
    axes.set_xticks([0, 1], ["a\x1b[31m", "b\x07"])
    title(figure, axes, "Route \x00\x0b", "below \x1f\ufffe")
    root = ET.fromstring(picture(figure, "svg"))
    assert root.tag.endswith("svg")


@pytest.mark.parametrize(
    "words",
    [
        ("bike", "show", "x\x1b[31m"),
        ("x\x1b]0;title\x07",),
        ("ride", "list", "--nothing\x1b[2J"),
        ("advise", "--bike", "x\x1b[31m"),
        ("bike", "edit", "none\x1b.toml", "--set", "a\x1b=1"),
        ("read", "x\x1b[31m.jpg", "--shaft", "4\x1b[1m", "--layout", "fork"),
        ("read", "x\x1b[31m.jpg", "--shaft", "41 mm", "--layout", "f\x1b"),
        ("pool", "show", "x\x1b.csv"),
        ("day", "run", "x\x1b"),
    ],
    ids=lambda words: ascii(" ".join(words)),
)
def test_no_raw_escapes(words: tuple[str, ...]) -> None:
    """What is repeated of the command line holds no control character."""
    result = run(*words)
    assert result.exit_code in (1, 2)
    assert not [c for c in result.output if not (c.isprintable() or c == "\n")]


@pytest.mark.parametrize("option", ["--route", "--note", "--load", "--by", "--event"])
def test_endless_text_is_refused_at_the_entrance(tmp_path: Path, option: str) -> None:
    """Three million letters: one sentence, and nothing is recorded."""
    (tmp_path / "bikes").mkdir()
    (tmp_path / "bikes" / "twin.toml").write_text(BIKE, encoding="utf-8")
    path = tmp_path / "logbook.sqlite"
    result = run(
        "ride", "add", "--bike", "twin", "--logbook", path, "--route", "Loop", option, "a" * 3_000_000
    )
    assert result.exit_code == 2
    assert "3000000 characters" in result.output
    assert len(result.output) < 300
    with new_logbook(tmp_path) as book:
        assert not book.rides.all_rides()


def test_exports_for_spreadsheets_hold_no_formula(tmp_path: Path) -> None:
    """No cell begins as a formula, numbers stay numbers, and the folder is not taken for an export to import."""
    with new_logbook(tmp_path) as book:
        version = put_bike(book)
        book.rides.add(
            version.bike_id, entry(version, route="=cmd|' /C calc'!A0", note="+1", temperature_c=-3.0), (), ()
        )
        path = book.path
    folder = tmp_path / "sheet"
    words = ("logbook", "export", "-o", folder, "--format", "csv", "--logbook", path)
    assert run(*words, "--for-spreadsheet").exit_code == 0
    (row,) = csv.DictReader(io.StringIO((folder / "ride_entry.csv").read_text(encoding="utf-8"), newline=""))
    assert (row["route"], row["note"], row["temperature_c"]) == ("'=cmd|' /C calc'!A0", "'+1", "-3.0")
    with pytest.raises(TransferError, match="for spreadsheets"):
        read_csv(folder)
    assert run(*words, "--force").exit_code == 0
    assert read_csv(folder).tables["ride_entry"][0]["route"] == "=cmd|' /C calc'!A0"
    assert run(*words[:4], "--for-spreadsheet", "--logbook", path).exit_code == 2
    assert [without_formulas(one) for one in ("@a", "\ta", "a=", -1.5)] == ["'@a", "'\ta", "a=", -1.5]


@pytest.mark.parametrize(
    "words",
    [
        ("ride", "show", "9" * 30),
        ("ride", "amend", "9" * 30, "--note", "x"),
        (
            "ride",
            "add",
            "--bike",
            "twin",
            "--route",
            "Loop",
            "--setting",
            f"rear.preload={'9' * 5_000} clicks",
        ),
        ("ride", "add", "--bike", "twin", "--route", "Loop", "--reading", f"rear=remaining {'9' * 5_000} mm"),
        ("ride", "add", "--bike", "twin", "--route", "Loop", "--reading", "rear=remaining ٣ mm"),
        ("ride", "add", "--bike", "twin", "--route", "Loop", "--date", "0000-01-01"),
        (
            "sag",
            "--bike",
            "twin",
            "--load",
            "x" * 3_000_000,
            "--length",
            "rear=hanging 640 mm, rider-aboard 602 mm",
        ),
        ("loads", "--bike", "twin", "--load", "x" * 3_000_000, "--rider", "84 kg"),
        ("bike", "show", "x" * 3_000_000),
        ("ride", "route", "--bike", "twin", "--route", "x" * 3_000_000, "--rename", "y"),
    ],
    ids=lambda words: " ".join(words)[:40].strip(),
)
def test_endless_values_are_one_short_message(tmp_path: Path, words: tuple[str, ...]) -> None:
    """Digits and letters without end end in words, and what is repeated of them is short."""
    (tmp_path / "bikes").mkdir()
    (tmp_path / "bikes" / "twin.toml").write_text(BIKE, encoding="utf-8")
    with new_logbook(tmp_path) as book:
        put_ride(book)
    (tmp_path / "bikes").rename(tmp_path / "book" / "bikes")
    result = run(*words, "--logbook", tmp_path / "book" / "logbook.sqlite")
    assert isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code in (1, 2)
    assert len(result.output) < 3_000


TOO_LONG = [pytest.param("a" * 400, id="a name"), pytest.param("a/" * 3_000 + "a", id="a path")]


@pytest.mark.parametrize("name", TOO_LONG)
@pytest.mark.parametrize(
    "words",
    [
        ("logbook", "backup", "-o"),
        ("logbook", "repair", "-o"),
        ("logbook", "export", "-o"),
        ("logbook", "import"),
        ("day",),
        ("bike", "show"),
    ],
)
def test_a_name_that_no_file_can_have_is_said(tmp_path: Path, words: tuple[str, ...], name: str) -> None:
    """limits.h: NAME_MAX is 255 bytes, PATH_MAX 4096."""
    garage = Garage(tmp_path / "garage")
    garage.ok("ride", "add", "--bike", "grey-twin", "--note", "wet")
    more = () if words == ("day",) else ("--logbook", str(garage.logbook))
    done = CliRunner().invoke(cli, [*words, name, *more])
    assert done.exit_code in (1, 2) and isinstance(done.exception, SystemExit), done.exception
    assert name[:200] in done.stderr.replace("\n", "")


def test_a_bike_of_a_long_name_gets_a_file(tmp_path: Path) -> None:
    assert len(file_name("a" * 400)) < 200
    assert file_name("a" * 119 + " b") == "a" * 119 + ".toml"


def test_a_roster_that_names_a_file_that_cannot_be_costs_that_entrant_alone(tmp_path: Path) -> None:
    (tmp_path / "bikes").mkdir()
    assert find_bike(tmp_path, f"bikes/{'a' * 400}.toml").is_missing
