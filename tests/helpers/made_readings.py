"""Made-up readings put in place of the vision, so that what the commands make of one can be checked exactly.

The reading of real pictures is tested elsewhere; here `strandline.read.one_photo.see`, the one place where the
commands call the vision, is replaced.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from strandline.__main__ import cli
from vision.names import LengthName, RimName
from vision.reading import CameraPose, Length, Note, Reading, Rim, ScaleCheck, Status
from vision.reasons import Reason

SHAFT = ("--shaft", "41.0mm")


def made(
    exposed: float | None = None,
    marker: float | None = None,
    remaining: float | None = None,
    u95: float = 0.2,
    **more: Any,
) -> Reading:
    """Make a reading of exactly these lengths, mm, all with the same uncertainty, from one photo."""
    lengths = [None if one is None else Length(one, u95) for one in (exposed, marker, remaining)]
    missing = [length is None for length in lengths]
    status = Status.REFUSED if all(missing) else Status.PARTIAL if any(missing) else Status.READ
    notes = (Note(Reason.SEAL_HIDDEN, LengthName.EXPOSED),) if status is Status.PARTIAL else ()
    if status is Status.REFUSED:
        notes = (Note(Reason.NO_CARD, None, "no card was found"),)
    fields: dict[str, Any] = {"notes": notes, "marker_at_stop": False, "card": 3, **more}
    return Reading(status, exposed=lengths[0], marker=lengths[1], remaining=lengths[2], **fields)


def made_in_full() -> Reading:
    """Make a reading in which every field is set."""
    s = np.linspace(-1, 1, 9)

    def rim(name: RimName, y: float) -> Rim:
        return Rim(name, y, np.c_[30 + 10 * s, y + 2 * (1 - s**2)], 1.0)

    return made(
        175.0,
        62.0,
        113.0,
        rims=(rim(RimName.SEAL, 40.0), rim(RimName.MARKER_NEAR, 25.0), rim(RimName.FAR_END, 8.0)),
        covariance_mm2=np.array([[0.02, 0.01, np.nan], [0.01, 0.02, 0.0], [np.nan, 0.0, 0.02]]),
        scale=ScaleCheck(5.0, 5.02, 1.5, 2.0),
        pose=CameraPose(1500.0, "exif", np.eye(3), np.array([1.0, 2.0, 300.0])),
        card_outline_px=np.array([[2.0, 5.0], [12.0, 5.0], [12.0, 45.0], [2.0, 45.0]]),
        shaft_edges_px=(np.array([[20.0, 5.0], [20.0, 45.0]]), np.array([[40.0, 5.0], [40.0, 45.0]])),
        remarks=("a remark",),
    )


def put_in_place(monkeypatch: pytest.MonkeyPatch, reading: Reading | Callable[..., Reading]) -> None:
    """Let the commands get this reading, or what this function returns, for every photo that opens."""
    see: Callable[..., Reading] = reading if callable(reading) else lambda photo, focal, declared: reading
    monkeypatch.setattr("strandline.read.apart.AT_LEAST", 1_000_000)  # in another process nothing is replaced
    monkeypatch.setattr(
        "strandline.read.one_photo.see", lambda photo, focal, declared, card: see(photo, focal, declared)
    )


def photo(path: Path, size: tuple[int, int] = (64, 48)) -> Path:
    """Write a small real JPEG."""
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.new("RGB", size, (90, 120, 90)).save(path, "JPEG")
    return path


def run(*words: str | Path) -> Result:
    """Run the command line as a person would."""
    return CliRunner().invoke(cli, [str(word) for word in words])


def strict(line: str) -> dict[str, Any]:
    """Parse a line as strict JSON: NaN and Infinity are errors (RFC 8259)."""

    def refuse(word: str) -> None:
        raise ValueError(f"{word} is not JSON")

    found: dict[str, Any] = json.loads(line, parse_constant=refuse)
    return found


def json_lines(result: Result) -> list[dict[str, Any]]:
    """Parse the objects on standard output, one per line."""
    return [strict(line) for line in result.stdout.splitlines()]
