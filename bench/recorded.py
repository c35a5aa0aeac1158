"""Recorded answers in place of the vision, to time a day's run without the reading.

Worker processes load `process_photo` by its name, as they load the real one; all else is the day's own.
"""

from __future__ import annotations

import os
import pickle
from dataclasses import replace
from functools import cache
from pathlib import Path

from bench.day_folder import shot_of
from strandline.day.reading.jobs import Answer, Job
from strandline.day.reading.photo_files import content_hash, find_photos
from strandline.day.reading.store import ResultsStore
from strandline.day.reading.worker_job import pending_readings

READER = "bench.recorded:process_photo"
"""The name by which workers load it."""

FILE = "BENCH_RECORDED"
"""Environment variable: the file of recorded answers."""


def record(folder: Path, out: Path, program: str, path: Path) -> int:
    """Write a file with the answers that a finished day holds, one for each shot.

    Parameters
    ----------
    folder, out : Path
        A made day, and its results.
    program : str
        Version of the program that gave the answers.
    path : Path
        File to write.

    Returns
    -------
    int
        Number of answers.
    """
    answers: dict[int, Answer] = {}
    with ResultsStore(out, program) as store:
        kept = store.kept(roster="")
        for photo in find_photos(folder, out):
            sha256 = content_hash(photo)
            sighting = None if sha256 is None else kept.sightings.get(sha256)
            if sha256 is None or sighting is None:
                continue
            rows = kept.readings.get(sha256, {}).values()
            readings = tuple(replace(row, picture=store.picture(sha256, row.inputs_hash)) for row in rows)
            answers[shot_of(photo.name)] = Answer(sighting, store.thumb(sha256), readings)
    path.write_bytes(pickle.dumps(answers))
    return len(answers)


def process_photo(job: Job) -> Answer:
    """Answer as the vision once did, to what is asked now."""
    answer = _answers()[shot_of(job.parts[-1])]
    pending = pending_readings(job, answer.sighting)
    rows = tuple(row for row in answer.readings if row.inputs_hash in pending)
    return replace(answer, readings=rows)


def warm_up() -> None:
    """Load the answers before the first job."""
    _answers()


@cache
def _answers() -> dict[int, Answer]:
    found: dict[int, Answer] = pickle.loads(Path(os.environ[FILE]).read_bytes())
    return found
