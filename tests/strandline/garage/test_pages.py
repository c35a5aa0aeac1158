"""The pages do what the commands do: the same rides, sags and advice come of the same words."""

from __future__ import annotations

import html
import io
import json
import math
import re
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from PIL import Image

from strandline.__main__ import cli
from strandline.garage.photos.to_logbook import reading_of
from strandline.garage.server.words import plain
from tests.helpers.garage_server import BIKE, FORK, PATIENCE_S, SHOCK, Answer, Served, filled, served
from vision.reasons import Reason


@pytest.fixture
def laptop(tmp_path: Path) -> Iterator[Served]:
    """Serve a garage to this machine's own browser."""
    filled(tmp_path / "pages")
    with served(tmp_path / "pages", as_phone=False) as found:
        yield found


def run(logbook: Path, *words: str) -> str:
    answer = CliRunner().invoke(cli, [*words, "--logbook", str(logbook)], catch_exceptions=False)
    assert answer.exit_code == 0, answer.output
    return answer.stdout


def without_origin(found: Any) -> Any:
    """Leave out what tells two records of one thing apart: numbers, times, the photo's name here and there."""
    if isinstance(found, dict):
        apart = ("id", "recorded_at", "photo_name", "photo_sha256", "bike_version_id", "ride_id")
        return {key: without_origin(one) for key, one in found.items() if key not in apart}
    return [without_origin(one) for one in found] if isinstance(found, list) else found


def read_page(garage: Served, sent: Answer) -> str:
    assert sent.status == 201, sent.text
    page = json.loads(sent.body)["page"]
    until = time.monotonic() + PATIENCE_S
    while "being read" in (text := garage.get(page).text) and time.monotonic() < until:
        time.sleep(0.2)
    return text


def test_a_ride_by_pages_is_the_ride_that_the_command_records(laptop: Served, tmp_path: Path) -> None:
    logbook, other = laptop.garage.settings.logbook, filled(tmp_path / "commands")
    sent = laptop.send_photo(FORK.read_bytes(), {"state": "on-wheels"})
    assert "drawn.jpg" in read_page(laptop, sent)
    assert (
        laptop.post(f"/bike/{BIKE}/ride/rear-left", {"says": "typed", "lengths": "remaining 19 mm"}).status
        == 303
    )
    assert laptop.post(f"/bike/{BIKE}/ride/rear-right", {"says": "at-stop"}).status == 303
    assert laptop.post(f"/bike/{BIKE}/ride/front-right", {"says": "no-marker"}).status == 303
    fields = {
        "route": "Ridge loop",
        "load": "solo",
        "setting:front.preload": "2",
        "setting:rear.preload": "4?",
    }
    fields |= {"felt": "harsh", "temperature": "17 C", "pressure:front": "2.3 bar", "date": "2026-11-09"}
    answer = laptop.post(f"/bike/{BIKE}/ride", {**fields, "go": "record"})
    assert answer.headers.get("location") == f"/bike/{BIKE}/recorded/1", answer.text
    text = laptop.get(answer.headers["location"]).text
    assert "Ride 1 is recorded" in text
    # A sentence that a terminal breaks at its columns is one line of the list, which a phone breaks itself.
    for page in (text, laptop.get(f"/bike/{BIKE}/history").text):
        whole = r"<li>Rear-left: stroke used [^<]*left to the bumper [0-9.]+ ± [0-9.]+ mm[^<]*\.</li>"
        assert re.search(whole, html.unescape(page)), page
    words = ["ride", "add", "--bike", BIKE, "--route", "Ridge loop", "--load", "solo", "--date", "2026-11-09"]
    words += ["--setting", "front.preload=2 turns", "--setting", "rear.preload=4 clicks?", "--felt", "harsh"]
    words += ["--temperature", "17 C", "--pressure", "front=2.3 bar", "--state", "on-wheels"]
    words += [
        "--photo",
        f"front-left={FORK}",
        "--reading",
        "rear-left=remaining 19 mm",
        "--at-stop",
        "rear-right",
    ]
    run(other, *words, "--note", "No marker left: front right.")
    mine, theirs = (json.loads(run(one, "ride", "show", "1", "--json")) for one in (logbook, other))
    for found in (mine, theirs):
        found["readings"].sort(key=lambda one: str(one["leg"]))
    assert without_origin(mine) == without_origin(theirs)
    assert laptop.garage.rides.begun(BIKE) is None


def test_the_advice_is_what_the_command_says(laptop: Served) -> None:
    logbook = laptop.garage.settings.logbook
    for turns, remaining in (("1", 79), ("2", 82), ("3", 89)):
        readings = {f"{leg}": f"remaining {remaining} mm" for leg in ("front-left", "front-right")}
        for leg, lengths in readings.items():
            laptop.post(f"/bike/{BIKE}/ride/{leg}", {"says": "typed", "lengths": lengths})
        fields = {"route": "Ridge loop", "load": "solo", "setting:front.preload": turns, "go": "record"}
        assert "recorded" in laptop.post(f"/bike/{BIKE}/ride", fields).headers["location"]
    page = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", laptop.get(f"/bike/{BIKE}/advice").text)).split())
    said = json.loads(run(logbook, "advise", "--bike", BIKE, "--json"))
    why = said["ends"][0]["cases"][0]["advice"]["why"]
    assert why and all(plain(one) in page for one in why)
    shown = run(logbook, "advise", "--bike", BIKE, "--end", "front", "--explain")
    do = re.search(r"Do: (.*)", shown)
    assert do is not None and plain(do[1].split(".")[0]) in page


def test_sag_by_photo_is_kept_and_shown(laptop: Served, tmp_path: Path) -> None:
    """Two photos, risen and settled; the command shows the same figures of the same logbook."""
    for approach in ("from-below", "from-above"):
        fields = {"purpose": "sag", "state": "rider-aboard", "approach": approach}
        assert "drawn.jpg" in read_page(laptop, laptop.send_photo(FORK.read_bytes(), fields))
    text = laptop.get(f"/bike/{BIKE}/sag").text
    assert len(re.findall(r"slot done", text)) == 2
    answer = laptop.post(f"/bike/{BIKE}/sag", {"load": "solo", "go": "record"})
    assert answer.status == 303, answer.text
    page = html.unescape(laptop.get(f"/bike/{BIKE}/sag").text)
    shown = run(laptop.garage.settings.logbook, "sag", "--bike", BIKE)
    figure = re.search(r"rider sag ([0-9.]+ ± [0-9.]+ mm)", shown)
    assert figure is not None and figure[1] in page
    # the sample stands 143.6 mm exposed (sample-images/photos.toml) of 190 mm hanging; the fork leans by 26 degrees
    assert abs(float(figure[1].split()[0]) - (190 - 143.6) * math.cos(math.radians(26))) < 2


def number_of(garage: Served) -> str:
    """Find the number of the ride in progress, as its page's form sends it."""
    found = re.search(r'name="number" value="([0-9a-f]+)"', garage.get(f"/bike/{BIKE}/ride").text)
    assert found is not None
    return found[1]


def test_a_ride_that_two_phones_record_at_once_is_recorded_once(laptop: Served) -> None:
    fields = {"route": "Ridge loop", "number": number_of(laptop), "go": "record"}
    with ThreadPoolExecutor(6) as pool:
        answers = list(pool.map(lambda _: laptop.post(f"/bike/{BIKE}/ride", fields), range(6)))
    places = sorted(one.headers["location"] for one in answers)
    assert places == [f"/bike/{BIKE}/history"] * 5 + [f"/bike/{BIKE}/recorded/1"]
    assert len(json.loads(run(laptop.garage.settings.logbook, "ride", "list", "--json"))["rides"]) == 1


def test_an_old_page_takes_nothing_away(laptop: Served) -> None:
    """Two phones have the page open; what the first writes stays when the second sends that field empty."""
    old = laptop.get(f"/bike/{BIKE}/ride").text
    fields = dict(re.findall(r'name="(number|state)" value="([0-9a-f]+)"', old))
    laptop.post(
        f"/bike/{BIKE}/ride", {**fields, "route": "Ridge loop", "felt": "harsh", "setting:front.preload": "3"}
    )
    laptop.post(
        f"/bike/{BIKE}/ride", {**fields, "load": "solo", "felt": "dives", "setting:rear.preload": "4"}
    )
    draft = laptop.garage.rides.of(BIKE)
    assert (draft.route, draft.load, draft.felt) == ("Ridge loop", "solo", ("harsh", "dives"))
    assert dict(draft.settings) == {"front.preload": "3", "rear.preload": "4"}
    fields = {**fields, "state": laptop.get(f"/bike/{BIKE}/ride/state").text}
    laptop.post(f"/bike/{BIKE}/ride", {**fields, "route": ""})  # of a page that shows all of it
    assert laptop.garage.rides.of(BIKE).route == ""


@pytest.mark.parametrize("go", ["", "front-left", "record"])
def test_a_wrong_print_scale_is_said_at_once(laptop: Served, go: str) -> None:
    answer = laptop.post(f"/bike/{BIKE}/ride", {"print_scale": "twice", "route": "Ridge loop", "go": go})
    assert answer.status == 400 and "print scale" in answer.text.lower()


def test_a_photo_of_a_phone_that_shoots_heic_is_read(laptop: Served) -> None:
    from pillow_heif import register_heif_opener

    register_heif_opener()
    buffer = io.BytesIO()
    with Image.open(FORK) as image:
        upright = image.transpose(Image.Transpose.ROTATE_270).resize((1632, 2176))
        quick = {"preset": "ultrafast"}  # of the encoder: the usual one takes a minute on a busy machine
        upright.save(buffer, "HEIF", quality=85, exif=image.info["exif"], enc_params=quick)
    page = read_page(laptop, laptop.send_photo(buffer.getvalue(), name="IMG_0001.HEIC"))
    used = re.search(r"([0-9.]+) ± [0-9.]+ mm used", page)
    assert used is not None and abs(float(used[1]) - (190 - 79.69)) < 2
    (photo,) = laptop.garage.store.photos()
    assert reading_of(photo).provenance.photo_name == f"front-left-{photo.id}.heic"


def test_a_photo_that_is_sent_twice_is_one(laptop: Served) -> None:
    key = {"key": "0a1b2c3d-0000-4000-8000-00000000beef"}
    first, second = (laptop.send_photo(SHOCK.read_bytes(), {"leg": "rear-left", **key}) for _ in range(2))
    assert json.loads(first.body) == json.loads(second.body) and len(laptop.garage.store) == 1


def test_only_the_laptop_deletes_photos_and_none_of_a_ride_in_progress(
    shared_garage: Served, laptop: Served
) -> None:
    assert shared_garage.pair("Tidy").post("/phones/tidy", {}).status == 404
    read_page(laptop, laptop.send_photo(FORK.read_bytes()))
    laptop.post("/phones/tidy", {})
    assert len(laptop.garage.store) == 1
    laptop.post(f"/bike/{BIKE}/ride", {"go": "drop"})
    laptop.post("/phones/tidy", {})
    assert len(laptop.garage.store) == 0
    assert list((laptop.garage.settings.folder / "photos").iterdir()) == []


@pytest.mark.parametrize("reason", Reason)
def test_each_reason_has_a_drawing_and_words_without_commands(reason: Reason) -> None:
    from strandline.garage.server.pages import _templates

    drawings: Any = _templates().get_template("drawings.html").module
    plainly = drawings.shot("", "")
    drawn = drawings.shot(reason.value, "")
    assert str(drawn) != str(plainly), f"{reason} has no drawing of its own"
    assert "--" not in plain(reason.advice) and "strandline" not in plain(reason.advice)
