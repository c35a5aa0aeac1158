"""A reader in place of `strandline.read.apart.read_job` that misbehaves as the photo's name says."""

from __future__ import annotations

import os
import time
from pathlib import Path

from strandline.read.apart import ReadAnswer, ReadJob
from strandline.read.one_photo import Outcome
from vision.reading import Length, Reading, Status

READER = "tests.helpers.stub_read:read_job"


def read_job(job: ReadJob) -> ReadAnswer:
    """Die, hang, need too much memory, or read 120 mm."""
    what = Path(job.name).stem
    if what == "dies":
        os.abort()
    if what == "hangs":
        time.sleep(600)
    if what == "greedy":
        raise MemoryError
    return ReadAnswer(Outcome(job.name, Reading(Status.READ, exposed=Length(120.0, 0.4))))
