"""The garage in a real browser at a phone's size: Debian's Chromium, without a screen."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.helpers.browser import HEIGHT_PX, phone_of
from tests.helpers.garage_server import BIKE, FORK, NO_CARD, SHOCK, Served, command, filled, free_port, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

# WCAG 2.2 asks for 24 px at least; a greasy thumb for twice that.
TARGET_PX = 48


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Serve a garage whose requests come from phones."""
    folder = tmp_path_factory.mktemp("garage")
    filled(folder)
    with served(folder, workers=2) as found:
        yield found


def paired(browser: Browser, garage: Served, name: str, **options: object) -> Page:
    """Scan the code with a new phone."""
    page = phone_of(browser, **options).new_page()
    page.goto(f"{garage.address}/pair/{garage.garage.sessions.code()}")
    page.get_by_label("Its name").fill(name)
    page.get_by_role("button", name="Pair this phone").tap()
    page.wait_for_url(f"{garage.address}/")
    return page


def take(page: Page, photo: Path) -> None:
    """Take a photo: the camera gives a file."""
    page.locator("form.shot input[type=file]").first.set_input_files(photo)


def test_from_the_code_to_the_advice(browser: Browser, garage: Served) -> None:
    """Pair, choose the leg, take the photo, see it read, record the ride, read the advice."""
    page = paired(browser, garage, "Left hand")
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda line: errors.append(line.text) if line.type == "error" else None)
    page.get_by_role("link", name="Ride, then take the photos").tap()
    page.get_by_role("button", name="Front left").tap()
    page.get_by_role("img", name="The shaft upright in the photo").wait_for()
    button = page.get_by_text("Take the photo").bounding_box()
    assert (
        button is not None and button["y"] + button["height"] <= HEIGHT_PX
    )  # the guidance and the button: one screen
    take(page, FORK)
    page.wait_for_selector("img.photo[src^='/photo/']")
    # the sample was rendered with 79.69 mm remaining (sample-images/photos.toml), of 190 mm extended
    used = re.search(r"([0-9.]+) ± ([0-9.]+) mm used", page.locator(".result").inner_text())
    assert used is not None and abs(float(used[1]) - (190 - REMAINING_MM)) < 2
    assert page.evaluate("document.querySelector('img.photo').naturalWidth") > 800
    page.get_by_role("link", name="Go on").tap()
    assert "front right" in page.get_by_role("status").last.inner_text()
    page.get_by_role("button", name="Rear left").tap()
    take(page, SHOCK)
    page.get_by_role("link", name="Go on").tap()
    page.get_by_label("Front preload, turns").fill("2")
    page.get_by_label("Rear preload, clicks").fill("4")
    page.get_by_label("Route").fill("Ridge loop")
    page.get_by_label("What the bike carried").fill("solo")
    page.get_by_role("button", name="Record the ride").tap()
    page.get_by_role("heading", name="Ride 1 is recorded").wait_for()
    page.get_by_role("link", name="Read the advice").tap()
    page.get_by_role("heading", name="Front, solo").wait_for()
    assert re.search(r"preload", page.locator("article .result").first.inner_text())
    assert errors == []
    page.context.close()


REMAINING_MM = 79.69


def test_a_refused_photo_says_what_to_do_and_the_good_one_stays(browser: Browser, garage: Served) -> None:
    page = paired(browser, garage, "Right hand")
    page.goto(f"{garage.address}/bike/{BIKE}/ride/front-right")
    take(page, FORK)
    page.locator("img.photo[src$='drawn.jpg']").wait_for()
    page.get_by_role("link", name="Take it again").tap()
    take(page, NO_CARD)
    page.get_by_text("No card was found.", exact=True).wait_for()
    # The marking's status line may say so, too, once it has asked.
    advice = page.get_by_role("paragraph").filter(has_text="Lay the printed card beside the shaft")
    assert advice.is_visible()
    assert page.locator("svg.shot-drawing").is_visible()
    assert page.get_by_text("The photo before stays").is_visible()
    page.get_by_role("link", name="Go on").tap()
    tile = page.get_by_role("button", name="Front right")
    assert "Used" in tile.inner_text() and "this one stays" in tile.inner_text()
    page.get_by_role("button", name="Drop this ride").tap()
    page.context.close()


def test_the_code_on_the_page_is_scanned(browser: Browser, garage: Served) -> None:
    """A paired phone shows the code, and OpenCV's reader of such codes finds in it what pairs the next."""
    import cv2
    import numpy as np

    page = paired(browser, garage, "First")
    page.goto(f"{garage.address}/phones")
    shown = page.locator("img.code").screenshot()
    pixels = cv2.imdecode(np.frombuffer(shown, np.uint8), cv2.IMREAD_COLOR)
    assert pixels is not None
    link = f"{garage.address}/pair/{garage.garage.sessions.code()}"
    # As a phone looks from several distances: of one code in five OpenCV's reader finds nothing at a given one.
    looks = [cv2.resize(pixels, None, fx=f, fy=f, interpolation=cv2.INTER_AREA) for f in (1.0, 0.75, 0.5)]
    assert link in [cv2.QRCodeDetector().detectAndDecode(look)[0] for look in looks]
    second = phone_of(browser).new_page()
    second.goto(link)
    second.get_by_role("button", name="Pair this phone").tap()
    second.wait_for_url(f"{garage.address}/")
    second.context.close()
    page.context.close()


def test_two_phones_on_one_ride(browser: Browser, garage: Served) -> None:
    """What one phone adds comes onto the other's page by itself; a reading says whose it is."""
    one, two = paired(browser, garage, "Ann"), paired(browser, garage, "Ben")
    for page in (one, two):
        page.goto(f"{garage.address}/bike/{BIKE}/ride")
    two.get_by_role("button", name="Rear left").tap()
    two.get_by_role("button", name="At the stop").tap()
    one.get_by_role("button", name=re.compile("Rear left.*Marker at the stop", re.DOTALL)).wait_for()
    one.get_by_label("Route").fill("Ridge loop")
    two.get_by_role("button", name="Front left").tap()
    two.get_by_role("button", name="No marker left").tap()
    one.get_by_text("Another phone added something").wait_for()
    one.get_by_role("button", name="Show it").tap()
    one.get_by_role("button", name=re.compile("Front left.*No marker left", re.DOTALL)).wait_for()
    assert one.get_by_label("Route").input_value() == "Ridge loop"
    one.get_by_role("button", name="Record the ride").tap()
    one.get_by_role("heading", name=re.compile("Ride . is recorded")).wait_for()
    assert one.get_by_text("by Ann").count() >= 0
    for page in (one, two):
        page.context.close()


def test_a_photo_waits_while_the_laptop_is_away(browser: Browser, tmp_path: Path) -> None:
    """The server is killed, a photo is taken, the page is left; the server comes back, and the photo arrives once."""
    logbook, port = filled(tmp_path), free_port()
    first = command(logbook, port)
    try:
        first.wait_until_open()
        page = phone_of(browser).new_page()
        page.goto(f"http://127.0.0.1:{port}/bike/{BIKE}/ride/front-left")
        first.kill()
        take(page, FORK)
        page.get_by_text("The laptop does not answer").first.wait_for()
        assert page.locator(".sending img.photo").is_visible()
        page.goto("about:blank")  # the phone is put away before the laptop is back
        second = command(logbook, port)
        try:
            second.wait_until_open()
            page.goto(f"http://127.0.0.1:{port}/")
            page.get_by_text("A photo that was waiting is sent").wait_for()
            page.get_by_role("link", name="Its reading").tap()
            page.locator("img.photo[src$='drawn.jpg']").wait_for()
            page.goto(f"http://127.0.0.1:{port}/")
            page.wait_for_timeout(500)
            assert page.locator("#waiting").is_hidden()
        finally:
            second.kill()
        assert len(list((tmp_path / "garage" / "photos").glob("*.json"))) == 1
        page.context.close()
    finally:
        first.kill()


PAGES = [
    "/",
    "/phones",
    f"/bike/{BIKE}",
    f"/bike/{BIKE}/ride",
    f"/bike/{BIKE}/ride/front-left",
    f"/bike/{BIKE}/sag",
    f"/bike/{BIKE}/sag/rear-left/on-wheels/from-below",
    f"/bike/{BIKE}/advice",
    f"/bike/{BIKE}/charts",
    f"/bike/{BIKE}/history",
    "/bikes/new",
    "/nowhere",
]


def test_every_page_is_for_everybody(browser: Browser, garage: Served) -> None:
    """axe-core finds nothing, nothing is wider than 360 px, and what is tapped is 48 px high, also in large text."""
    page = paired(browser, garage, "Looks", bypass_csp=True)
    phone = garage.pair("Camera")
    photos = [json.loads(phone.send_photo(one.read_bytes()).body)["page"] for one in (FORK, NO_CARD)]
    phone.post("/bikes/new", {"name": "Looks"})
    code = garage.garage.sessions.code()
    everybody(page, garage, (*PAGES, "/bikes/new/looks", f"/pair/{code}", *photos))


def test_the_days_pages_are_for_everybody(browser: Browser, tmp_path: Path) -> None:
    filled(tmp_path)
    folder = tmp_path / "spring-day"
    folder.mkdir()
    line = "2,Ann,,front,left,upside-down fork,41.01,190,120\n"
    head = "card,label,bike,end,side,kind,shaft_mm,hanging_mm,stroke_mm\n"
    (folder / "roster.csv").write_text(head + line, encoding="utf-8")
    with served(tmp_path, workers=2, day=folder) as garage:
        page = paired(browser, garage, "Organiser", bypass_csp=True)
        fields = {"purpose": "day", "phase": "before", "leg": "front-left"}
        sent = garage.pair("Camera").send_photo(FORK.read_bytes(), fields)
        assert sent.status == 201, sent.text
        loaded: list[str] = []
        page.on("load", lambda _: loaded.append(page.url))
        page.goto(garage.address + "/day")
        page.get_by_text("1 photo, 1 read").wait_for()  # by itself, without a touch
        page.wait_for_timeout(6_000)
        assert len(loaded) <= 3  # and it is not loaded again where nothing is new
        everybody(page, garage, ("/day", "/day/entrant/2", "/day/page", json.loads(sent.body)["page"]))


def everybody(page: Page, garage: Served, paths: Sequence[str]) -> None:
    """Look at pages with axe-core, measure their width and what is tapped, also in large text."""
    from axe_playwright_python.sync_playwright import Axe

    axe = Axe()
    for path in paths:
        page.goto(garage.address + path)
        for scheme, options in (("light", None), ("dark", {"runOnly": ["color-contrast"]})):
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            found = axe.run(page, options=options).response["violations"]
            said = [(one["id"], [node["html"] for node in one["nodes"]]) for one in found]
            assert said == [], (path, scheme)
        assert page.evaluate(WIDTH) <= 360, path
        assert page.evaluate(SMALL_TARGETS, TARGET_PX) == [], path
        page.add_style_tag(content="html { font-size: 200% }")
        assert page.evaluate(WIDTH) <= 360, f"{path} in large text"
    page.context.close()


WIDTH = "document.documentElement.scrollWidth"
# What is tapped and smaller than a thumb; a link within a sentence is not counted, as in WCAG 2.2, 2.5.8.
SMALL_TARGETS = """(least) => [...document.querySelectorAll("a, button, input, summary, select")]
  .filter((one) => one.offsetParent && !one.closest(".skip") && one.type !== "hidden")
  .filter((one) => one.tagName !== "A" || one.parentElement.tagName !== "P" || one.classList.contains("button"))
  .map((one) => (one.closest("label.choice") || one).getBoundingClientRect())
  .filter((box) => box.height < least - 0.5 || box.width < least - 0.5)
  .map((box) => `${box.x} ${box.y} ${box.width} ${box.height}`)"""


def test_by_keyboard_alone(browser: Browser, garage: Served) -> None:
    """From the first page to a leg at the stop, by Tab and Enter; the focus is seen at each step."""
    page = paired(browser, garage, "Keys")

    def tab_to(name: str) -> None:
        for _ in range(60):
            page.keyboard.press("Tab")
            if name in page.evaluate(
                "document.activeElement.innerText || document.activeElement.value || ''"
            ):
                outline = "getComputedStyle(document.activeElement).outlineStyle"
                assert page.evaluate(outline) != "none", name
                return
        raise AssertionError(f"{name} is not reached")

    for name in ("Sandpiper", "Ride", "Rear right", "At the stop"):
        tab_to(name)
        with page.expect_navigation():
            page.keyboard.press("Enter")
    page.get_by_role(
        "button", name=re.compile("Rear right.*at the stop", re.DOTALL | re.IGNORECASE)
    ).wait_for()
    page.get_by_role("button", name="Drop this ride").press("Enter")
    page.context.close()


@pytest.mark.long
def test_without_scripts_a_photo_is_sent_all_the_same(browser: Browser, garage: Served) -> None:
    page = paired(browser, garage, "Plain", java_script_enabled=False)
    page.goto(f"{garage.address}/bike/{BIKE}/ride/rear-right")
    take(page, SHOCK)
    page.get_by_role("button", name="Send it").tap()
    page.locator("img.photo[src$='drawn.jpg']").wait_for()
    page.context.close()


@pytest.mark.long
def test_a_bike_in_eight_answers(browser: Browser, garage: Served) -> None:
    page = paired(browser, garage, "New bike")
    page.get_by_role("link", name="A new bike").tap()
    page.get_by_label("What do you call it?").fill("Grey twin")
    page.get_by_role("button", name="Go on").tap()
    answers = ["touring fork", "41 mm", "205 mm", "120 mm", "6 turns", "1 mm", "tie 3.6 mm orange", "yes"]
    for number, answer in enumerate(answers, start=1):
        page.get_by_text(f"Grey twin, {number} of 8").wait_for()
        if number == 2:  # a wrong answer is said at once, and kept to be put right
            page.get_by_label("Your answer").fill("forty")
            page.get_by_role("button", name="Go on").tap()
            page.get_by_role("alert").wait_for()
        page.get_by_label("Your answer").fill(answer)
        page.get_by_role("button", name="Go on").tap()
    page.get_by_role("heading", name="Grey twin is in the garage").wait_for()
    assert page.get_by_text("Enough for advice on the front").is_visible()
    page.context.close()
