"""What a day of thousands of photos needs: nothing is done once for each pair of them, or anew for each page."""

from __future__ import annotations

import io
import math
import pickle
import sqlite3
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from scipy.stats import chi2

from strandline.day.identify.roster import Roster
from strandline.day.output import small_pictures
from strandline.day.reading.store_file import FILE
from strandline.day.results import compare
from strandline.day.results.compare import find_disagreements
from strandline.day.results.repeatability import repeatability
from suspension.quantities.quantity import Quantity
from tests.helpers.made_day import MadeDay


@pytest.fixture
def day(tmp_path: Path) -> MadeDay:
    return MadeDay(tmp_path / "day")


def pairs_apart(lengths: list[Quantity]) -> set[tuple[int, int]]:
    """By the definition: every pair, and the uncertainty of its difference (JCGM 100, 5.1.2, twice)."""
    return {
        (i, j)
        for i, j in combinations(range(len(lengths)), 2)
        if abs(lengths[i].value - lengths[j].value) > 2 * math.hypot(lengths[i].sigma, lengths[j].sigma)
    }


@pytest.mark.parametrize("spread", [0.1, 0.6, 3.0])
def test_who_differs_is_what_all_pairs_say(spread: float) -> None:
    rng = np.random.default_rng(int(10 * spread))
    for count in (0, 1, 2, 3, 8, 40):
        for _ in range(60):
            sds = rng.choice([0.05, 0.3, 2.0], count)
            lengths = [
                Quantity(float(v), float(sd))
                for v, sd in zip(rng.normal(100, spread, count), sds, strict=True)
            ]
            pairs, found = pairs_apart(lengths), find_disagreements(lengths)
            assert set(found) == {i for pair in pairs for i in pair}
            assert all((min(i, j), max(i, j)) in pairs for i, j in found.items())


@pytest.mark.parametrize("other_mm", [100.0, 130.0])
def test_thousands_of_one_leg_are_not_compared_in_pairs(
    other_mm: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = 0

    def counted(sd: float, other_sd: float) -> float:
        nonlocal asked
        asked += 1
        return 2 * math.hypot(sd, other_sd)

    monkeypatch.setattr(compare, "_allowed", counted)
    lengths = [Quantity((100.0, other_mm)[k % 2] + k / 1e5, 0.4) for k in range(3000)]
    assert len(find_disagreements(lengths)) == (0 if other_mm == 100.0 else 3000)
    assert asked < 5 * len(lengths)


def test_a_roster_is_packed_once_and_unpacked_once(day: MadeDay, monkeypatch: pytest.MonkeyPatch) -> None:
    roster = day.request.read_roster()
    first, second = (pickle.loads(pickle.dumps(("a job", roster)))[1] for _ in range(2))
    assert first == roster and first is second
    assert first.of_card(3) == (roster.entries[0],) and first.of_card(5) == ()
    assert first.of_label(" anna ") == {roster.entries[0].entrant} and not first.of_label("Nobody")
    # It can be handed on as it was received.
    assert pickle.loads(pickle.dumps(first)) is first
    other = Roster(roster.entries[:1], "another")
    assert pickle.loads(pickle.dumps(other)) == other


def sizes(day: MadeDay) -> set[tuple[int, int]]:
    """Sizes of the kept reduced pictures."""
    with sqlite3.connect(day.out / FILE) as file:
        rows = file.execute("SELECT picture FROM small").fetchall()
    file.close()
    return {Image.open(io.BytesIO(one)).size for (one,) in rows}


def test_pictures_are_reduced_once(day: MadeDay, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[int] = []
    whole = small_pictures._reduced

    def counted(picture: bytes) -> bytes:
        made.append(1)
        return whole(picture)

    monkeypatch.setattr(small_pictures, "_reduced", counted)
    monkeypatch.setattr(small_pictures, "AT_ONCE", 2)
    monkeypatch.setattr(small_pictures, "REDUCED_SIDE_PX", 8)
    for number, name in enumerate(("fl", "fr", "rl", "rr")):
        if number < 2:
            day.put(f"{name} before.jpg")
        else:
            day.put(f"{name} before.jpg", exposed=70.0, marker=40.0)
    day.run()
    full = (day.out / "day.html").read_bytes()
    assert not made  # a small day shows its pictures at full size
    monkeypatch.setattr(small_pictures, "FULL_SIZE_PICTURES", 2)
    # A file of results from before there was a place for them.
    with sqlite3.connect(day.out / FILE) as file:
        file.execute("DROP TABLE small")
    file.close()
    results = day.run()
    assert results.read == len(made) == 4 and sizes(day) == {(6, 8)}
    page = (day.out / "day.html").read_bytes()
    assert page.count(b"data:image/webp") == full.count(b"data:image/webp") and page != full
    day.run()
    assert len(made) == 4 and (day.out / "day.html").read_bytes() == page
    day.put("fl after.jpg", marker=61.0)
    day.run()
    assert len(made) == 5


def test_the_interval_is_scipys() -> None:
    """Its quantile is taken from another part of scipy than this, which takes a second to load."""
    groups = [[1.0, 1.4], [2.0, 2.5, 2.1], [0.3, 0.2, 0.5, 0.6]]
    found = repeatability(groups)
    assert found is not None
    within = found.sd**2 * found.freedom
    assert found.low == pytest.approx(math.sqrt(within / chi2.ppf(0.975, found.freedom)), rel=1e-12)
    assert found.high == pytest.approx(math.sqrt(within / chi2.ppf(0.025, found.freedom)), rel=1e-12)


def test_both_photos_say_the_same_of_how_they_differ(day: MadeDay) -> None:
    day.put("fl before 1.jpg", marker=60.0)
    day.put("fl before 2.jpg", marker=63.0)
    by_file = {one.file: one.what for one in day.run().exceptions}
    assert len(by_file) == 2 and len(set(by_file.values())) == 1
    assert "remaining 110.0 mm and 107.0 mm" in by_file["fl before 1.jpg"]
