"""Charts of a bike are drawn once, and anew where the logbook or the bike's file has changed."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from strandline.__main__ import cli
from strandline.charts.all_charts import Chart
from strandline.garage.bikes import bike_named
from strandline.garage.settings import GarageSettings
from strandline.garage.views.advice import _drawn
from tests.helpers.garage_server import BIKE, filled


def test_a_change_of_the_bike_s_file_is_drawn(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    settings = GarageSettings(filled(tmp_path), 0)
    added = ("ride", "add", "--bike", BIKE, "--route", "loop", "--reading", "rear-left=remaining 19 mm")
    answer = CliRunner().invoke(cli, [*added, "--logbook", str(settings.logbook)])
    assert answer.exit_code == 0, answer.output
    times = []

    def drawn(*_: object) -> list[Chart]:
        times.append(1)
        return [Chart("rear-used", (("rear-used.png", str(len(times)).encode()),))]

    monkeypatch.setattr("strandline.charts.all_charts.charts", drawn)
    assert [_drawn(settings, bike_named(settings, BIKE), "rear-used") for _ in range(2)] == [b"1", b"1"]
    file = tmp_path / "bikes" / f"{BIKE}.toml"
    file.write_text(file.read_text(encoding="utf-8") + "\n# another word\n", encoding="utf-8")
    assert _drawn(settings, bike_named(settings, BIKE), "rear-used") == b"2"
