"""Read photos in a process of their own, which can crash or be stopped without the others' readings."""

from __future__ import annotations

import importlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from strandline.read.inputs import ReadInputs
from strandline.read.one_photo import Outcome, read_one, refused
from strandline.shared.files import OutputError
from strandline.shared.messages import Message, printable
from strandline.shared.worker import Limits, Lost, Worker

if TYPE_CHECKING:
    from strandline.read.overlays import OverlayWriter

AT_LEAST = 3
"""Photos from which on a process of its own costs nothing that can be measured: 1.74 s of processor time for three
photos of 1.6 megapixels either way [measured, medians of five]."""

READER = "strandline.read.apart:read_job"

LIMITS = Limits()

_ADVICE = {
    "time": "Send the original file from the camera, or set it to a smaller size.",
    "memory": "Set the camera to a smaller size; 8 to 50 megapixels are plenty.",
    "died": "Copy it from the phone again; if it stays so, send the original file from the camera.",
}


@dataclass(frozen=True)
class ReadJob:
    """One photo to be read.

    Attributes
    ----------
    name : str
        As given on the command line.
    inputs : ReadInputs
    writer : OverlayWriter or None
    scales : mapping of int to str
        See `read_one`.
    """

    name: str
    inputs: ReadInputs
    writer: OverlayWriter | None = None
    scales: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ReadAnswer:
    """What came of it.

    Attributes
    ----------
    outcome : Outcome
    trouble : str
        Why the overlay was not written; empty where it was, or was not wanted.
    """

    outcome: Outcome
    trouble: str = ""


def read_job(job: ReadJob) -> ReadAnswer:
    """Read one photo and write its overlay."""
    outcome, photo = read_one(job.name, job.inputs, job.scales)
    if job.writer is None or photo is None:
        return ReadAnswer(outcome)
    try:
        return ReadAnswer(job.writer.write(outcome, photo))
    except OutputError as error:
        return ReadAnswer(outcome, printable(str(error)))


def warm_up() -> None:
    """Load what reading needs, so that the first photo does not pay for it."""
    for name in (
        "calibration.find_card",
        "calibration.photo",
        "strandline.read.one_photo",
        "strandline.read.overlays",
        "vision.read",
    ):
        importlib.import_module(name)
    from suspension.quantities.lengths import parse_length

    parse_length("1 mm", name="length", example="1 mm")


def read_jobs(jobs: Sequence[ReadJob]) -> Iterator[ReadAnswer]:
    """Read photos, in their order; from `AT_LEAST` on in a process that can end without the others' readings."""
    if len(jobs) < AT_LEAST:
        yield from map(read_job, jobs)
        return
    worker = Worker(READER, LIMITS.memory_mb)
    try:
        for job in jobs:
            answer = worker.ask(job, LIMITS.seconds)
            yield _lost(job.name, answer) if isinstance(answer, Lost) else answer
    finally:
        worker.stop()


def _lost(name: str, lost: Lost) -> ReadAnswer:
    return ReadAnswer(refused(name, Message(f"lost_{lost.kind}", None, lost.what, _ADVICE[lost.kind])))
