"""``strandline demo``: its samples, its page, and where it may write.

The vision is replaced by made-up readings (see `made_readings`); the samples' real reading is tested
elsewhere.
"""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from PIL import Image

from strandline.demo.page import PageEntry, command_line, page
from strandline.demo.samples import SamplesError, find_folder, load_samples
from strandline.demo.setup_page import render
from strandline.read.one_photo import Outcome
from strandline.read.parse import parse_options
from strandline.shared.messages import Message
from tests.helpers.made_readings import made, made_in_full, put_in_place, run
from vision.reading import Note, Reading, Status
from vision.reasons import Reason

SAMPLES = Path(__file__).parents[3] / "sample-images"


class Checker(HTMLParser):
    """Collects what a page refers to and whether its elements are closed in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.sources: list[str] = []
        self.alts: list[str | None] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.sources += [found[key] or "" for key in ("src", "href") if key in found]
        if tag == "img":
            self.alts.append(found.get("alt"))
        if tag not in ("img", "meta"):  # void elements (HTML standard, 13.1.2)
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_every_sample_can_be_read_as_stated() -> None:
    samples = load_samples(SAMPLES)
    assert {sample.options.layout for sample in samples} == {"fork", "upside-down-fork", "shock"}
    assert {path.name for path in SAMPLES.glob("*.jpg")} == {sample.path.name for sample in samples}
    text = (SAMPLES / "README.md").read_text(encoding="utf-8")
    for sample in samples:
        parse_options(sample.options)
        assert sample.path.name in text
        assert command_line(sample).startswith("strandline read " + sample.path.name)
        with Image.open(sample.path) as image:
            assert not image.getexif().get_ifd(0x8825)  # no place (CIPA DC-008, GPS block)
    assert sum(path.stat().st_size for path in SAMPLES.glob("*.jpg")) < 6_000_000


def test_page_holds_everything_and_fetches_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def see(photo: object, focal: object, inputs: object) -> Reading:
        without = "without-card" in str(photo.path)  # type: ignore[attr-defined]
        return made(notes=(Note(Reason.NO_CARD, None, "no <card> & nothing"),)) if without else made_in_full()

    put_in_place(monkeypatch, see)
    output = tmp_path / "demo"
    result = run("demo", "--photos-only", "--output", output, "--samples", SAMPLES)
    assert result.exit_code == 0, result.output
    assert str(output / "index.html") in result.stdout
    text = (output / "index.html").read_text(encoding="utf-8")
    checker = Checker()
    checker.feed(text)
    assert checker.open == []
    count = len(load_samples(SAMPLES))
    assert len(checker.alts) == count and all(checker.alts)
    beside = {path.name for path in output.glob("*.jpg")}
    assert len(beside) == count
    for source in checker.sources:
        assert source.startswith("data:image/jpeg;base64,") or source in beside
    assert not re.search(r"https?:|@import|url\(|<script", text)
    assert "175.0 ± 0.2" in text and "No &lt;card&gt; &amp; nothing" in text
    assert len(text) < 6_000_000


def test_lengths_in_inches_where_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """175.0 ± 0.2 mm are 6.890 ± 0.008 in: an inch is 25.4 mm (NIST SP 811, B.8)."""
    put_in_place(monkeypatch, made_in_full())
    output = tmp_path / "demo"
    result = run("demo", "--photos-only", "--units", "in", "-o", output, "--samples", SAMPLES)
    assert result.exit_code == 0, result.output
    text = (output / "index.html").read_text(encoding="utf-8")
    assert "6.890 ± 0.008" in text and "<th>in</th>" in text and "175.0" not in text


def test_markup_in_any_text_of_the_pages_is_shown_as_text() -> None:
    hostile = '<script>alert("1")</script>&amp;\''
    (sample,) = [one for one in load_samples(SAMPLES) if one.path.name.startswith("fork-without-card")]
    message = Message("no_card", None, hostile, hostile)
    outcome = Outcome(hostile, Reading(Status.REFUSED), (message,), cautions=(hostile,))
    shown = replace(sample, shows=hostile, path=Path(hostile.replace("/", "")))
    entry = PageEntry(shown, parse_options(sample.options), outcome, None, None)
    for text in (page([entry]), render(hostile, [], {hostile: b""}, [(hostile, f"a\n{hostile}")])):
        checker = Checker()
        checker.feed(text)
        assert checker.open == [] and "<script" not in text and "&lt;script&gt;" in text


def test_fills_its_own_folder_anew_and_no_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, made(175.0, 62.0, 113.0))
    output = tmp_path / "demo"
    assert run("demo", "--photos-only", "--output", output).exit_code == 0
    assert run("demo", "--photos-only", "--output", output).exit_code == 0
    work = tmp_path / "work"
    work.mkdir()
    (work / "index.html").write_text("mine")
    result = run("demo", "--photos-only", "--output", work)
    assert result.exit_code == 1 and "nothing was written" in result.output
    assert (work / "index.html").read_text() == "mine" and len(list(work.iterdir())) == 1


def test_outside_a_checkout_says_where_the_samples_are(tmp_path: Path) -> None:
    with pytest.raises(SamplesError, match="sample-images"):
        find_folder(tmp_path)
    result = run("demo", "--output", tmp_path / "demo", "--samples", tmp_path)
    assert result.exit_code == 1 and "--samples" in result.output
    assert not (tmp_path / "demo").exists()


@pytest.mark.parametrize(
    "text", ["photo = 3", "[[photo]]\nshaft = '4mm'", "[[photo]\n", "[[photo]]\nshat = 1"]
)
def test_list_that_cannot_be_used_is_named(text: str, tmp_path: Path) -> None:
    (tmp_path / "photos.toml").write_text(text)
    result = run("demo", "--output", tmp_path / "demo", "--samples", tmp_path)
    assert result.exit_code == 1 and "photos.toml cannot be used" in result.output
