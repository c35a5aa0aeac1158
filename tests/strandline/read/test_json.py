"""What ``strandline read --json`` prints: fields, strictness, reasons."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.made_readings import SHAFT, json_lines, made, made_in_full, photo, put_in_place, run
from vision.names import LengthName
from vision.reading import Length, Note, Reading, Status
from vision.reasons import Reason

REQUIRED = {
    *("photo", "status", "reason", "exposed_mm", "marker_mm", "remaining_mm", "marker_at_stop", "card"),
    *("reasons", "scale", "camera", "rims", "stroke", "assumed", "remarks", "overlay"),
}


def test_everything_that_was_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, made_in_full())
    name = photo(tmp_path / "a.jpg")
    result = run("read", name, *SHAFT, "--layout", "fork", "--json")
    assert result.exit_code == 0, result.output
    (line,) = json_lines(result)
    assert line.keys() >= REQUIRED
    assert line["photo"] == str(name)
    assert line["status"] == "read" and line["reason"] is None and line["reasons"] == []
    assert line["exposed_mm"] == {"value": 175.0, "u95": 0.2}
    assert line["marker_mm"]["value"] == 62.0 and line["remaining_mm"]["value"] == 113.0
    assert line["marker_at_stop"] is False and line["card"] == 3
    assert line["scale"] == {
        "card_px_per_mm": 5.0,
        "diameter_px_per_mm": 5.02,
        "depth_gap_mm": 1.5,
        "depth_gap_sd_mm": 2.0,
    }
    assert line["camera"]["focal_px"] == 1500.0 and line["camera"]["focal_source"] == "exif"
    assert line["camera"]["t_cam_card_mm"] == [1.0, 2.0, 300.0]
    assert np.array(line["camera"]["R_cam_card"]).tolist() == np.eye(3).tolist()
    assert [rim["name"] for rim in line["rims"]] == ["seal", "marker", "far end"]
    assert line["covariance_mm2"][0][2] is None  # NaN where a quantity is missing
    assert line["remarks"] == ["a remark"]
    assert any("41.0mm" in words for words in line["assumed"])
    assert line["stroke"] is None  # nothing asked for it, and a fork's stop is not seen
    assert not list(tmp_path.glob("*reading*"))  # without --overlay no file is written


def test_reasons_of_a_partial_reading(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    notes = (
        Note(Reason.SEAL_HIDDEN, LengthName.EXPOSED, "the seal lies behind a coil"),
        Note(Reason.UNCERTAIN, LengthName.REMAINING),
    )
    put_in_place(monkeypatch, Reading(Status.PARTIAL, notes, remaining=Length(30.0, 0.3)))
    result = run("read", photo(tmp_path / "a.jpg"), *SHAFT, "--layout", "fork", "--json")
    assert result.exit_code == 0
    (line,) = json_lines(result)
    assert line["status"] == "partial" and line["reason"] == "seal_hidden"
    assert line["exposed_mm"] is None and line["marker_mm"] is None
    assert line["reasons"][0] == {
        "code": "seal_hidden",
        "quantity": "exposed",
        "what": "The seal lies behind a coil.",
        "advice": Reason.SEAL_HIDDEN.advice,
    }
    assert line["reasons"][1]["quantity"] == "remaining"


def test_numbers_that_are_none_become_null(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    reading = made(175.0, 62.0, 113.0)
    broken = Reading(
        Status.READ,
        exposed=Length(float("nan"), 0.1),
        marker=Length(60.0, float("inf")),
        remaining=reading.remaining,
        covariance_mm2=np.full((3, 3), np.inf),
    )
    put_in_place(monkeypatch, broken)
    (line,) = json_lines(run("read", photo(tmp_path / "a.jpg"), *SHAFT, "--layout", "fork", "--json"))
    assert line["exposed_mm"] is None and line["marker_mm"] is None
    assert line["remaining_mm"] == {"value": 113.0, "u95": 0.2}
    assert line["covariance_mm2"] == [[None] * 3] * 3


@pytest.mark.parametrize("reason", list(Reason))
def test_every_reason_is_told(reason: Reason, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, Reading(Status.REFUSED, (Note(reason),)))
    name = photo(tmp_path / "a.jpg")
    result = run("read", name, *SHAFT, "--layout", "fork", "--json")
    assert result.exit_code == 1
    (line,) = json_lines(result)
    assert line["reason"] == reason.value and line["reasons"][0]["advice"] == reason.advice
    table = run("read", name, *SHAFT, "--layout", "fork")
    assert " ".join(reason.advice.split()) in " ".join(table.output.split())


# Microsoft, "Naming Files, Paths, and Namespaces".
NOT_ON_WINDOWS = ["a b'c\".jpg", "two\nlines.jpg", "\x1b[31mred.jpg"]


def test_names_of_every_script_and_worse(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, made(175.0, 62.0, 113.0))
    names = ["größe β.jpg", "写真.jpg", "[red]x[bold].jpg"]
    try:
        photos = [photo(tmp_path / name) for name in (*names, *NOT_ON_WINDOWS)]
        names += NOT_ON_WINDOWS
    except OSError:
        photos = [tmp_path / name for name in names]
    lines = json_lines(run("read", *photos, *SHAFT, "--layout", "fork", "--json"))
    assert [Path(line["photo"]).name for line in lines] == names
    table = run("read", *photos, *SHAFT, "--layout", "fork")
    assert table.exit_code == 0
    assert "[red]x[bold].jpg" in table.output  # no markup of the table's own
    assert ("two\\nlines.jpg" in table.output) == (len(names) > 3) and "\x1b[31m" not in table.output


def test_the_request_carries_what_was_stated(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from calibration.focal import FocalPrior
    from strandline.read.inputs import request_for

    requests = []

    def see(photo: object, focal: FocalPrior, inputs: object) -> Reading:
        requests.append(request_for(inputs, focal, 0))  # type: ignore[arg-type]
        return made(175.0, 62.0, 113.0)

    put_in_place(monkeypatch, see)
    stated = ["--shaft", "41 mm ± 0.06 mm", "--print-scale", "0.98 x 0.985", "--focal-35mm", "26"]
    more = ["--marker-width", "3.6mm", "--marker-color", "Orange"]
    name = photo(tmp_path / "a.jpg", (1200, 900))
    assert run("read", name, *stated, *more, "--layout", "shock", "--json").exit_code == 0
    (request,) = requests
    assert request.declared.diameter_mm == 41 and request.declared.diameter_sd_mm == pytest.approx(0.03)
    assert (request.declared.print_along, request.declared.print_across) == (0.98, 0.985)
    assert request.declared.print_sd == pytest.approx(0.001)
    assert request.layout.value == "shock" and request.focal_source == "stated"
    # 26 mm on a diagonal of 43.27 mm (CIPA DCG-001): 1500 px x 26 / 43.2666
    assert request.focal_px == pytest.approx(901.4, abs=0.1)
    assert request.marker_width_mm == 3.6 and request.marker_color == "orange"
