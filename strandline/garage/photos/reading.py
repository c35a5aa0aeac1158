"""From a photo that arrived to its reading, in a worker; what was not read when the server ended is read at the next
start."""

from __future__ import annotations

import threading
from concurrent.futures import Future
from typing import Any

from strandline.garage.bikes import known_bike
from strandline.garage.photos.store import PhotoStore, StoredPhoto, Subject
from strandline.garage.photos.worker_job import KeepJob, PhotoAnswer, PhotoJob, WorkerJob
from strandline.garage.photos.workers import Workers
from strandline.garage.settings import GarageSettings
from strandline.read.inputs import PhotoInputs, ReadInputs, inputs_of_leg
from strandline.shared.files import OutputError
from strandline.shared.messages import ROOM_ERRORS, message_for_error
from strandline.shared.worker import Lost
from suspension.quantities.print_scale import print_scale


def inputs_for(settings: GarageSettings, subject: Subject) -> ReadInputs:
    """Take what the bike's file says of a photo's leg, with the garage's units.

    Raises
    ------
    RecordError, BikeFileError
    """
    from dataclasses import replace

    leg = known_bike(settings, subject.bike).bike.leg(subject.leg.value)
    found = inputs_of_leg(leg, PhotoInputs(print_scale(subject.print_scale), None, subject.state))
    return replace(found, units=settings.units)


class PhotoReader:
    """Has photos read, in the order in which they came.

    Parameters
    ----------
    settings : GarageSettings
    store : PhotoStore
    workers : Workers
    """

    def __init__(self, settings: GarageSettings, store: PhotoStore, workers: Workers) -> None:
        self.settings = settings
        self.store = store
        self.workers = workers
        self._running: dict[str, Future[Any]] = {}
        self._lock = threading.Lock()

    def start(self) -> None:
        """Read what was not read yet when the last server ended."""
        for photo in self.store.waiting():
            self.read(photo)

    def read(self, photo: StoredPhoto) -> None:
        """Have a photo read; the answer goes to the store."""
        if photo.subject.purpose == "day":
            self._run(photo, self._day_job(photo))
            return
        try:
            inputs = inputs_for(self.settings, photo.subject)
        except ROOM_ERRORS as error:
            message = message_for_error(error)
            self.store.change(photo.id, problem=message.what, advice=message.advice)
            return
        store, limits = self.store, self.settings.limits
        job = PhotoJob(
            store.raw_path(photo.id),
            store.path(photo.id),
            store.picture_path(photo.id),
            store.drawn_path(photo.id),
            inputs,
            limits.pixels,
            limits.scans,
        )
        self._run(photo, job)

    def _day_job(self, photo: StoredPhoto) -> WorkerJob:
        """Put a photo into the folder of the day, whose own workers read it."""
        assert self.settings.day is not None
        name = f"{photo.subject.day_name}-{photo.id}.jpg"
        target = self.settings.day / "photos" / name
        return KeepJob(
            self.store.raw_path(photo.id), target, self.settings.limits.scans, self.settings.limits.pixels
        )

    def _run(self, photo: StoredPhoto, job: WorkerJob) -> None:
        done: Future[None] = Future()
        with self._lock:
            self._running[photo.id] = done
        self.workers.submit(job).add_done_callback(lambda found: self._keep(photo.id, found, done))

    def running(self, photo_id: str) -> Future[None] | None:
        """Give what ends when a photo is read; None where it is read already."""
        return self._running.get(photo_id)

    def _keep(self, photo_id: str, found: Future[Any], done: Future[None]) -> None:
        try:
            if found.cancelled():
                return
            answer = found.result()
            if isinstance(answer, Lost):
                advice = "Take it again at the camera's usual size."
                answer = PhotoAnswer(problem=answer.what, advice=advice)
            self._note(photo_id, answer)
        finally:
            with self._lock:
                self._running.pop(photo_id, None)
            done.set_result(None)

    def _note(self, photo_id: str, answer: PhotoAnswer) -> None:
        """Keep what was read, and only then let go of the photo as it came: a power cut in between reads it again."""
        changed = {
            "sha256": answer.sha256,
            "size_px": answer.size_px,
            "ending": answer.ending,
            "automatic": answer.record,
            "problem": answer.problem,
            "advice": answer.advice,
        }
        if answer.is_to_be_read_again:
            self.store.remember(photo_id, **changed)
            return
        try:
            self.store.change(photo_id, **changed)
        except OutputError:  # the disk is full: shown until the program ends, read again at its next start
            self.store.remember(photo_id, **changed)
        else:
            self.store.raw_path(photo_id).unlink(missing_ok=True)
