"""What a worker does with one photo: open it once, find out whose leg it shows, and read it."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from strandline.day.identify.sighting import Sighting
from strandline.day.reading.from_outcome import hash_of_inputs, photo_record
from strandline.day.reading.jobs import Answer, Job
from strandline.day.reading.photo_files import content_hash
from strandline.day.reading.records import ReadingRow
from strandline.read.apart import warm_up as warm_up  # the pool calls it before the first photo
from strandline.read.inputs import ReadInputs
from strandline.read.one_photo import Outcome, read_opened
from strandline.shared.messages import (
    ROOM_ERRORS,
    message_for_error,
    message_for_fault,
    print_fault,
    printable,
)

if TYPE_CHECKING:
    from calibration.find_card import CardSighting
    from calibration.photo import Photo

# A phone shows 400 points across, three pixels each: at 1200 px a drawn line stays sharp when it is enlarged, and
# 300 photos make a page of some 25 MB, which a phone still opens [common practice, no source].
PICTURE_SIDE_PX = 1200
PICTURE_QUALITY = 50
THUMB_SIDE_PX = 320
THUMB_QUALITY = 50

READER = "strandline.day.reading.worker_job:process_photo"
"""Name of the function that workers call, as they take it."""


def process_photo(job: Job) -> Answer:
    """Read one photo.

    Parameters
    ----------
    job : Job

    Returns
    -------
    Answer
        Whatever is wrong with the photo is recorded in it.

    Raises
    ------
    MemoryError
        The photo needs more than a worker may have.
    """
    import cv2

    from calibration.errors import CalibrationError
    from calibration.photo import load_photo
    from strandline.day.identify.sighting import sighting_of

    cv2.setNumThreads(1)  # the pool has a process for each core
    try:
        with _file(job) as path:
            try:
                photo = load_photo(path)
            except CalibrationError as error:
                if job.content is None and content_hash(path) != job.sha256:
                    return Answer(Sighting(), changed=True)
                message = message_for_error(error)
                # The file's name is left out: what is kept belongs to the content, whatever it is called.
                what = message.what.replace(printable(str(path)), "The file")
                return Answer(Sighting(problem="unreadable", what=what, advice=message.advice))
        if job.content is not None:
            photo = replace(photo, sha256=job.sha256)  # what was sent is the photo without its place
        if photo.sha256 != job.sha256:
            return Answer(Sighting(), changed=True)
        sighting, card = sighting_of(photo) if job.sighting is None else (job.sighting, None)
        thumb = None if job.sighting is not None else _thumb(photo)
    except MemoryError:
        raise
    except Exception as error:  # a fault on one photo is that photo's exception, not the day's end
        print_fault()
        message = message_for_fault("The photo", error)
        return Answer(Sighting(problem="fault", what=message.what, advice=message.advice))
    return Answer(sighting, thumb, tuple(_readings(job, photo, sighting, card)))


def pending_readings(job: Job, sighting: Sighting) -> dict[str, ReadInputs]:
    """Give the inputs under which a photo has still to be read, by their hashes; none where no leg is known.

    Parameters
    ----------
    job : Job
        Readings under `job.known` are left out.
    sighting : Sighting
    """
    from strandline.day.identify.identity import Identity, identify_leg

    found = identify_leg(sighting, job.parts, job.roster)
    if not isinstance(found, Identity):
        return {}
    stated = [leg.inputs for leg in found.entry.legs if leg.name in found.legs]
    hashed = {hash_of_inputs(inputs): inputs for inputs in stated if inputs is not None}
    return {key: inputs for key, inputs in hashed.items() if key not in job.known}


def _readings(job: Job, photo: Photo, sighting: Sighting, card: CardSighting | None) -> Iterator[ReadingRow]:
    for inputs_hash, inputs in pending_readings(job, sighting).items():
        yield _reading(inputs_hash, inputs, photo, card)


def _reading(inputs_hash: str, inputs: ReadInputs, photo: Photo, card: CardSighting | None) -> ReadingRow:
    from strandline.read.overlays import overlay_jpeg
    from vision.reading import Reading, Status

    try:
        outcome = read_opened("", photo, inputs, card)
    except MemoryError:
        raise
    except ROOM_ERRORS as error:
        outcome = Outcome("", Reading(Status.REFUSED), (message_for_error(error),))
    except Exception as error:  # as above
        print_fault()
        outcome = Outcome("", Reading(Status.REFUSED), (message_for_fault("The photo", error),))
    picture = None
    # Of a refused photo the overlay shows where it failed, where any of it could be placed.
    if outcome.reading.card_outline_px is not None:
        from PIL import Image

        drawn = overlay_jpeg(outcome, photo, inputs.units, inputs.leg.layout)
        with Image.open(io.BytesIO(drawn)) as image:
            picture = _webp(image, PICTURE_SIDE_PX, PICTURE_QUALITY)
    return ReadingRow(inputs_hash, photo_record(outcome, inputs), picture)


def _thumb(photo: Photo) -> bytes:
    """Make a thumbnail, WebP, of the upright photo; from pixels alone, so that no EXIF, place or number is in it."""
    from PIL import Image

    from calibration.pixels import shrunk
    from calibration.upright import turned

    # Roughly first, to twice the size or more: Pillow's own copy of twelve megapixels is 48 MB.
    lying = shrunk(photo.stored, max(1, max(photo.size) // (2 * THUMB_SIDE_PX)))
    return _webp(Image.fromarray(turned(lying, photo.quarter_turns)), THUMB_SIDE_PX, THUMB_QUALITY)


def _webp(image: object, side_px: int, quality: int) -> bytes:
    from PIL import Image

    assert isinstance(image, Image.Image)
    small = image.copy()
    small.thumbnail((side_px, side_px), Image.Resampling.LANCZOS)
    small.info.clear()
    buffer = io.BytesIO()
    small.save(buffer, "WEBP", quality=quality, method=4)
    return buffer.getvalue()


@contextmanager
def _file(job: Job) -> Iterator[Path]:
    """Path of the photo; of a temporary copy where its bytes were sent along."""
    if job.content is None:
        yield job.path
        return
    with tempfile.TemporaryDirectory(prefix="strandline-") as folder:
        path = Path(folder) / "photo"
        path.write_bytes(job.content)
        yield path
