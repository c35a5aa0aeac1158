"""A photo's readings as the logbook takes them: the program's own, and the hand's, which counts."""

from __future__ import annotations

from ridelog.storage.records import Reading
from strandline.day.reading.records import PhotoRecord
from strandline.facts.photo_readings import PhotoReading, log_reading
from strandline.garage.photos.store import StoredPhoto
from strandline.ride.photos import SeenPhoto
from vision.reasons import Reason


def seen_photo(photo: StoredPhoto) -> SeenPhoto:
    """Give the reading that counts, and beside the hand's the program's own, where it read any length."""
    record = photo.record
    assert record is not None
    no_marker = any(one.code == Reason.NO_MARKER.value for one in record.reasons)
    own = photo.automatic
    corrected = None if photo.by_hand is None or own is None or own.is_refused else _of_program(photo, own)
    return SeenPhoto(reading_of(photo), record.cautions, no_marker, corrected=corrected)


def reading_of(photo: StoredPhoto) -> Reading:
    """Give the reading that counts."""
    if photo.by_hand is None:
        assert photo.automatic is not None
        return _of_program(photo, photo.automatic)
    return log_reading(
        photo.subject.leg, _photo_reading(photo, photo.by_hand, by_hand=True), photo.by_hand_who or photo.who
    )


def _of_program(photo: StoredPhoto, record: PhotoRecord) -> Reading:
    return log_reading(photo.subject.leg, _photo_reading(photo, record), photo.who)


def _photo_reading(photo: StoredPhoto, record: PhotoRecord, *, by_hand: bool = False) -> PhotoReading:
    return PhotoReading(
        photo.file_name,
        photo.sha256,
        record.shaft_lengths,
        record.marker,
        record.state,
        record.marker_at_stop,
        by_hand,
    )
