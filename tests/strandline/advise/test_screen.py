"""What ``strandline advise`` puts on the screen: whole sentences in 15 lines an end, and each caution once a day."""

from __future__ import annotations

import datetime as dt
import json
import re
from pathlib import Path

import pytest

from tests.strandline.advise.test_stories import Owner

FORK = ("advise", "--bike", "grey-twin", "--end", "front")
REAR = ("advise", "--bike", "grey-twin", "--end", "rear")


@pytest.fixture
def owner(tmp_path: Path) -> Owner:
    return Owner(tmp_path)


def test_what_does_not_fit_is_left_out_in_whole_notes_and_sentences(tmp_path: Path) -> None:
    fork = Owner(tmp_path, end="front")
    for load in ("solo", "bags", "two up"):
        fork.ride("3 turns", "remaining 125 mm", "--felt", "dives", "--felt", "harsh", load=load)
    fork.ride("3 turns", "remaining 95 mm", "--felt", "dives", "--felt", "harsh", load="solo")
    said = fork.place.ok(*FORK).partition("\n--explain")[0].partition("\nTake care")[0].rstrip().splitlines()
    assert len(said) <= 15 and max(map(len, said)) <= 80
    more = [i for i, line in enumerate(said) if line.strip() == "More: --explain"]
    assert more, said
    paragraphs = re.split(r"\n(?!    )", "\n".join(said[: more[0]]))
    assert all(one.endswith(".") for one in paragraphs[1:]), paragraphs


def test_a_caution_is_said_in_full_once_a_day(owner: Owner, monkeypatch: pytest.MonkeyPatch) -> None:
    owner.place.json(  # which says nothing to a person
        *("ride", "add", "--bike", "grey-twin", "--setting", "rear=6 clicks"),
        *("--reading", "rear=remaining 2 mm, at-stop"),
    )
    owner.place.json(*REAR)
    first, again = owner.place.ok(*REAR), owner.place.ok(*REAR)
    assert "headlamp" in first and "stop riding" in first  # JSON says nothing to a person
    assert "headlamp" not in again and "said earlier today" in again
    assert "stop riding" in again  # no routine
    assert "headlamp" in owner.place.ok(*REAR, "--explain")
    note = owner.place.logbook.with_name("logbook.sqlite.cautions.json")
    kept = json.loads(note.read_text())
    assert kept["date"] == dt.date.today().isoformat()
    note.write_text(json.dumps({**kept, "date": "2026-01-01"}))
    assert "headlamp" in owner.place.ok(*REAR)


@pytest.mark.parametrize("made", ["folder", "rubbish", "link"])
def test_where_nothing_can_be_kept_cautions_are_said_every_time(owner: Owner, made: str) -> None:
    owner.place.json(  # which says nothing to a person
        *("ride", "add", "--bike", "grey-twin", "--setting", "rear=6 clicks"),
        *("--reading", "rear=remaining 2 mm, at-stop"),
    )
    note = owner.place.logbook.with_name("logbook.sqlite.cautions.json")
    elsewhere = note.with_name("precious")
    elsewhere.write_text("[")
    if made == "folder":
        note.mkdir()
    elif made == "link":
        note.symlink_to(elsewhere)
    else:
        note.write_text('{"date": [')
    assert "headlamp" in owner.place.ok(*REAR)
    if made != "rubbish":
        assert "headlamp" in owner.place.ok(*REAR)
    assert elsewhere.read_text() == "["
