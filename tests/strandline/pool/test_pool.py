"""``strandline pool``: what is exchanged, what is not, and what is put together.

Oracles: the standard library's csv and statistics modules.
"""

from __future__ import annotations

import csv
import statistics
from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.errors import TransferError
from ridelog.names import AdjusterKind, End
from strandline.pool.combine import load_kg, pooled
from strandline.pool.file import COLUMNS, FORMAT, PoolRow, read_csv, to_csv
from strandline.pool.invented import demo_rows
from suspension.quantities.quantity import Quantity
from tests.helpers.made_bikes import BIKE, Garage
from tests.helpers.made_readings import run, strict

SECRETS = ("Grey twin", "Anna Example", "Ridge loop", "2026-05-01", "kerb at the mill", "for two")


def row(owner: str, load: float, setting: float, u95: float = 1.0) -> PoolRow:
    steps = Quantity.from_u95(setting, u95)
    return PoolRow(FORMAT, "Twin", End.REAR, owner, load, steps, AdjusterKind.CLICKS, 3, False)


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    bike = BIKE.replace(
        "[leg.front-left]",
        'wheelbase = "1400 mm"\n[front]\nwheel_load = "100 kg"\n[rear]\nwheel_load = "100 kg"\nmotion_ratio = 0.8\n'
        'wheel_travel = "115 mm"\n[leg.front-left]',
        1,
    )
    found = Garage(tmp_path / "garage", bike)
    found.ok(
        "loads",
        "--bike",
        "grey-twin",
        "--load",
        "for two",
        "--rider",
        "84 kg at 700 mm",
        "--by",
        "Anna Example",
    )
    for _ in range(3):
        ride(found)
    # 34.5 of 115 mm: 30 %
    lengths = "rear=hanging 640 mm, rider-aboard 604 mm / 607 mm"
    found.ok("sag", "--bike", "grey-twin", "--load", "for two", "--date", "2026-05-01", "--length", lengths)
    return found


def ride(garage: Garage, reading: str = "remaining 32 mm") -> None:
    garage.ok(
        *("ride", "add", "--bike", "grey-twin", "--date", "2026-05-01", "--route", "Ridge loop"),
        *("--load", "for two", "--setting", "rear=6 clicks", "--reading", f"rear={reading}"),
        *("--by", "Anna Example", "--note", "kerb at the mill"),
    )


def test_an_unfinished_owner_exports_nothing_and_says_at_least(garage: Garage, tmp_path: Path) -> None:
    ride(garage, "remaining 2 mm, at-stop")
    said = garage.refused("pool", "export", "--bike", "grey-twin", "--kind", "Twin", "-o", tmp_path / "a.csv")
    assert "not found yet: more than 6" in said and not (tmp_path / "a.csv").exists()


def test_nothing_personal_leaves(garage: Garage, tmp_path: Path) -> None:
    target = tmp_path / "mine.csv"
    said = garage.json("pool", "export", "--bike", "grey-twin", "--kind", "Twin 500", "-o", target)
    assert said["rows"] == 1
    text = target.read_text(encoding="utf-8")
    assert not [word for word in SECRETS if word.lower() in text.lower()]
    (line,) = csv.DictReader(text.splitlines())
    assert list(line) == list(COLUMNS) and (line["kind"], line["end"], line["counted_in"]) == (
        "Twin 500",
        "rear",
        "clicks",
    )
    # 100 + 84/2 kg on the rear axle
    assert float(line["axle_load_kg"]) == pytest.approx(142) and float(line["setting"]) == 6
    assert float(line["setting_u95"]) > 0 and line["invented"] == "no"
    assert len(line["owner"]) == 8
    export = ("pool", "export", "--bike", "grey-twin", "--kind", "Twin 500", "-o", target, "--force")
    labels = []
    for more in ((), (), ("--same-label",), ("--same-label",)):
        garage.ok(*export, *more)
        again = target.read_text(encoding="utf-8")
        (other,) = csv.DictReader(again.splitlines())
        assert again == text.replace(line["owner"], other["owner"])
        labels.append(other["owner"])
    # Nobody who has two files sees that they are one owner's, unless the owner wants it.
    assert len({line["owner"], *labels}) == 4 and labels[2] == labels[3]


def test_without_axle_loads_there_is_nothing_to_give(tmp_path: Path) -> None:
    garage = Garage(tmp_path / "garage")
    garage.ok(
        *(
            "ride",
            "add",
            "--bike",
            "grey-twin",
            "--setting",
            "rear=6 clicks",
            "--reading",
            "rear=remaining 12 mm",
        )
    )
    said = garage.refused("pool", "export", "--bike", "grey-twin", "--kind", "Twin", "-o", tmp_path / "a.csv")
    assert "what this axle carries is not known" in said and not (tmp_path / "a.csv").exists()


def test_rows_come_back_as_they_went(tmp_path: Path) -> None:
    rows = (*demo_rows(), replace(row("a,b", 150.5, 3.5), kind='Twin "500",\nlong'))
    (tmp_path / "a.csv").write_text(to_csv(rows), encoding="utf-8", newline="")
    assert read_csv(tmp_path / "a.csv") == rows


def test_owners_alike_in_doubt_count_alike_and_the_same_file_counts_once() -> None:
    rows = [row(f"owner {i}", 140.0 + i, setting) for i, setting in enumerate((3.0, 5.0, 4.0, 8.0))]
    (found,) = pooled([*rows, *rows])
    (point,) = found.points
    assert point.owners == found.owners == 4
    assert point == pooled(rows)[0].points[0]
    assert point.setting_steps.value == pytest.approx(statistics.mean((3, 5, 4, 8)))
    assert load_kg(point) == pytest.approx(statistics.mean((140, 141, 142, 143)))
    assert point.next_owner_interval is not None and point.mean_interval is not None
    # one more owner differs from the mean by the owners' spread besides the mean's own uncertainty
    low, high = point.next_owner_interval
    assert low < point.mean_interval[0] and high > point.mean_interval[1]


def test_loads_far_apart_are_points_of_their_own_and_edges_belong_above() -> None:
    rows = [row("a", 139.9, 2.0), row("b", 140.0, 4.0), row("c", 159.9, 5.0), row("d", 200.0, 9.0)]
    (found,) = pooled(rows)
    assert [point.owners for point in found.points] == [1, 2, 1]
    (wide,) = pooled(rows, bin_kg=500)
    assert [point.owners for point in wide.points] == [4]


def test_what_does_not_belong_together_is_refused() -> None:
    demo = list(demo_rows())
    with pytest.raises(TransferError, match="several kinds"):
        pooled([*demo, row("a", 150, 3)])
    with pytest.raises(TransferError, match="Invented demo data"):
        pooled([*demo, replace(row("a", 150, 3), kind=demo[0].kind)])
    with pytest.raises(TransferError, match="some owners count clicks and some turns"):
        pooled([row("a", 150, 3), replace(row("b", 150, 3), counted_in=AdjusterKind.TURNS)])


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("axle_load_kg", "load", "no column axle_load_kg"),
        ("\r\n1,", "\r\n2,", "line 2: the format is 2"),
        (",127,", ",much,", "line 2"),
        (",127,", ",nan,", "out of range"),
        (",127,", ",1.27,", "out of range"),
        ("turns", "twists", "line 2"),
        (",yes", ",perhaps", "line 2"),
    ],
)
def test_a_wrong_file_is_told_with_its_line(tmp_path: Path, old: str, new: str, said: str) -> None:
    path = tmp_path / "a.csv"
    text = to_csv(demo_rows())
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8", newline="")
    result = run("pool", "show", path)
    assert result.exit_code == 1 and said in result.stderr and "a.csv" in result.stderr
    path.write_bytes(b"\xff\xfe\x00")
    assert "not a CSV file in UTF-8" in run("pool", "show", path).stderr


def test_demo_data_say_that_they_are_invented(tmp_path: Path) -> None:
    path = tmp_path / "invented.csv"
    assert strict(run("pool", "demo", "-o", path, "--json").stdout)["invented"] is True
    said = run("pool", "show", path, "--units", "in")
    assert said.exit_code == 0 and said.stdout.count("no owner rode this") == 2 and " kg" not in said.stdout
    found = strict(run("pool", "show", path, "--json").stdout)
    assert all(end["invented"] and end["owners"] == 8 for end in found["ends"])
    assert all(point["trust"] for end in found["ends"] for point in end["points"])
    assert "trust those least" in said.stdout
