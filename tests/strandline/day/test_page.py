"""The page: nothing fetched, nothing leaked, what it says, and that a browser shows it."""

from __future__ import annotations

import dataclasses
import io
import json
import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from html import escape
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from strandline.day.output.page import Picture, page, sheets
from strandline.day.pipeline import DayRequest, run_day
from strandline.day.reading.jobs import Job
from strandline.day.reading.store import ResultsStore
from strandline.day.reading.worker_job import process_photo
from strandline.day.results.results import DayResults
from tests.helpers.made_day import MadeDay
from tests.helpers.outside import missing
from tests.helpers.stub_reader import Scene

PHOTOS = Path(__file__).parents[2] / "vision" / "photos"


@pytest.fixture
def day(tmp_path: Path) -> MadeDay:
    day = MadeDay(tmp_path / "day")
    for number, (tag, marker) in enumerate((("front left", 60.0), ("front right", 55.0))):
        for phase, more in (("before", 0.0), ("after", 8.0)):
            when = f"2026-05-08T1{number}:{30 if more else 15}:00"
            scene = Scene(tags=(tag, phase), marker=marker + more, when=when)
            day.put(f"{tag} {phase}.jpg", scene)
    day.put(
        "again.jpg", Scene(tags=("front left", "before"), marker=60.1, when="2026-05-08T10:16:00", salt=1)
    )
    day.put("nobody.jpg", Scene(card=None))
    return day


class _Outline(HTMLParser):
    """Checks that tags close in order, and collects addresses."""

    VOID = frozenset(("meta", "img", "input", "br"))

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.addresses: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.addresses += [
            value or "" for name, value in attrs if name in ("src", "href", "action", "srcset")
        ]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        return

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.mark.parametrize("name", ["day.html", "sheets.html"])
def test_nothing_is_fetched_and_every_tag_closes(day: MadeDay, name: str) -> None:
    day.run()
    text = (day.out / name).read_text(encoding="utf-8")
    outline = _Outline()
    outline.feed(text)
    assert not outline.open
    assert all(address.startswith(("data:image/webp;base64,", "#")) for address in outline.addresses)
    assert not re.search(r"https?://|@import|url\(", text)


def test_what_the_page_says(day: MadeDay) -> None:
    results = day.run()
    text = (day.out / "day.html").read_text(encoding="utf-8")
    assert text.index("No card in the photo") < text.index("<h2>Bikes")
    # Left 95.1 or 95.0 less right 90 before; u = E0 - gn, and 8 mm deeper after.
    (bike,) = [one for one in results.bikes if one.label == "Anna"]
    assert [round(one.comparison.difference_mm.value, 1) for one in bike.sides] == [5.0, 5.0]
    assert [round(one.deeper_mm.value, 1) for one in bike.changes] == [8.0, 8.0]
    assert all(one.is_clear for one in bike.changes) and all(one.comparison.flagged for one in bike.sides)
    for words in (
        "left minus right +5.0",
        "after minus before +8.0",
        "in the window",
        "Legs photographed twice",
    ):
        assert words in text, words
    # 95 of 120 mm is 79 %, in the window of 75 to 100 %.
    assert "79 ± 0 %" in text or "79 ± 1 %" in text
    sheet = (day.out / "sheets.html").read_text(encoding="utf-8")
    assert "Anna" in sheet and "Béla" in sheet and sheet.count("<section>") == 2


def test_a_photos_place_time_and_serial_numbers_stay_here(tmp_path: Path) -> None:
    """Read by exiftool where it is there, else by Pillow alone."""
    day = MadeDay(tmp_path / "day", "card,label,bike,end,side\n3,Anna,bikes/twin.toml,front,left\n")
    with Image.open(PHOTOS / "plain.jpg") as image:
        exif = image.getexif()
        exif[0x010F], exif[0xC62F] = "Ours", "SERIAL-CAMERA"
        inner = exif.get_ifd(0x8769)
        inner[0xA431], inner[0xA430] = "SERIAL-BODY", "OWNER-NAME"
        exif.get_ifd(0x8825).update({1: "N", 2: (1.0, 2.0, 3.0), 3: "E", 4: (4.0, 5.0, 6.0)})
        image.save(
            day.folder / "a.jpg",
            exif=exif,
            quality=95,
            comment=b"PLACE-NAME",
            icc_profile=b"PROFILE-NAME" * 20,
        )
    marks = (b"SERIAL", b"OWNER-NAME", b"PLACE-NAME", b"PROFILE-NAME", b"Exif", b"EXIF", b"XMP ")
    assert b"SERIAL-BODY" in (day.folder / "a.jpg").read_bytes()
    wanted = DayRequest(day.folder, print_scale="1", workers=1)
    results = run_day(wanted)
    assert results.read == 1
    with ResultsStore(day.out, wanted.program) as store:
        rows = store.connection.execute(
            "SELECT thumb FROM sighting UNION ALL SELECT picture FROM reading"
        ).fetchall()
    assert len(rows) == 2
    for (picture,) in rows:
        assert picture[8:12] == b"WEBP" and not any(mark in picture for mark in marks)
        with Image.open(io.BytesIO(picture)) as image:
            assert not image.getexif() and set(image.info) <= {"background", "loop", "timestamp", "duration"}
    exiftool = shutil.which("exiftool")
    if exiftool is None:
        return
    written = tmp_path / "written.webp"
    written.write_bytes(rows[1][0])
    done = subprocess.run([exiftool, "-j", "-G", str(written)], capture_output=True, check=True)
    groups = {name.split(":")[0] for name in json.loads(done.stdout)[0]} - {"SourceFile"}
    assert groups <= {"ExifTool", "File", "RIFF", "Composite"}


def test_a_fault_in_the_program_is_that_photos_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from strandline.day.identify.roster_file import read_roster

    day = MadeDay(tmp_path / "day")
    path = day.folder / "a.png"
    Image.fromarray(np.zeros((40, 30, 3), np.uint8)).save(path)

    def fail(grey: np.ndarray) -> None:
        raise ZeroDivisionError("seven")

    monkeypatch.setattr("calibration.find_card.find_card", fail)
    import hashlib

    sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
    answer = process_photo(Job(path, ("a.png",), sha256, read_roster(day.folder / "roster.csv")))
    assert answer.sighting.problem == "fault" and "seven" in answer.sighting.advice


def _chromium() -> str:
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if found is None:
        missing("a Chromium", "install Debian's chromium")
    return str(found)


PROBE = """<script>
window.addEventListener('error',function(e){parent.document.title='ERROR '+e.message});
window.addEventListener('load',function(){
  var say={};
  say.width=window.innerWidth;say.wide=document.documentElement.scrollWidth>window.innerWidth;
  var shown=function(){return [].filter.call(document.querySelectorAll('#bikes article'),function(a){return !a.hidden})
    .map(function(a){return a.dataset.label})};
  say.all=shown();
  var set=function(id,v){var e=document.getElementById(id);e.value=v;e.dispatchEvent(new Event('input'))};
  set('sort','share');say.deepest=shown();
  set('sort','label');set('find','blue');say.found=shown();
  set('find','');set('show','flagged');say.flagged=shown();
  set('show','');
  document.querySelector('.phase button.pic').click();say.zoom=document.getElementById('zoom').open;
  say.pictures=[].every.call(document.images,function(i){return !i.src||i.naturalWidth>0});
  parent.document.title='SAID '+JSON.stringify(say)});
</script>"""


@pytest.mark.parametrize("width", [360, 1280])
def test_a_browser_shows_sorts_filters_and_enlarges(day: MadeDay, tmp_path: Path, width: int) -> None:
    chromium = _chromium()
    day.put("b fl.jpg", Scene(card=4, marker=20.0))
    day.run()
    text = (day.out / "day.html").read_text(encoding="utf-8")
    # In a frame, for a headless Chromium's own window is never narrower than 500 px.
    framed = escape(text.replace("<header>", PROBE + "<header>", 1))
    probe = tmp_path / "probe.html"
    probe.write_text(
        f'<!DOCTYPE html><meta charset="utf-8"><title></title><iframe width="{width}" height="900" srcdoc="{framed}">'
        "</iframe>",
        encoding="utf-8",
    )
    done = subprocess.run(
        [
            chromium,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--virtual-time-budget=4000",
            "--window-size=1400,1000",
            "--dump-dom",
            probe.as_uri(),
        ],
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=True,
    )
    title = re.search(r"<title>(.*?)</title>", done.stdout, re.DOTALL)
    assert title is not None and title[1].startswith("SAID "), done.stdout[:400]
    say = json.loads(title[1][5:])
    assert say == {
        "width": width,
        "wide": False,
        "all": ["Anna", "Béla"],
        "deepest": ["Anna", "Béla"],
        "found": ["Béla"],
        "flagged": ["Anna"],
        "zoom": True,
        "pictures": True,
    }


HOSTILE = '<script>alert("1")</script>&amp;\'\u202e'


def with_hostile_text(value: Any) -> Any:
    """Put markup into every text of the results, wherever it stands."""
    if type(value) is str:
        return HOSTILE + value
    if isinstance(value, tuple):
        return tuple(map(with_hostile_text, value))
    if isinstance(value, Mapping):
        return {key: with_hostile_text(one) for key, one in value.items()}
    if not dataclasses.is_dataclass(value) or isinstance(value, type):
        return value
    # A time is taken apart by its places.
    names = [one.name for one in dataclasses.fields(value) if one.name not in ("when", "window")]
    return dataclasses.replace(value, **{name: with_hostile_text(getattr(value, name)) for name in names})


class _Elements(HTMLParser):
    """Collects elements, attributes and texts."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: Counter[str] = Counter()
        self.attributes: list[tuple[str, str]] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.mark.parametrize("template", [page, sheets])
def test_markup_in_any_text_is_shown_as_text(
    day: MadeDay, template: Callable[[DayResults, Picture], Iterator[str]]
) -> None:
    day.put("rr.jpg", Scene(tags=("rear right",), exposed=70.0, marker=40.0, do="", salt=5))
    day.put("rl.jpg", Scene(tags=("rear left",), exposed=None))
    results = day.run()
    found = {}
    for name, shown in (("plain", results), ("hostile", with_hostile_text(results))):
        elements = _Elements()
        elements.feed("".join(template(shown, lambda sha256, inputs_hash: b"RIFF")))
        found[name] = elements
    plain, hostile = found["plain"], found["hostile"]
    # Markup would make elements, or end an attribute and begin another.
    assert hostile.tags == plain.tags
    assert sorted({name for name, _ in hostile.attributes}) == sorted({name for name, _ in plain.attributes})
    shown = HOSTILE.replace("\u202e", "\\u202e")
    assert hostile.text.count(shown) >= 9 and "\u202e" not in hostile.text
    assert template is sheets or any(shown in value for _, value in hostile.attributes)
