"""Charts, drawn once and looked at by general libraries.

Oracles: Pillow and the standard library's XML parser for the files, scikit-image's CIELAB (CIE 15) for what colours
look like, with the matrices of Machado, Oliveira and Fernandes (2009), severity 1, from
memory, for the colour-blind.
"""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from matplotlib.lines import Line2D
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab

from ridelog.bikes.file import read_bike
from ridelog.names import End
from ridelog.storage.store import Logbook
from strandline.advise.advice import EndAdvice, advice_for
from strandline.charts.settings import settings_chart
from strandline.charts.style import BUMPER, INK, LOOKS, SOFT, WINDOW
from strandline.charts.used import used_chart
from strandline.facts.rides import gather
from suspension.advice.step import in_words
from suspension.quantities.lengths import Units
from tests.helpers.made_bikes import Garage

SAMPLES = Path(__file__).parents[3] / "sample-images"
BLIND = {
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def rgb(color: str) -> np.ndarray:
    return np.array([int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)])


def linear(color: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1."""
    return np.where(color <= 0.04045, color / 12.92, ((color + 0.055) / 1.055) ** 2.4)


def seen(color: str, kind: str | None) -> np.ndarray:
    """CIELAB of a colour as somebody sees it."""
    light = linear(rgb(color))
    if kind is not None:
        light = np.clip(np.array(BLIND[kind]) @ light, 0, 1)
    back = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    found: np.ndarray = rgb2lab(back[None, None])[0, 0]
    return found


def apart(one: str, other: str, kind: str | None) -> float:
    """CIEDE2000 between two colours."""
    return float(deltaE_ciede2000(seen(one, kind), seen(other, kind)))  # type: ignore[no-untyped-call]


def points(line: Line2D) -> list[tuple[float, float]]:
    """List what a line is drawn through."""
    return [(float(x), float(y)) for x, y in np.asarray(line.get_xydata(), dtype=float)]


@pytest.mark.parametrize("kind", [None, *BLIND])
def test_colours_are_told_apart_also_by_the_colour_blind(kind: str | None) -> None:
    # The first four load cases by colour alone: CIEDE2000 over 10 is plain at a glance (common practice, no source).
    for one, other in itertools.combinations(LOOKS[:4], 2):
        assert apart(one.color, other.color, kind) > 10, (one, other, kind)
    assert apart(WINDOW, BUMPER, kind) > 3


def test_nothing_is_told_by_colour_alone_and_letters_stand_out() -> None:
    assert len({look.mark for look in LOOKS}) == len({look.color for look in LOOKS}) == len(LOOKS)

    def luminance(color: str) -> float:
        return float(linear(rgb(color)) @ [0.2126, 0.7152, 0.0722])

    for paper, ink in itertools.product(("#ffffff", WINDOW, BUMPER), (INK, SOFT)):
        # WCAG 2.1, 1.4.3: 4.5 to 1
        assert (luminance(paper) + 0.05) / (luminance(ink) + 0.05) > 4.5


def test_pictures_fit_a_phone_and_say_what_they_show(invented_demo: tuple[Path, str]) -> None:
    folder = invented_demo[0] / "charts"
    names = {
        f"{end}-{what}" for end in ("front", "rear") for what in ("used", "settings", "history", "owners")
    }
    assert (
        {path.stem for path in folder.glob("*.png")} == names == {path.stem for path in folder.glob("*.svg")}
    )
    for path in folder.glob("*.png"):
        with Image.open(path) as image:
            assert image.width == 1080 and 0.6 < image.width / image.height < 1.6
            assert len(image.convert("RGB").getcolors(1_000_000) or ()) > 20
    for path in folder.glob("*.svg"):
        root = ET.parse(path).getroot()
        words = " ".join("".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text"))
        assert path.stem.split("-")[0].capitalize() + ":" in words
        assert "invented" in words.lower()
        assert not re.search(r"<script|(?:href|src)=\"https?:", path.read_text(encoding="utf-8"))
        if "used" in path.stem:
            met = "bumper met" if path.stem.startswith("rear") else "bumper taken to be here"
            assert met in words and "hard stop" in words and "solo, 5 rides" in words
            assert "dotted: expected, not ridden" in words
        if "settings" in path.stem:
            assert "two-up: try" in words and "(not ridden yet)" in words and "two-up with bags" not in words
        if "owners" in path.stem:
            assert "no owner rode this" in words.replace("  ", " ")


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "garage")


def ride(place: Garage, day: int, count: int, reading: str, load: str = "solo") -> None:
    place.ok(
        *(
            "ride",
            "add",
            "--bike",
            "grey-twin",
            "--date",
            f"2026-05-{day:02d}",
            "--route",
            "Loop",
            "--load",
            load,
        ),
        *("--setting", f"rear={count} clicks", "--reading", f"rear={reading}"),
    )


def rear(place: Garage) -> EndAdvice:
    with Logbook.open(place.logbook) as book:
        return advice_for(book, gather(book, read_bike(place.bike).bike), End.REAR)


def test_points_lie_where_they_were_read_and_limits_are_no_points(garage: Garage) -> None:
    ride(garage, 1, 4, "remaining 2 mm, at-stop")
    ride(garage, 2, 6, "remaining 12 mm")
    figure = used_chart(rear(garage), Units.IN)
    assert figure is not None
    (axes,) = figure.axes
    drawn = {
        (points(line)[0][0], round(points(line)[0][1], 3)): line.get_markerfacecolor()
        for line in axes.lines
        if line.get_marker() == "o" and len(points(line)) == 1
    }
    # E0 80 mm, w 2.5: at least 77.5 mm = 3.051 in (25.4 mm an inch), hollow; 80 - 12 = 68 mm = 2.677 in, filled
    assert drawn == {(4.0, 3.051): "white", (6.0, 2.677): LOOKS[0].color}
    assert any(getattr(note, "arrow_patch", None) is not None for note in axes.texts)
    # Sb 80 and S 92 mm
    lines = {round(points(line)[0][1] * 25.4, 1) for line in axes.lines if len(points(line)) == 2}
    assert {80.0, 92.0} <= lines


@pytest.mark.parametrize("units", list(Units))
def test_the_band_is_where_nine_of_ten_rides_should_be(garage: Garage, units: Units) -> None:
    """Its edges are the 5 and 95 % of the prediction, and its line the mean, at every count."""
    for day, (count, left) in enumerate(((4, 12), (6, 15), (8, 17), (8, 19)), start=1):
        ride(garage, day, count, f"remaining {left} mm")
    end = rear(garage)
    figure = used_chart(end, units)
    assert figure is not None
    (axes,) = figure.axes
    low, high, mean, ridden = (points(line) for line in axes.lines if len(points(line)) > 2)
    # Solid where it was ridden, at 4, 6 and 8; dotted on to the counts that were not.
    assert (ridden[0][0], ridden[-1][0]) == (4.0, 8.0) and set(map(tuple, ridden)) <= set(map(tuple, mean))
    (band,) = (
        corners for one in axes.collections if len(corners := np.asarray(one.get_paths()[0].vertices)) > 8
    )
    risk, per = end.cases[0].risk, {Units.MM: 1.0, Units.IN: 25.4}[units]
    assert risk is not None and risk.worst is not None
    for i, (at, _) in enumerate(low):
        expected = risk.forecast(at)
        assert expected is not None
        drawn = [line[i][1] * per for line in (low, mean, high)]
        assert drawn == pytest.approx([expected.low_mm, expected.mid_mm, expected.high_mm])
        assert expected.low_mm < expected.mid_mm < expected.high_mm
        filled = [float(y) * per for x, y in band if x == at]
        assert (min(filled), max(filled)) == pytest.approx((expected.low_mm, expected.high_mm))
        # Of the next rides 5 % lie below the band and 5 % above it.
        preload = risk.preload_mm(at)
        assert risk.worst.chance_of_reaching(drawn[0], preload) == pytest.approx(0.95, abs=1e-3)
        assert drawn[2] > 91.9 or risk.worst.chance_of_reaching(drawn[2], preload) == pytest.approx(
            0.05, abs=1e-3
        )


def test_before_three_rides_no_band_is_drawn(garage: Garage) -> None:
    ride(garage, 1, 6, "remaining 12 mm")
    ride(garage, 2, 6, "remaining 14 mm")
    figure = used_chart(rear(garage), Units.MM)
    assert figure is not None and len([line for line in figure.axes[0].lines if len(points(line)) > 2]) == 1


def test_the_chance_stands_above_this_count_and_the_next_two(garage: Garage) -> None:
    for day, left in enumerate((6, 9, 7), start=1):
        ride(garage, day, 6, f"remaining {left} mm")
    end = rear(garage)
    figure = used_chart(end, Units.MM)
    assert figure is not None
    risk = end.cases[0].risk
    assert risk is not None
    for at in (6.0, 7.0, 8.0):
        (words,) = [
            note.get_text() for note in figure.axes[0].texts if getattr(note, "xy", None) == (at, 1.0)
        ]
        chance = risk.chance(at)
        assert chance is not None and words == in_words(chance).replace("about ", "").replace(
            " ride in", " in"
        )


def test_settings_hold_what_was_found_and_what_to_try_is_hollow(garage: Garage) -> None:
    for day in (1, 2, 3):
        ride(garage, day, 6, "remaining 32 mm")
    garage.ok(
        "bike", "edit", "grey-twin", "--set", "rear.motion_ratio=0.8", "--set", "rear.wheel_travel=115 mm"
    )
    # 34.5 of 115 mm: 30 %
    lengths = "rear=hanging 640 mm, rider-aboard 604 mm / 607 mm"
    garage.ok("sag", "--bike", "grey-twin", "--load", "solo", "--date", "2026-05-03", "--length", lengths)
    ride(garage, 4, 9, "remaining 12 mm", load="two-up $\\alpha")
    figure = settings_chart(rear(garage))
    assert figure is not None
    words = [text.get_text() for text in figure.axes[0].texts]
    assert "solo: 6 (3 rides)" in words
    assert any("try " in one and "two-up" in one and r"\$" in one for one in words)
    faces = {
        points(line)[0][0]: line.get_markerfacecolor()
        for line in figure.axes[0].lines
        if len(points(line)) == 1
    }
    assert faces.pop(6.0) == LOOKS[0].color and set(faces.values()) == {"white"}
    low, high = figure.axes[0].get_xlim()
    assert low < 0 and 15 < high < 17


def test_charts_are_written_whole_and_not_over_others(garage: Garage, tmp_path: Path) -> None:
    assert garage.refused("chart", "--bike", "grey-twin", "-o", tmp_path / "c")
    ride(garage, 1, 6, "remaining 12 mm")
    words = ("chart", "--bike", "grey-twin", "-o", tmp_path / "c", "--format", "svg")
    found = garage.json(*words)
    assert len(found["written"]) == 3 and {one["chart"] for one in found["left_out"]} == {
        "front-used",
        "front-settings",
        "front-history",
    }
    before = {path: path.read_bytes() for path in (tmp_path / "c").iterdir()}
    assert "is there already" in garage.refused(*words)
    garage.ok(*words, "--force")
    assert {path: path.read_bytes() for path in (tmp_path / "c").iterdir()} == before  # the same bytes again


def test_no_band_crosses_the_words_beside_a_line(garage: Garage) -> None:
    for day in (1, 2, 3):
        ride(garage, day, 4, "remaining 12 mm")
    figure = used_chart(rear(garage), Units.MM)
    assert figure is not None
    (axes,) = figure.axes
    named = [note for note in axes.texts if note.get_text() in ("bumper met", "hard stop")]
    over = max(line.get_zorder() for line in axes.lines if len(points(line)) > 1)
    assert len(named) == 2 and all(one.get_zorder() > over and one.get_bbox_patch() for one in named)
