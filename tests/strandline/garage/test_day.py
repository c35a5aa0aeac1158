"""A tech day through the garage: roster, photos from two phones, and the day's page, which grows."""

from __future__ import annotations

import json
import re
import time
from pathlib import Path

import pytest

from strandline.demo.data import TOML
from strandline.garage.server.day_watch import DayWatch
from suspension.quantities.lengths import Units
from tests.helpers.garage_server import FORK, PATIENCE_S, SHOCK, Served, filled, served


@pytest.fixture
def day(tmp_path: Path) -> Path:
    """Make a day's folder with one entrant, whose card is the samples'."""
    folder = tmp_path / "spring-day"
    (folder / "bikes").mkdir(parents=True)
    (folder / "bikes" / "one.toml").write_text(TOML, encoding="utf-8")
    card = 0
    (folder / "roster.csv").write_text(
        f"card,label,bike,end,side,from,to,note\n{card},<b>Ann</b>,bikes/one.toml,,,,,\n", encoding="utf-8"
    )
    return folder


def test_the_roster_is_shown_and_photos_come_onto_the_days_page(day: Path, tmp_path: Path) -> None:
    filled(tmp_path)
    with served(tmp_path, day=day) as garage:
        ann, ben = garage.pair("Ann's phone"), garage.pair("Ben's phone")
        page = ann.get("/day").text
        assert "&lt;b&gt;Ann&lt;/b&gt;" in page and "0 photos" in page
        assert "Front left" in ann.get("/day/entrant/2").text
        for phone, photo, leg in ((ann, FORK, "front-left"), (ben, SHOCK, "rear-left")):
            fields = {"purpose": "day", "phase": "before", "leg": leg}
            sent = phone.send_photo(photo.read_bytes(), fields, name="../../x.jpg")
            assert sent.status == 201, sent.text
            assert "day" in phone.get(json.loads(sent.body)["page"]).text
        names = sorted(path.name for path in (day / "photos").iterdir())
        assert [re.sub("[0-9a-f]{32}", "N", one) for one in names] == [
            "before-front-left-N.jpg",
            "before-rear-left-N.jpg",
        ]
        until = time.monotonic() + PATIENCE_S
        while "2 photos" not in ann.get("/day").text and time.monotonic() < until:
            time.sleep(0.3)
        assert "2 photos" in ann.get("/day").text
        answer = ann.get("/day/page")
        assert answer.status == 200 and "Sandpiper" in answer.text
        assert '<a href="/day">' in answer.text and ann.get("/favicon.ico").status == 200
        assert "<style" not in answer.text and not re.search(r"<script(?! src=\"/static/)", answer.text)
        assert "unsafe" not in answer.text and "unsafe" not in answer.headers["content-security-policy"]
        for name in ("day.css", "day.js"):
            assert ann.get(f"/static/{name}").status == 200


def test_a_photo_of_no_leg_or_no_day_is_refused(phone: Served) -> None:
    assert phone.send_photo(b"x", {"purpose": "day", "phase": "before"}).status == 400
    assert phone.get("/day").status == 404


@pytest.mark.parametrize("field", [("leg", "../x"), ("phase", "../../x")])
def test_no_field_of_a_form_becomes_a_path(day: Path, tmp_path: Path, field: tuple[str, str]) -> None:
    filled(tmp_path)
    with served(tmp_path, day=day) as garage:
        fields = {"purpose": "day", "phase": "before", "leg": "front-left", field[0]: field[1]}
        assert garage.pair().send_photo(b"x", fields).status == 400
        assert not (day / "photos").exists()


def test_a_day_without_a_roster_says_so(tmp_path: Path) -> None:
    folder = tmp_path / "empty"
    folder.mkdir()
    watched = DayWatch(folder, Units.MM)
    watched.start()
    watched.close()
    assert "roster" in watched.trouble
