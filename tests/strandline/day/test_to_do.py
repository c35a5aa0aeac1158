"""What is to be done about photos that were not read: by entrant, the most urgent first, in counts that add up.

The order is the organiser's: there is no outside source.
"""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest

from strandline.day.output.summary import summary
from strandline.day.results.to_do import Fix, counts, doubles, to_do
from tests.helpers.made_day import MadeDay
from tests.helpers.stub_reader import Scene
from tests.helpers.terminal import COLUMNS, ROWS, Terminal, screen_faults

FL, RL = "front left", "rear left"


@pytest.fixture
def day(tmp_path: Path) -> MadeDay:
    day = MadeDay(tmp_path / "day")
    good = Scene(tags=(FL, "after"))
    day.put("a.jpg", good)
    day.put("a copy.jpg", good)
    day.put("a second copy.jpg", good)
    day.put("b.jpg", tags=(FL, "before"), exposed=None)
    day.put("c.jpg", tags=(RL, "before"), exposed=None)
    day.put("d.jpg", card=4, tags=(FL, "rear single"))
    day.put("e.jpg", card=9)
    day.put("f.jpg", card=None)
    day.put("g front.jpg", card=3)
    return day


def test_groups_by_entrant_with_what_can_be_put_right_first(day: MadeDay) -> None:
    results = day.run()
    found = [(one.label, [(item.item.file, item.fix) for item in one.to_do]) for one in to_do(results)]
    assert found == [
        (None, [("e.jpg", Fix.AT_DESK), ("f.jpg", Fix.TAKE_AGAIN)]),
        # Both fork legs have 41 mm, so that a name decides. The rear has not been ridden, the front has.
        ("Anna", [("g front.jpg", Fix.AT_DESK), ("c.jpg", Fix.TAKE_AGAIN), ("b.jpg", Fix.TOO_LATE)]),
        ("Béla", [("d.jpg", Fix.TAKE_AGAIN)]),
    ]
    assert [one.file for one in doubles(results)] == ["a second copy.jpg", "a.jpg"]


def test_counts_add_up(day: MadeDay) -> None:
    results = day.run()
    found = counts(results)
    assert (found.photos, found.read, found.doubles, found.not_read) == (9, 1, 2, 6)
    # A reading that contradicts the bike's file was read, and stands among what is to be checked.
    day.put("h.jpg", card=4, tags=(FL,), exposed=230.0)
    found = counts(day.run())
    assert found.read + found.doubles + found.not_read == found.photos == 10
    assert found.to_check == 1


def test_the_page_has_the_first_result_before_what_was_not_read(day: MadeDay) -> None:
    results = day.run()
    text = (day.out / "day.html").read_text(encoding="utf-8")
    page = re.sub(r"<style>.*?</style>|<script>.*?</script>", "", text, flags=re.DOTALL)
    folded = page[page.index('<details id="exceptions">') : page.index("<h2>Bikes")]
    assert folded.count("<details") == 2 and " open" not in re.findall(r"<details[^>]*>", folded)[0]
    assert "2 to put right at the desk, 3 to take again, 1 too late" in folded
    assert folded.count('class="exception"') == 6 and "2 copies of photos, each counted once" in folded
    assert results.photos == 9 and "<b>9</b>photos" in page and "= <b>1</b>read" in page


def test_the_summary_fits_a_terminal(tmp_path: Path) -> None:
    day = MadeDay(tmp_path / "day")
    for number in range(30):
        day.put(f"{number} of the photos that nobody can read.jpg", card=9 + number)
        day.put(f"{number} fl before.jpg", Scene(marker=60 + number / 1e3, salt=number))
    lines = list(summary(day.run(), day.out / "day.html"))
    assert len(lines) <= ROWS and all(len(line) <= COLUMNS for line in lines if "/" not in line)
    assert lines[0] == "60 photos: 30 read, 30 not read; 2 bikes."
    assert "  and 21 more on the page" in lines


def test_a_watched_day_keeps_one_line_and_says_where_its_page_is(tmp_path: Path) -> None:
    day = MadeDay(tmp_path / "day")
    (day.folder / "broken.jpg").write_bytes(b"no photo")
    terminal = Terminal("day", day.folder, "--watch", "--workers", "1", logbook=tmp_path / "log.sqlite")
    said = terminal.wait_for("day.html")
    assert said.startswith("Watching ") and "Page, which loads itself anew:" in said
    terminal.wait_for("1 photo: 0 read, 1 not read")
    time.sleep(1.0)
    terminal.interrupt()
    shown = terminal.end()
    # Written over in place: of each line what stands after the last return to its start is what stays.
    plain = re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", shown)
    stays = [line.rpartition("\r")[2] for line in plain.split("\n")]
    assert "Stopped watching; day.html is up to date." in stays and not screen_faults("\n".join(stays))
    assert len([line for line in stays if line.strip()]) <= 5, stays
