"""Marks set by hand in a browser at a phone's size: dragged by touch, by keys, by mouse; kept beside the program's.

The sample photos were rendered with the lengths in sample-images/photos.toml. Touches are the DevTools protocol's
Input.dispatchTouchEvent, which Chromium takes as a screen's.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from strandline.garage.marking.learning import Learning
from tests.helpers.browser import phone_of
from tests.helpers.garage_server import BIKE, FORK, Served, filled, served

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser, Page

EXPOSED_MM, MARKER_MM = 143.6, 63.9


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Serve a garage to this machine's own browser."""
    folder = tmp_path_factory.mktemp("marking")
    filled(folder)
    with served(folder, as_phone=False) as found:
        yield found


def sent(garage: Served, photo: Path = FORK, **fields: str) -> str:
    """Send a photo, wait for its reading, and give the address of its page."""
    page = json.loads(garage.send_photo(photo.read_bytes(), fields).text)["page"]
    running = garage.garage.reader.running(page.rpartition("/")[2])
    if running is not None:
        running.result(60)
    return str(page)


def opened(browser: Browser, garage: Served, address: str, **options: Any) -> Page:
    """Open the marks of a photo on a phone."""
    page = phone_of(browser, **options).new_page()
    page.goto(garage.address + address + "#marking")
    page.locator("#mk-lengths dd").first.wait_for()
    return page


def lengths(page: Page) -> dict[str, tuple[float, float]]:
    """Read the lengths and their ± from the page, once the last answer has come."""
    page.locator("#mk-lengths:not([aria-busy])").wait_for()
    names = page.locator("#mk-lengths dt").all_inner_texts()
    texts = page.locator("#mk-lengths dd").all_inner_texts()
    found = {}
    for name, text in zip(names, texts, strict=True):
        number = re.match(r"([0-9.]+) ± ([0-9.]+) mm", text)
        if number is not None:
            found[name] = (float(number[1]), float(number[2]))
    return found


def touch_drag(page: Page, mark: str, dx: float, dy: float) -> None:
    """Drag a mark by touch, in steps as a thumb does."""
    handle = page.locator(f"[data-mark='{mark}']")
    handle.evaluate("(one) => one.scrollIntoView({ block: 'center' })")
    box = handle.bounding_box()
    assert box is not None
    session = page.context.new_cdp_session(page)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def touch(kind: str, *points: tuple[float, float]) -> None:
        at = [{"x": px, "y": py} for px, py in points]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": at})

    touch("touchStart", (x, y))
    for k in range(1, 6):
        touch("touchMove", (x + dx * k / 5, y + dy * k / 5))
    # A thumb rests before it lifts; what moves to its end is a fling, and the tap that follows only ends that.
    page.wait_for_timeout(150)
    touch("touchMove", (x + dx, y + dy))
    touch("touchEnd")
    session.detach()
    page.wait_for_timeout(150)


def test_a_mark_is_dragged_by_touch_and_kept(browser: Browser, garage: Served) -> None:
    address = sent(garage)
    page = opened(browser, garage, address)
    before = lengths(page)
    assert abs(before["Exposed"][0] - EXPOSED_MM) < 1
    touch_drag(page, "seal", 0, -40)  # towards the far end, which is up in this photo
    after = lengths(page)
    assert page.locator("#mk-loupe").is_hidden()
    moved = before["Exposed"][0] - after["Exposed"][0]
    assert 4 < moved < 40
    assert before["Marker"][0] - after["Marker"][0] == pytest.approx(moved, abs=0.3)
    assert after["Remaining"][0] == pytest.approx(before["Remaining"][0], abs=0.3)
    page.get_by_role("button", name="Undo").tap()
    page.locator("#mk-undo[disabled]").wait_for()
    assert lengths(page) == before
    touch_drag(page, "seal", 0, -40)
    after = lengths(page)
    page.get_by_role("button", name="Keep this reading").tap()
    page.get_by_role("button", name="Take the program's reading again").wait_for()
    photo = garage.garage.store.get(address.rpartition("/")[2])
    assert photo.by_hand is not None and photo.automatic is not None and photo.by_hand_when
    by_hand, own = (next(iter(one.lengths.values())).value for one in (photo.by_hand, photo.automatic))
    assert own == pytest.approx(before["Exposed"][0], abs=0.06)
    assert by_hand == pytest.approx(after["Exposed"][0], abs=0.06)
    # its page shows the hand's now, and the marks are offered again
    page.reload()
    assert f"{by_hand:.1f}" in page.locator("table").first.inner_text()
    page.get_by_role("button", name="Check or move the marks").tap()
    page.get_by_text("These are the marks that were kept.").wait_for()
    assert lengths(page) == after
    page.get_by_role("button", name="Take the program's reading again").tap()
    page.get_by_role("button", name="Check or move the marks").wait_for()
    assert garage.garage.store.get(photo.id).by_hand is None


def test_by_keyboard_and_mouse(browser: Browser, garage: Served) -> None:
    page = opened(browser, garage, sent(garage))
    before = lengths(page)
    marker = page.get_by_role("slider", name="Marker, edge towards the seal")
    first = float(marker.get_attribute("aria-valuenow") or "nan")
    marker.focus()
    for _ in range(3):
        page.keyboard.press("Shift+ArrowUp")  # the far end is up
    after = lengths(page)
    assert after["Marker"][0] > before["Marker"][0] + 1
    assert float(marker.get_attribute("aria-valuenow") or "nan") == pytest.approx(
        first + after["Marker"][0] - before["Marker"][0], abs=0.5
    )
    page.keyboard.press("Control+z")
    page.locator("#mk-undo[disabled]").wait_for()
    assert lengths(page) == before
    far = page.locator("[data-mark='far']")
    far.evaluate("(one) => one.scrollIntoView({ block: 'center' })")
    box = far.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 20, box["y"] + 20)
    page.mouse.down()
    page.mouse.move(box["x"] + 20, box["y"] + 50, steps=4)
    assert page.locator("#mk-loupe").is_visible()
    page.mouse.up()
    assert lengths(page)["Exposed"][0] < before["Exposed"][0] - 2


def test_a_shaft_that_was_not_found_is_drawn(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """The declared diameter is twice the shaft's: nothing is found. Two lines and three rims measure it.."""
    folder = tmp_path_factory.mktemp("drawn")
    toml = filled(folder).parent / "bikes" / "sandpiper.toml"
    with served(folder, as_phone=False) as garage:
        address = sent(garage)
        right = json.loads(garage.get(address + "/marks").text)
    text = toml.read_text(encoding="utf-8")
    wrong = re.sub(r'shaft = "41[^"]*"', 'shaft = "22.0 mm"', text)
    assert wrong != text
    toml.write_text(wrong, encoding="utf-8")
    with served(folder, as_phone=False) as garage:
        address = sent(garage)
        toml.write_text(text, encoding="utf-8")
        assert garage.garage.store.get(address.rpartition("/")[2]).automatic.is_refused
        sight = json.loads(garage.get(address + "/marks").text)
        # With the diameter put right the program would find it: what it saw is taken away.
        blind = {
            **sight,
            "seen": [],
            "found_edges": False,
            "measured": {**right["measured"], "waits_for": ["edges"]},
        }
        page = phone_of(browser).new_page()
        page.route(
            "**/marks",
            lambda route: route.fulfill(json=blind) if route.request.method == "GET" else route.continue_(),
        )
        page.goto(garage.address + address)
        page.locator("[data-mark='edge 0 0']").wait_for()
        for i, line in enumerate(right["marks"]["edges"]):
            for j, (x, y) in enumerate(line):
                move_to(page, f"edge {i} {j}", x, y)
        page.get_by_role("button", name="Rims").tap()
        for name in ("seal", "marker", "far"):
            move_to(page, name, *right["marks"][name])
        found = lengths(page)
        exposed, u95 = found["Exposed"]
        assert abs(exposed - EXPOSED_MM) < u95 < 5
        marker, u95 = found["Marker"]
        assert abs(marker - MARKER_MM) < u95
        page.locator("button:enabled", has_text="Keep this reading").wait_for()


def move_to(page: Page, mark: str, x: float, y: float) -> None:
    """Drag a mark by touch to a place in the photo, in as many moves as it takes: the last ones are finer."""
    for _ in range(6):
        by = page.evaluate(
            "([mark, x, y]) => { const m = window.__marking; const p = m.pointOf(mark);"
            " return [(x - p[0]) * m.scale, (y - p[1]) * m.scale]; }",
            [mark, x, y],
        )
        if np.hypot(*by) < 0.4:
            return
        touch_drag(page, mark, *by)
        page.locator("#mk-lengths:not([aria-busy])").wait_for()


def test_the_page_is_for_everybody(browser: Browser, garage: Served) -> None:
    from axe_playwright_python.sync_playwright import Axe

    address = sent(garage)
    for scheme in ("light", "dark"):
        page = opened(browser, garage, address, color_scheme=scheme)
        for mode in ("Edges", "Rims"):
            page.get_by_role("button", name=mode).tap()
            page.wait_for_timeout(100)
            found = Axe().run(page)
            assert found.violations_count == 0, found.generate_report()
            small = page.evaluate(
                """[...document.querySelectorAll('.mk button, .mk [role=slider], .mk a')]
                .map((one) => [one.textContent, one.getBoundingClientRect()])
                .filter(([, box]) => box.width && (box.width < 48 || box.height < 48)).map(([text]) => text)"""
            )
            assert small == []
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        page.goto(garage.address + "/learning")
        assert Axe().run(page).violations_count == 0


def test_photos_are_kept_for_learning_only_with_consent(garage: Served) -> None:
    learning = Learning(garage.garage.settings.folder / "learning")
    address = sent(garage)
    found = json.loads(garage.get(address + "/marks").text)
    x, y = found["marks"]["seal"]
    marks = {**found["marks"], "seal": [x, y - 60], "set": ["seal"], "sd": 1.5, "left_out": []}

    def keep() -> None:
        body = json.dumps(marks).encode()
        assert (
            garage.ask("POST", address + "/marks/keep", body, Content_Type="application/json").status == 200
        )

    keep()
    assert not learning.folder.exists()
    assert garage.post("/learning", {"wish": "on"}).status == 303
    keep()
    (photo,) = learning.folder.glob("*.jpg")
    content = photo.read_bytes()
    assert not re.search(rb"\d{4}:\d\d:\d\d \d\d:\d\d:\d\d", content.replace(b"0000:00:00 00:00:00", b""))
    truth = json.loads(photo.with_suffix(".json").read_text(encoding="utf-8"))
    assert truth["program"]["verdicts"] == {"exposed": "wrong", "marker": "wrong", "remaining": "right"}
    assert (learning.score().right, learning.score().wrong, learning.score().photos) == (1, 2, 1)
    assert "sandpiper" not in photo.with_suffix(".json").read_text(encoding="utf-8").lower()
    shown = garage.get("/learning").text
    assert ">2<" in shown and str(learning.folder) in shown
    garage.post("/learning", {"wish": "off"})
    assert not learning.is_on and learning.score().photos == 1
    garage.post("/learning", {"wish": "forget"})
    assert learning.score().photos == 0


@pytest.mark.parametrize(
    "body",
    [
        *(
            b"",
            b"[]",
            b"{",
            b'{"seal": [1]}',
            b'{"seal": [1, "2"]}',
            b'{"seal": [1e999, 2]}',
            b'{"set": ["nose"]}',
        ),
        *(b'{"edges": [[[1, 2]]]}', b'{"edges": [[[1, 2], [3, 4]], [[1, 2], [3, 4]], []]}', b'{"sd": true}'),
        *(b'{"seal": [99999, 2]}', b'{"seal": {"x": 1}}', b"[" * 5000),
    ],
)
def test_marks_that_are_none_are_refused(garage: Served, marked: str, body: bytes) -> None:
    answer = garage.ask("POST", marked + "/marks", body, Content_Type="application/json")
    assert answer.status == 400 and json.loads(answer.text)["what"]


@pytest.fixture(scope="module")
def marked(garage: Served) -> str:
    """Send a photo for tests that leave it as it is."""
    return sent(garage)


def test_marks_need_their_own_page_and_a_photo(garage: Served, marked: str) -> None:
    other = garage.ask("POST", marked + "/marks", b"{}", Origin="http://elsewhere.example")
    assert other.status == 403
    assert garage.get("/photo/" + "0" * 32 + "/marks").status == 404


def test_marks_count_in_the_ride_in_progress(garage: Served) -> None:
    """A leg said to have lost its marker is read all the same once a hand has marked it."""
    assert garage.get(f"/bike/{BIKE}/ride").status == 200
    draft = garage.garage.rides.begun(BIKE)
    address = sent(garage, draft=draft.number)
    assert garage.post(f"/bike/{BIKE}/ride/front-left", {"says": "no-marker"}).status == 303
    assert garage.garage.rides.begun(BIKE).no_marker == ("front-left",)
    marks = json.loads(garage.get(address + "/marks").text)["marks"]
    body = json.dumps({**marks, "set": ["seal"]}).encode()
    assert garage.ask("POST", address + "/marks/keep", body, Content_Type="application/json").status == 200
    assert garage.garage.rides.begun(BIKE).no_marker == ()
    assert "Used" in garage.get(f"/bike/{BIKE}/ride").text
    garage.garage.rides.end(BIKE)
