"""Load cases of the same name in two logbooks become one at an import, and nothing of either is lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from ridelog.storage.check import check
from ridelog.storage.connection import VERSION
from ridelog.storage.records import Load, LoadCase, LoadItem
from ridelog.storage.store import Logbook
from ridelog.transfer.document import Document
from ridelog.transfer.transfer import export, import_
from suspension.quantities.quantity import Quantity
from tests.helpers.made_records import TYPED, entry, put_bike


def two_logbooks(tmp_path: Path) -> tuple[Logbook, Logbook]:
    """Two that know the same bike, as after a copy, and nothing else."""
    book, other = Logbook.open(tmp_path / "a.sqlite"), Logbook.open(tmp_path / "b.sqlite")
    put_bike(book)
    import_(other, Document(VERSION, {**export(book).tables}))
    return book, other


def ride_with(book: Logbook, load: str, kg: float | None, day: int) -> LoadCase:
    version = put_bike(book)
    case = book.loads.named(version.bike_id, load, TYPED)
    if kg is not None:
        item = LoadItem(Load.RIDER, TYPED, Quantity(kg, 0.5), Quantity(700.0, 10.0))
        case = book.loads.put_case(version.bike_id, LoadCase(load, TYPED, (item,)))
    book.rides.add(version.bike_id, entry(version, day, load_case_id=case.id))
    return case


@pytest.mark.parametrize("theirs", ["solo", "SOLO "])
@pytest.mark.parametrize(
    ("ours_kg", "theirs_kg", "now_kg"), [(80, None, 80), (None, 85, 85), (80, 85, 85), (None, None, None)]
)
def test_loads_of_one_name_become_one(
    tmp_path: Path, theirs: str, ours_kg: float | None, theirs_kg: float | None, now_kg: float | None
) -> None:
    book, other = two_logbooks(tmp_path)
    with book, other:
        ours = ride_with(book, "solo", ours_kg, 1)
        case = ride_with(other, theirs, theirs_kg, 2)
        done = import_(book, export(other))
        assert done.joined_loads == ("solo",) and check(book).findings == ()
        (now,) = book.loads.current(ours.bike_id)
        assert now.name.casefold() == "solo"
        assert [item.mass_kg and item.mass_kg.value for item in now.items] == ([now_kg] if now_kg else [])
        first, second = book.rides.all_rides()
        assert first.load_case is not None and second.load_case is not None
        assert first.load_case.name == second.load_case.name == now.name
        assert first.load_case.items == ours.items
        # of which only the name was known, it goes by the masses known here
        assert second.load_case.items == (case.items or ours.items)
        # again: nothing new
        before = export(book)
        again = import_(book, export(other))
        assert again.added == 0 and export(book) == before
        assert import_(book, before).added == 0


def test_other_names_stay_apart(tmp_path: Path) -> None:
    book, other = two_logbooks(tmp_path)
    with book, other:
        ours = ride_with(book, "solo", 80, 1)
        ride_with(other, "bags", 95, 2)
        assert import_(book, export(other)).joined_loads == ()
        assert {case.name for case in book.loads.current(ours.bike_id)} == {"solo", "bags"}


def test_changes_after_an_import_that_joined_come_in_too(tmp_path: Path) -> None:
    book, other = two_logbooks(tmp_path)
    with book, other:
        ours = ride_with(book, "solo", 80, 1)
        ride_with(other, "solo", 85, 2)
        import_(book, export(other))
        ride_with(other, "solo", 90, 3)
        import_(book, export(other))
        (now,) = book.loads.current(ours.bike_id)
        assert now.items[0].mass_kg is not None and now.items[0].mass_kg.value == 90
        assert len(book.rides.all_rides()) == 3 and check(book).findings == ()
