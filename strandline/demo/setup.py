"""Setup of an invented bike for the demo, with the commands as its owner would type them."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import shlex
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import click

from strandline.demo.data import TOML
from strandline.demo.samples import Sample
from strandline.demo.setup_page import setup_page
from strandline.shared.files import OutputError, make_folder, write_new
from suspension.quantities.lengths import Units

GARAGE = "garage"
BIKE = "sandpiper"
# Marks a folder as created by the demo, safe to overwrite.
MARK = ".strandline-demo-garage"
PAGE = "setup.html"

# Commands of the demo that show lengths or masses.
_WITH_UNITS = frozenset(("loads", "sag", "advise", "chart", "card-of-settings"))

FORK_PHOTO, SHOCK_PHOTO = "upside-down-fork-orange-tie.jpg", "coil-over-black-o-ring.jpg"
"""Sample photos of the first ride; the bike's file describes these shafts."""


@dataclass(frozen=True)
class Step:
    """One command of the demo; what it says is shown, or only that it was run."""

    words: tuple[str, ...]
    shown: bool = False


def set_up(
    output: Path, samples: dict[str, Sample], today: dt.date, units: Units = Units.MM
) -> Iterator[str]:
    """Set the bike up in a folder of the output, and yield what is to be shown.

    Raises
    ------
    OutputError
        The garage is somebody's own, or cannot be written.
    click.ClickException
        A command that refused.
    """
    garage = output / GARAGE
    _clear(garage)
    make_folder(garage / "bikes")
    write_new(garage / MARK, b"Filled by strandline demo, and written again each time.\n", force=True)
    write_new(garage / "bikes" / f"{BIKE}.toml", TOML.encode("utf-8"), force=True)
    yield "An invented motorcycle with invented rides; its first readings come from two of the photos."
    runs = []
    for step in steps(output, samples, today):
        words, said = _run(_in_units(step, units), garage / "logbook.sqlite", samples)
        runs.append((words, said))
        yield f"$ {words}"
        if step.shown:
            yield said.rstrip("\n")
    shown = setup_page(output, garage / "logbook.sqlite", BIKE, runs, units)
    write_new(output / PAGE, shown.encode("utf-8"), force=True)
    yield f"Page: {output / PAGE}"
    yield f"In the browser: strandline garage --logbook {shlex.quote(str(garage / 'logbook.sqlite'))}"
    yield "On a phone in the same network: add --lan, and scan the code."


def steps(output: Path, samples: dict[str, Sample], today: dt.date) -> Iterator[Step]:
    """List the commands, in their order."""
    rider, note = "82 kg at 780 mm", "Invented for the demo."
    loads = (
        ("solo",),
        ("solo with bags", "--luggage", "panniers=12 kg at 1350 mm"),
        ("two-up", "--passenger", "58 kg at 1150 mm"),
        (
            "two-up with bags",
            "--passenger",
            "58 kg at 1150 mm",
            "--luggage",
            "panniers and box=52 kg at 1450 mm",
        ),
    )
    for name, *more in loads:
        yield Step(("loads", "--bike", BIKE, "--load", name, "--rider", rider, *more), shown=True)

    def ride(days_ago: int, turns: str, *readings: str) -> Step:
        day = (today - dt.timedelta(days=days_ago)).isoformat()
        settings = ("--setting", f"front={turns}", "--setting", "rear=4 clicks")
        about = ("--date", day, "--route", "Ridge loop", "--load", "solo", *settings, "--note", note)
        return Step(("ride", "add", "--bike", BIKE, *about, *readings))

    folder = next(iter(samples.values())).path.parent
    photos = ("--photo", f"front-left={folder / FORK_PHOTO}", "--photo", f"rear-left={folder / SHOCK_PHOTO}")
    yield ride(14, "1 turn", *photos, "--state", "on-wheels")
    yield Step(("advise", "--bike", BIKE, "--load", "solo", "--end", "front"), shown=True)
    by_rule = (
        ("front-left=remaining 82 mm", "front-right=remaining 82 mm"),
        ("rear-left=remaining 19 mm", "rear-right=remaining 19 mm"),
    )
    yield ride(13, "2 turns", *_readings(by_rule))
    yield Step(("advise", "--bike", BIKE, "--load", "solo", "--end", "front"), shown=True)
    by_rule = (
        ("front-left=remaining 89 mm", "front-right=remaining 89 mm"),
        ("rear-left=remaining 20 mm", "rear-right=remaining 20 mm"),
    )
    yield ride(7, "3 turns", *_readings(by_rule), "--felt", "dives")
    by_rule = (
        ("front-left=remaining 92 mm", "front-right=remaining 92 mm"),
        ("rear-left=remaining 21 mm", "rear-right=remaining 21 mm"),
    )
    yield ride(5, "3 turns", *_readings(by_rule))
    by_rule = (
        ("front-left=remaining 93 mm", "front-right=remaining 93 mm"),
        ("rear-left=remaining 20 mm", "rear-right=remaining 20 mm"),
    )
    yield ride(3, "3 turns", *_readings(by_rule))
    lengths = (
        "front=hanging 612 mm, on-wheels 592 mm / 597 mm, rider-aboard 574 mm / 580 mm",
        "rear=hanging 640 mm, on-wheels 626 mm / 631 mm, rider-aboard 602 mm / 609 mm",
    )
    measured = tuple(word for one in lengths for word in ("--length", one))
    day = (today - dt.timedelta(days=3)).isoformat()
    yield Step(("sag", "--bike", BIKE, "--load", "solo", "--date", day, *measured), shown=True)
    yield Step(("advise", "--bike", BIKE), shown=True)
    charts = str(output / "charts")
    yield Step(("chart", "--bike", BIKE, "-o", charts, "--force"))
    yield Step(
        ("card-of-settings", "--bike", BIKE, "-o", str(output / "settings.pdf"), "--force"), shown=True
    )
    invented = str(output / "invented-owners.csv")
    yield Step(("pool", "demo", "-o", invented, "--force"))
    yield Step(("pool", "show", invented, "-o", charts, "--force"), shown=True)


def _in_units(step: Step, units: Units) -> Step:
    shows_lengths = step.words[0] in _WITH_UNITS or step.words[:2] == ("pool", "show")
    if units is Units.MM or not shows_lengths:
        return step
    return replace(step, words=(*step.words, "--units", units.value))


def _readings(groups: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
    return tuple(word for group in groups for one in group for word in ("--reading", one))


def _run(step: Step, logbook: Path, samples: dict[str, Sample]) -> tuple[str, str]:
    """Run a command; photos that cannot be read are replaced by what they were rendered with, and that is said."""
    words = step.words
    try:
        said = _said(words, logbook)
    except click.ClickException as error:
        if "--photo" not in words:
            raise
        typed = tuple(_by_hand(words, samples))
        said = f"{error.message}\nTyped instead, as the photos were rendered.\n{_said(typed, logbook)}"
        words = typed
    return shlex.join(("strandline", *(_without_folders(word, samples) for word in words))), said


def _without_folders(word: str, samples: dict[str, Sample]) -> str:
    """Show a photo by its name: the page is handed on, and the folders above say whose machine it was made on."""
    for sample in samples.values():
        word = word.replace(str(sample.path), sample.path.name)
    return word


def _said(words: tuple[str, ...], logbook: Path) -> str:
    from strandline.__main__ import cli

    uses = () if words[0] == "pool" else ("--logbook", str(logbook))
    with contextlib.redirect_stdout(io.StringIO()) as said, contextlib.redirect_stderr(io.StringIO()):
        cli.main([*words, *uses], standalone_mode=False)
    return said.getvalue()


def _by_hand(words: tuple[str, ...], samples: dict[str, Sample]) -> Iterator[str]:
    for word, before in zip(words, ("", *words), strict=False):
        if word == "--photo":
            yield "--reading"
        elif before == "--photo":
            leg, _, path = word.partition("=")
            remaining = samples[Path(path).name].rendered["remaining_mm"]
            yield f"{leg}=remaining {remaining:.1f} mm"
        else:
            yield word


def _clear(garage: Path) -> None:
    """Empty a garage of the demo's own; refuse anybody else's."""
    if not garage.exists():
        return
    if not (garage / MARK).is_file():
        raise OutputError(
            f"{garage} was not made by the demo, and was left as it is. Choose another folder with --output."
        )
    try:
        shutil.rmtree(garage)
    except OSError as error:
        raise OutputError(
            f"{garage} cannot be emptied: {error.strerror}. Choose another folder with --output."
        ) from error
