"""The same photo comes out the same in the logbook, whichever command records it."""

from __future__ import annotations

import json
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from strandline.__main__ import cli
from strandline.demo.samples import Sample, find_folder, load_samples

# With a marker whose kind and width the bike's file gives; and with a width that only the photo shows.
SAMPLES = ("fork-chrome-blue-tie.jpg", "coil-over-black-o-ring.jpg")
LEG = {"fork": "front-left", "shock": "rear"}
ENTRY = ("id", "ride_id", "provenance_id")
"""What two recordings of one photo may differ in, besides the time."""


def sample(name: str) -> Sample:
    return next(one for one in load_samples(find_folder(None)) if one.path.name == name)


def bike_text(its: Sample) -> str:
    """Write a bike's file with one leg, as the sample's photo shows it; its marker's width is left out for a shock."""
    options = its.options
    lines = ["format = 1", 'name = "Grey twin"', f"[leg.{LEG[options.layout]}]"]
    said = {
        "layout": options.layout,
        "shaft": options.shaft,
        "extended": options.extended,
        "stroke": options.stroke,
    }
    said |= {"bumper_free": options.bumper, "bumper_crushed": options.bumper_crushed}
    said |= {"marker.kind": options.marker, "marker.color": options.marker_color}
    if options.layout == "fork":
        said |= {"marker.width": options.marker_width, "marker.lock": "meets-seal"}
    lines += [f"{key} = {json.dumps(value)}" for key, value in said.items() if value is not None]
    return "\n".join(lines) + "\n"


def run(*words: str | Path) -> None:
    result = CliRunner().invoke(cli, [str(word) for word in words])
    assert result.exit_code == 0, result.output


def stored(book: Path) -> tuple[dict[str, Any], dict[str, Any]]:
    """Take the one reading of a logbook and its provenance, without what differs between two recordings."""
    with sqlite3.connect(book) as connection:
        connection.row_factory = sqlite3.Row
        (reading,) = map(dict, connection.execute("SELECT * FROM reading"))
        row = connection.execute(
            "SELECT * FROM provenance WHERE id = ?", (reading["provenance_id"],)
        ).fetchone()
    connection.close()
    origin = {key: value for key, value in dict(row).items() if key not in ("id", "recorded_at")}
    return {key: value for key, value in reading.items() if key not in ENTRY}, origin


@pytest.mark.parametrize("name", SAMPLES)
def test_ride_add_sag_and_the_tech_day_record_the_same(name: str, tmp_path: Path) -> None:
    its = sample(name)
    day, leg, scale = tmp_path / "day", LEG[its.options.layout], its.options.print_scale or "1"
    photo = day / leg.replace("-", " ") / name
    photo.parent.mkdir(parents=True)
    shutil.copy(its.path, photo)
    bike = day / "twin.toml"
    bike.write_text(bike_text(its), encoding="utf-8")
    card = json.loads(CliRunner().invoke(cli, ["read", str(photo), *shaft(its), "--json"]).output)["card"]
    (day / "roster.csv").write_text(f"card,label,bike\n{card},Anna,twin.toml\n", encoding="utf-8")

    about = ("--print-scale", scale, "--state", "on-wheels")
    run("day", day, *about, "--workers", "1", "--logbook", tmp_path / "day.sqlite")
    run(
        "ride",
        "add",
        "--bike",
        bike,
        "--photo",
        f"{leg}={photo}",
        *about,
        "--logbook",
        tmp_path / "ride.sqlite",
    )
    reading, origin = stored(tmp_path / "ride.sqlite")
    assert stored(tmp_path / "day.sqlite") == (reading, origin)
    assert reading["marker_kind"] == its.options.marker and reading["marker_width_mm"] is not None
    assert reading["state"] == "on-wheels" and reading["exposed_remaining_mm2"] is not None
    assert origin["photo_name"] == name

    words = (
        "--photo",
        f"{leg}.on-wheels={photo}",
        "--print-scale",
        scale,
        "--logbook",
        tmp_path / "sag.sqlite",
    )
    run("sag", "--bike", bike, *words)
    with sqlite3.connect(tmp_path / "sag.sqlite") as connection:
        (length,) = connection.execute("SELECT length_mm, length_u95_mm, state FROM sag_measurement")
    connection.close()
    assert length == (reading["exposed_mm"], reading["exposed_u95_mm"], "on-wheels")


def shaft(its: Sample) -> tuple[str, ...]:
    return "--shaft", its.options.shaft, "--layout", its.options.layout
