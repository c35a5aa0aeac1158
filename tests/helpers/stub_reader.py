"""A reader in place of the vision: a “photo” is a line of JSON that says what is to be seen in it.

Worker processes load it by its name. What it makes of a photo passes through the program's own records.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import time
from dataclasses import asdict, dataclass
from pathlib import Path

from PIL import Image

from strandline.day.identify.sighting import Sighting
from strandline.day.reading.from_outcome import hash_of_inputs, photo_record
from strandline.day.reading.jobs import Answer, Job
from strandline.day.reading.records import PhotoRecord, ReadingRow
from strandline.day.reading.worker_job import pending_readings
from strandline.read.inputs import ReadInputs
from strandline.read.one_photo import Outcome
from strandline.read.stroke import used_stroke
from strandline.shared.messages import Message
from vision.reading import CameraPose, Length, Note, Reading, ScaleCheck, Status
from vision.reasons import Reason

READER = "tests.helpers.stub_reader:process_photo"
LOG = "STUB_READER_LOG"
"""Environment variable: a file that gets a line for each photo that is read."""


@dataclass(frozen=True)
class Scene:
    """What a made-up photo shows."""

    card: int | None = 3
    tags: tuple[str, ...] = ()
    when: str | None = None
    exposed: float | None = 170.0
    marker: float | None = 60.0
    u95: float = 0.4
    diameter: float | None = None
    do: str = ""
    salt: int = 0

    @property
    def content(self) -> bytes:
        """As a file's bytes."""
        return json.dumps(asdict(self)).encode()


def put(path: Path, scene: Scene) -> Path:
    """Write a made-up photo."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(scene.content)
    return path


def warm_up() -> None:
    """Load what the first made-up photo needs."""
    from strandline.read.parse import ReadOptions, parse_options

    inputs = parse_options(ReadOptions("41 mm", "fork"))
    assert hash_of_inputs(inputs)
    _record(Scene(), inputs)
    _thumb()


def process_photo(job: Job) -> Answer:
    """Look at a made-up photo."""
    content = job.path.read_bytes() if job.content is None else job.content
    if LOG in os.environ:
        with Path(os.environ[LOG]).open("a") as log:
            log.write(f"{job.parts[-1]!r}\n")
    if hashlib.sha256(content).hexdigest() != job.sha256:
        return Answer(Sighting(), changed=True)
    try:
        values = json.loads(content)
    except ValueError:
        return Answer(Sighting(problem="unreadable", what="The file is damaged.", advice="Copy it again."))
    scene = Scene(**{**values, "tags": tuple(values["tags"])})
    _misbehave(scene.do)
    if scene.do == "lie":
        return {"lengths": 3}  # type: ignore[return-value]
    if scene.card is None:
        return Answer(
            Sighting(scene.when, problem="no_card", what="No card was found.", advice="Lay it."), _thumb()
        )
    sighting = Sighting(scene.when, scene.card, scene.tags)
    rows = [
        ReadingRow(inputs_hash, _record(scene, inputs), _thumb())
        for inputs_hash, inputs in pending_readings(job, sighting).items()
    ]
    return Answer(sighting, _thumb(), tuple(rows))


def _misbehave(do: str) -> None:
    if do == "hang":
        time.sleep(600)
    if do == "slow":
        time.sleep(0.15)
    if do == "die":
        os._exit(3)
    if do == "memory":
        raise MemoryError
    if do == "greedy":
        import numpy as np

        held = [np.empty(1 << 28, np.uint8) for _ in range(200)]  # never touched, so it costs no time
        raise AssertionError(len(held))


def _record(scene: Scene, inputs: ReadInputs) -> PhotoRecord:
    shaft_mm = inputs.shaft_mm.value
    seen_mm = scene.diameter or shaft_mm
    if scene.exposed is None or scene.marker is None or abs(seen_mm / shaft_mm - 1) > 0.025:
        reading = Reading(
            Status.REFUSED, (Note(Reason.SCALE_CONFLICT, None, "they disagree"),), card=scene.card
        )
    else:
        import numpy as np

        reading = Reading(
            Status.READ,
            exposed=Length(scene.exposed, scene.u95),
            marker=Length(scene.marker, scene.u95),
            remaining=Length(scene.exposed - scene.marker, scene.u95),
            marker_at_stop=False,
            card=scene.card,
            scale=ScaleCheck(5.0, 5.0 * seen_mm / shaft_mm, 400 * (seen_mm / shaft_mm - 1), 1.0),
            pose=CameraPose(2000.0, "exif", np.eye(3), np.zeros(3)),
        )
    used = used_stroke(reading, inputs)
    messages = (Message("scale_conflict", None, "They disagree.", "Measure."),) if used is None else ()
    return photo_record(Outcome("", reading, messages, used=used), inputs)


def _thumb() -> bytes:
    buffer = io.BytesIO()
    Image.new("RGB", (12, 16), (90, 120, 90)).save(buffer, "WEBP")
    return buffer.getvalue()
