"""``strandline day new``, and ``strandline day FOLDER`` as a person calls it."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from calibration.card import CARD_WIDTH_MM
from calibration.card_drawing import LABEL_MM
from calibration.pen import POINTS_PER_MM, SHAPED_PX, SMALLEST_SIZE
from strandline.day.pipeline import DayRequest
from strandline.day.setup.folder import LONGEST_LABEL, lines_to_fill, plan
from strandline.day.setup.label_fonts import font_for, shaping_font_for
from tests.helpers.made_day import Inline, MadeDay, json_lines, run
from tests.helpers.stub_reader import Scene


def rows(folder: Path) -> list[dict[str, str]]:
    with (folder / "roster.csv").open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_makes_folder_roster_and_everybodys_card(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("PIL.features.check", lambda _: False)  # as where FriBiDi is missing
    names = tmp_path / "names.txt"
    names.write_text("Anna\nBéla\n\n=SUM(A1)\nعمر\n", encoding="utf-8")
    folder = tmp_path / "spring day"
    result = run("day", "new", folder, "--entrants", names)
    assert result.exit_code == 0, result.output
    assert [(row["card"], row["label"]) for row in rows(folder)] == [
        (card, label)
        for card, label in (("0", "Anna"), ("1", "Béla"), ("2", "=SUM(A1)"), ("3", "عمر"))
        for _ in ("fork", "shock")
    ]
    assert [row["kind"] for row in rows(folder)] == ["fork", "shock"] * 4
    assert "shaft_mm     8 of 8 lines    no photo is read" in result.output
    assert "write them on the cards by hand: عمر" in result.output
    document = pypdfium2.PdfDocument(folder / "cards.pdf")
    pages = [page.get_textpage().get_text_range() for page in document]
    document.close()
    assert len(pages) == 3  # two sheets of two cards, and the tags
    assert pages[0].count("Anna") == 2 and pages[0].count("Béla") == 2 and "CARD 1" in pages[0]
    assert "Clip-on tags" in pages[2]
    assert (folder / "photos").is_dir() and (folder / "bikes").is_dir()
    again = run("day", "new", folder, "--count", "3")
    assert again.exit_code == 1 and "left as it is" in again.output
    assert len(rows(folder)) == 8
    assert run("day", "new", folder, "--count", "3", "--force").exit_code == 0
    assert len(rows(folder)) == 6


def test_more_entrants_than_cards_share_them_by_time() -> None:
    import datetime as dt

    lines = plan(lines_to_fill(tuple(f"Bike {n}" for n in range(1, 101))), dt.time(9), dt.time(18))
    assert {str(line.window) for line in lines} == {"09:00–12:00", "12:00–15:00", "15:00–18:00"}
    assert max(line.card for line in lines if line.card is not None) <= 46
    assert len({(line.card, line.window) for line in lines}) == 100
    few = plan(lines_to_fill(("a", "b")), dt.time(9), dt.time(18))
    assert all(line.window.is_open for line in few)


def test_a_sign_up_table_gets_its_cards(tmp_path: Path) -> None:
    table = tmp_path / "sign-up.csv"
    table.write_text(
        "Name;Kind;Shaft (mm);Stroke\nAnna;USD fork;43;120\nAnna;shock;14,0;\n", encoding="utf-8"
    )
    result = run("day", "new", tmp_path / "d", "--entrants", table)
    assert result.exit_code == 0, result.output
    fork, shock = rows(tmp_path / "d")
    assert (fork["card"], fork["kind"], fork["shaft_mm"], fork["stroke_mm"]) == (
        "0",
        "upside-down fork",
        "43.0",
        "120",
    )
    assert (shock["card"], shock["kind"], shock["shaft_mm"]) == ("0", "shock", "14,0")
    assert "hanging_mm   2 of 2 lines" in result.output and "stroke_mm" not in result.output
    table.write_text("label,card\nAnna,3\nBéla,\n", encoding="utf-8")
    result = run("day", "new", tmp_path / "e", "--entrants", table)
    assert result.exit_code == 1 and "Some lines have a card's number" in result.output


@pytest.mark.parametrize("words", [(), ("--count", "2", "--entrants", "x"), ("--count", "2", "--from", "9")])
def test_wrong_usage(tmp_path: Path, words: tuple[str, ...]) -> None:
    assert run("day", "new", tmp_path / "d", *words).exit_code == 2
    assert not (tmp_path / "d").exists()


def test_names_twice_are_refused(tmp_path: Path) -> None:
    names = tmp_path / "names.txt"
    names.write_text("Anna\nanna\n", encoding="utf-8")
    result = run("day", "new", tmp_path / "d", "--entrants", names)
    assert result.exit_code == 1 and "twice" in result.output


@pytest.mark.parametrize("name", ["ליייייייי", "بـــــــــــا"])  # the first letter alone stands out
def test_names_from_right_to_left_are_laid_out(tmp_path: Path, name: str) -> None:
    if shaping_font_for(name) is None:
        pytest.skip("no FriBiDi for Pillow here, or no font with Hebrew and Arabic letters")
    names = tmp_path / "names.txt"
    names.write_text(f"{name}\n", encoding="utf-8")
    result = run("day", "new", tmp_path / "day", "--entrants", names)
    assert result.exit_code == 0 and "write them" not in result.output
    document = pypdfium2.PdfDocument(tmp_path / "day" / "cards.pdf")
    objects = document[0].get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE])
    above, _ = sorted((one.get_bitmap().to_numpy() for one in objects), key=len)
    document.close()
    dark = above.reshape(*above.shape[:2], -1)[..., 0] < 128
    highest, lowest = (np.flatnonzero(dark[row])[-1] for row in (1, -2))
    # A lamed rises above all yods, a beh's dot lies under all strokes: both stand at the right end, where one begins.
    assert (highest if name[0] == "ל" else lowest) > 0.8 * dark.shape[1]


def test_a_long_name_from_right_to_left_is_cut_to_its_card(tmp_path: Path) -> None:
    name = "ש" * LONGEST_LABEL
    if shaping_font_for(name) is None:
        pytest.skip("no FriBiDi for Pillow here, or no font with Hebrew letters")
    names = tmp_path / "names.txt"
    names.write_text(f"{name}\n", encoding="utf-8")
    assert run("day", "new", tmp_path / "day", "--entrants", names).exit_code == 0
    document = pypdfium2.PdfDocument(tmp_path / "day" / "cards.pdf")
    objects = document[0].get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE])
    bounds = [(one.get_bounds(), one.get_bitmap().width) for one in objects]
    document.close()
    for (left, _, right, _), pixels in bounds:
        size_pt = (right - left) / pixels * SHAPED_PX
        assert size_pt > 0.99 * SMALLEST_SIZE * 8
    widths_mm = sorted((right - left) / POINTS_PER_MM for (left, _, right, _), _ in bounds)
    assert LABEL_MM - 3 < widths_mm[0] < LABEL_MM + 0.5
    assert CARD_WIDTH_MM - 3 < widths_mm[1] < CARD_WIDTH_MM + 0.5


def test_fonts_have_every_letter_or_none_is_named() -> None:
    assert font_for("Anna Ødegård") == "Helvetica-Bold"
    assert font_for("עומר") is None and font_for("हिन्दी") is None
    assert font_for("\U000f0000") is None


@pytest.fixture
def day(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> MadeDay:
    day = MadeDay(tmp_path / "day")
    monkeypatch.setattr(DayRequest, "engine", lambda self: Inline())
    return day


def test_the_command_reads_a_folder(day: MadeDay) -> None:
    day.put("fl.jpg")
    result = run("day", day.folder, "--state", "on-wheels")
    assert result.exit_code == 0, result.output
    assert "1 photo: 1 read; 2 bikes." in result.stdout and "day.html" in result.stdout
    day.put("b.jpg", card=None)
    result = run("day", "run", day.folder, "--json")
    assert result.exit_code == 1
    assert [one["kind"] for one in json_lines(result)] == ["reading", "exception", "bike", "bike"]
    assert run("day", day.folder, "--quiet").stdout == ""


def test_the_command_refuses_in_words(day: MadeDay, tmp_path: Path) -> None:
    assert run("day", tmp_path / "none").exit_code == 1
    assert run("day", day.folder, "--send").exit_code == 2
    assert run("day", day.folder, "--watch", "--json").exit_code == 2
    (day.folder / "roster.csv").unlink()
    result = run("day", day.folder)
    assert (
        result.exit_code == 1 and "strandline day new" in result.output and "Traceback" not in result.output
    )


def test_lengths_in_inches_where_asked(day: MadeDay, tmp_path: Path) -> None:
    """95.0 ± 0.6 mm of used stroke are 3.740 ± 0.025 in: an inch is 25.4 mm (NIST SP 811, B.8)."""
    day.put("fl.jpg")
    words = ("day", day.folder, "--state", "on-wheels", "--quiet")
    for name, more in (("mm", ()), ("in", ("--units", "in"))):
        # The former spelling of --output still works.
        option = "--out" if name == "mm" else "-o"
        assert run(*words, *more, option, tmp_path / name).exit_code == 0
    for file, shown in (("day.html", "3.740 ± 0.025"), ("sheets.html", '<p class="big">3.740</p>')):
        assert "95.0" in (tmp_path / "mm" / file).read_text(encoding="utf-8")
        inches = (tmp_path / "in" / file).read_text(encoding="utf-8")
        assert shown in inches and "± 0.6" not in inches
    for file in ("day.jsonl", "readings.csv"):
        assert (tmp_path / "in" / file).read_bytes() == (tmp_path / "mm" / file).read_bytes()


def test_the_logbook_gets_each_reading_once(day: MadeDay, tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    day.put("before fl.jpg", when="2026-05-08T10:00:00")
    day.put("after fl.jpg", marker=70.0, when="2026-05-08T12:00:00")
    words = ("day", day.folder, "--state", "on-wheels", "--logbook", book)
    assert "2 new readings recorded" in run(*words).stderr
    day.put("before fr.jpg", when="2026-05-08T10:05:00")
    assert "1 new reading recorded" in run(*words).stderr
    assert "0 new readings recorded" in run(*words).stderr
    (listed,) = json_lines(run("ride", "list", "--logbook", book, "--json"))
    rides = {ride["route"]: ride for ride in listed["rides"]}
    assert set(rides) == {"Tech day day: Anna before", "Tech day day: Anna after"}
    before = rides["Tech day day: Anna before"]
    assert before["date"] == "2026-05-08"
    assert [(one["leg"], round(one["stroke"]["used_mm"]["value"], 3)) for one in before["readings"]] == [
        ("front-left", 95.0),
        ("front-right", 95.0),
    ]
    checked = json_lines(run("logbook", "check", "--logbook", book, "--json"))
    assert checked[0]["sound"] is True
    assert Scene().content
