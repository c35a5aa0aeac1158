"""``strandline bike new`` in eight answers, in a terminal of 80 columns, as a person answers it."""

from __future__ import annotations

from pathlib import Path

import pytest

from ridelog.bikes.file import read_bike
from ridelog.errors import AmountError
from strandline.bike.eight import questions, values_of
from suspension.sag.windows import Use
from suspension.stroke.leg import Layout
from suspension.stroke.marker import MarkerKind
from tests.helpers.made_bikes import Garage
from tests.helpers.terminal import Terminal, screen_faults

FORK = ("touring fork", "41 mm", "205 mm", "120 mm", "6 turns", "1 mm", "zip tie 3.6 mm orange", "yes")


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite"


def answer(terminal: Terminal, *answers: str) -> None:
    """Type an answer at each prompt."""
    for one in answers:
        terminal.wait_for("> ")
        terminal.type(one)


def finished(terminal: Terminal) -> str:
    """Wait for the end, which must be a good one on a good screen."""
    shown = terminal.end()
    assert terminal.code == 0 and not screen_faults(shown), shown
    return shown


def test_eight_answers_make_a_bike_that_advice_can_be_given_on(logbook: Path) -> None:
    terminal = Terminal("bike", "new", "Grey", "twin", logbook=logbook)
    answer(terminal, *FORK)
    shown = finished(terminal)
    assert [f"{number} of 8" in shown for number in range(1, 9)] == [True] * 8
    assert "Enough for advice on the front." in shown
    bike = read_bike(logbook.parent / "bikes" / "grey-twin.toml").bike
    left, right = bike.legs
    assert (bike.name, bike.use) == ("Grey twin", Use.STREET)
    assert left.layout is Layout.FORK and left.marker_kind is MarkerKind.TIE and left.marker_color == "orange"
    sizes = (left.shaft, left.extended, left.stroke, left.marker_width)
    assert [None if one is None else one.value for one in sizes] == [41.0, 205.0, 120.0, 3.6]
    assert right.adjuster("preload").steps == 6
    # What it says it is enough for.
    ride = (
        "--setting",
        "front.preload=3 turns",
        "--reading",
        "front-left=marker 110 mm",
        "--state",
        "hanging",
    )
    finished(Terminal("ride", "add", "--bike", "grey-twin", *ride, logbook=logbook))
    assert "Do:" in finished(Terminal("advise", "--bike", "grey-twin", logbook=logbook))


def test_wrong_answers_help_and_the_way_back(logbook: Path) -> None:
    terminal = Terminal("bike", "new", "Blue", logbook=logbook)
    answer(terminal, "shokc")
    assert "Did you mean shock?" in terminal.wait_for("> ")
    terminal.type("shock")
    answer(terminal, "14")
    assert "has no unit" in terminal.wait_for("> ")
    terminal.type("?")
    assert "caliper" in terminal.wait_for("> ")
    terminal.type("14 mm")
    answer(terminal, "80 cm", "85 mm", "<", "80 mm", "bumper 20 mm", "15 clicks", "", "o-ring", "two")
    shown = finished(terminal)
    assert "80 cm" in shown and "is unusual" not in shown
    bike = read_bike(logbook.parent / "bikes" / "blue.toml").bike
    assert [one.name.value for one in bike.legs] == ["rear-left", "rear-right"]
    assert bike.legs[0].extended is not None and bike.legs[0].extended.value == 80.0
    assert bike.legs[0].bumper_free is not None and bike.legs[0].adjuster("preload").step is None


def test_ctrl_c_writes_no_file_and_the_next_call_goes_on(logbook: Path) -> None:
    terminal = Terminal("bike", "new", "Grey twin", logbook=logbook)
    answer(terminal, *FORK[:4])
    terminal.wait_for("5 of 8")
    terminal.wait_for("> ")
    terminal.interrupt()
    shown = terminal.end()
    assert terminal.code == 130 and "4 of 8 answers are kept" in shown and not screen_faults(shown)
    folder = logbook.parent / "bikes"
    assert not list(folder.glob("*.toml"))
    terminal = Terminal("bike", "new", logbook=logbook)  # offers the bike that was begun
    answer_name = terminal.wait_for("> ")
    assert "Grey twin" in answer_name
    terminal.type("")
    assert "4 of 8 are answered already" in terminal.wait_for("5 of 8")
    answer(terminal, *FORK[4:])
    finished(terminal)
    assert [path.name for path in folder.iterdir()] == ["grey-twin.toml"]
    assert read_bike(folder / "grey-twin.toml").bike.legs[0].shaft is not None


def test_what_does_not_go_together_is_asked_again(logbook: Path) -> None:
    terminal = Terminal("bike", "new", "Grey", logbook=logbook)
    answer(terminal, *FORK[:3], "250 mm")
    assert "longer than the shaft" in terminal.wait_for("> ")
    terminal.type("120 mm")
    answer(terminal, "none")
    assert "6 of 7" in terminal.wait_for("> ")  # a step of no adjuster is not asked for
    terminal.type("tie")
    answer(terminal, "no")
    assert "No adjuster" in finished(terminal)


def test_json_keeps_the_questions_off_the_answer(tmp_path: Path) -> None:
    garage = Garage(tmp_path)
    result = garage.run("bike", "new", "Red one", "--json", typed="\n".join(FORK) + "\n")
    assert result.exit_code == 0 and result.stdout.startswith('{"file"') and result.stdout.count("\n") == 1


# The trade's names for one thing, as riders' forums and dealers' pages use them.
@pytest.mark.parametrize(
    ("typed", "layout", "use"),
    [
        ("fork", "fork", None),
        ("Touring, USD fork", "upside-down-fork", "street"),
        ("enduro inverted fork", "upside-down-fork", "off-road"),
        ("track monoshock", "shock", "sport"),
        ("twin shocks", "shock", None),
    ],
)
def test_common_words_for_the_kind(typed: str, layout: str, use: str | None) -> None:
    found = values_of({"kind": typed})
    assert use == found.pop(("use",), None)
    assert list(found.values()) == [layout]


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("o-ring", {"kind": "o-ring"}),
        ("zip tie 3.6mm orange", {"kind": "tie", "width": "3.6mm", "color": "orange"}),
        ("tie, orange, 3.6 mm", {"kind": "tie", "width": "3.6 mm", "color": "orange"}),
        ("oring 1/8 in black", {"kind": "o-ring", "width": "1/8 in", "color": "black"}),
    ],
)
def test_a_marker_in_words(typed: str, expected: dict[str, str]) -> None:
    found = values_of({"kind": "fork", "marker": typed})
    assert {path[-1]: value for path, value in found.items() if "marker" in path} == expected


def test_stroke_and_bumper_of_fork_and_shock() -> None:
    fork = values_of({"kind": "fork", "stroke": "120 mm, bumper at 105 mm"})
    assert fork["leg", "front-left", "bumper_contact"] == "105 mm"
    assert fork["leg", "front-left", "stroke"] == "120 mm"
    assert values_of({"kind": "shock", "stroke": "bumper 20 mm"})["leg", "rear", "bumper_free"] == "20 mm"
    with pytest.raises(AmountError):
        values_of({"kind": "fork", "marker": "pebble"})


def test_every_example_is_an_answer() -> None:
    for kind in ("fork", "shock"):
        values_of({one.key: one.example for one in questions({"kind": kind})} | {"kind": kind})
