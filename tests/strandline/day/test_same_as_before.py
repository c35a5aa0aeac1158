"""The day's tables and lines are those of version 0.1.0 (commit 96b4911) for the same photos.

`expected/` holds what that version wrote for this made-up day, without sentences and hashes of files; but for the band
of a fork whose bumper is not known, 90.5 of 120 mm: in the window, since 0.92 S is taken (0.75 x 110.4 = 82.8 mm).
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

from tests.helpers.made_day import MadeDay
from tests.helpers.stub_reader import Scene

EXPECTED = Path(__file__).parent / "expected"
SENTENCES = frozenset(("what", "advice", "verdict", "remarks", "cautions", "withheld", "why", "sha256"))


def put_photos(day: MadeDay) -> None:
    """Put photos of both sides, before and after, a shock, a leg by diameter, one without a card, a refused one."""
    left = ("front left", "before")
    when = "2026-05-08T1{}:00"
    day.put("fl before.jpg", Scene(tags=left, marker=60.123456789, u95=0.4, when=when.format("0:15")))
    day.put("fl before again.jpg", Scene(tags=left, marker=60.2, u95=0.3, when=when.format("0:16"), salt=1))
    day.put("fl after.jpg", Scene(tags=("front left", "after"), marker=68.7, when=when.format("1:15")))
    day.put("fr before.jpg", Scene(tags=("front right", "before"), marker=55.5, when=when.format("0:17")))
    day.put("rl.jpg", Scene(tags=("rear left",), exposed=70.0, marker=40.0, when=when.format("0:20")))
    day.put("by diameter.jpg", Scene(card=4, exposed=70.0, marker=40.5, diameter=16.0))
    day.put("nobody.jpg", Scene(card=None))
    day.put("refused fr after.jpg", Scene(tags=("front right", "after"), exposed=None))


def without_sentences(value: Any) -> Any:
    """Remove from JSON's values what is said in words."""
    if isinstance(value, dict):
        return {key: without_sentences(one) for key, one in value.items() if key not in SENTENCES}
    return [without_sentences(one) for one in value] if isinstance(value, list) else value


def lines(text: str) -> list[Any]:
    """Take the JSON lines' values."""
    return [without_sentences(json.loads(line)) for line in text.splitlines()]


def rows(text: str) -> list[dict[str, str]]:
    """Take the table's cells by column."""
    found = csv.DictReader(io.StringIO(text, newline=""))
    return [{name: cell for name, cell in row.items() if name not in SENTENCES} for row in found]


def test_the_same_photos_give_the_same_tables(tmp_path: Path) -> None:
    day = MadeDay(tmp_path / "gold")
    put_photos(day)
    day.run()
    for name, taken in (("day.jsonl", lines), ("readings.csv", rows), ("exceptions.csv", rows)):
        written = (day.out / name).read_text(encoding="utf-8")
        assert taken(written) == taken((EXPECTED / name).read_text(encoding="utf-8")), name
