"""Photos that phones sent: each under a number that nobody can guess, with what was read in it."""

from __future__ import annotations

import datetime as dt
import json
import re
import secrets
import threading
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path

from ridelog.names import LegName
from ridelog.storage.records import Approach
from strandline.day.reading.records import PhotoRecord
from strandline.shared.files import make_folder, read_own, write_new
from suspension.stroke.leg import State

_ID = re.compile(r"[0-9a-f]{32}")


class UnknownPhoto(LookupError):
    """There is no photo of this number."""


@dataclass(frozen=True)
class Subject:
    """What a photo was taken for.

    Attributes
    ----------
    bike : str
        Name of the bike's file without its ending.
    leg : LegName
    state : State
        How the bike stood.
    purpose : str
        "ride", "sag" or "day".
    draft : str
        Number of the ride or the sag in progress that it belongs to; empty where there is none any more.
    approach : Approach
        Of sag: from where the bike settled.
    day_name : str
        Of a tech day: what the photo's name says there, "before-front-left".
    print_scale : str or None
        Of the printed card, as a person writes it.
    """

    bike: str
    leg: LegName
    state: State = State.UNKNOWN
    purpose: str = "ride"
    draft: str = ""
    approach: Approach = Approach.NOT_STATED
    day_name: str = ""
    print_scale: str | None = None


@dataclass(frozen=True)
class StoredPhoto:
    """A photo that arrived.

    Attributes
    ----------
    id : str
        32 hexadecimal digits at random: whoever has not been shown it cannot ask for it.
    key : str
        The phone's own number for it, by which one that is sent twice is recognised.
    subject : Subject
    who : str
        Name of the phone.
    arrived : str
        ISO 8601, UTC; each photo's is later than those before.
    sha256 : str
        Of the photo as it is kept; empty until it was opened.
    problem : str
        Why it could not be opened, a sentence; empty otherwise.
    advice : str
        What to do about it.
    automatic : PhotoRecord or None
        What the program read; None until it was read.
    by_hand : PhotoRecord or None
        What a person made of it.
    by_hand_who, by_hand_when : str
    size_px : tuple of two int
        Width and height of the upright photo.
    ending : str
        Of a file's name, by the kind of the photo as it is kept.
    """

    id: str
    key: str
    subject: Subject
    who: str
    arrived: str
    sha256: str = ""
    problem: str = ""
    advice: str = ""
    automatic: PhotoRecord | None = None
    by_hand: PhotoRecord | None = None
    by_hand_who: str = ""
    by_hand_when: str = ""
    size_px: tuple[int, int] = (0, 0)
    ending: str = ".jpg"

    @property
    def file_name(self) -> str:
        """What the logbook calls the photo."""
        return f"{self.subject.leg.value}-{self.id}{self.ending}"

    @property
    def is_waiting(self) -> bool:
        """Whether it has still to be read."""
        return self.automatic is None and not self.problem and not self.sha256

    @property
    def record(self) -> PhotoRecord | None:
        """The reading that counts: the hand's, else the program's."""
        return self.by_hand or self.automatic

    @property
    def is_good(self) -> bool:
        """Whether a length is known."""
        return self.record is not None and not self.record.is_refused


class PhotoStore:
    """Photos in a folder; their places come from their numbers here, never from what a client sent.

    Parameters
    ----------
    folder : Path
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.RLock()
        self._photos: dict[str, StoredPhoto] = {}
        make_folder(folder)
        folder.chmod(0o700)
        for path in sorted(folder.glob("*.json")):
            found = _loaded(path)
            if found is not None and path.stem == found.id:
                self._photos[found.id] = found
        # What a killed program left half done: a photo as it came is there as long as it has still to be read, or its
        # note cannot be read.
        noted = {path.stem for path in folder.glob("*.json")}
        done = {one.id for one in self._photos.values() if not one.is_waiting}
        for path in folder.iterdir():
            if path.suffix == ".part" or (
                path.suffix == ".raw" and (path.stem in done or path.stem not in noted)
            ):
                path.unlink(missing_ok=True)

    @staticmethod
    def new_id() -> str:
        """Make a number that cannot be guessed: 128 bits."""
        return secrets.token_hex(16)

    def __len__(self) -> int:
        """How many there are."""
        return len(self._photos)

    def get(self, photo_id: str) -> StoredPhoto:
        """Find a photo.

        Raises
        ------
        UnknownPhoto
        """
        found = self._photos.get(photo_id)
        if found is None:
            raise UnknownPhoto
        return found

    def of_key(self, key: str) -> StoredPhoto | None:
        """Find the photo that a phone sent under its own number."""
        return next((one for one in self.photos() if key and one.key == key), None)

    def photos(self) -> tuple[StoredPhoto, ...]:
        """List all, the oldest first."""
        with self._lock:
            return tuple(sorted(self._photos.values(), key=lambda one: one.arrived))

    def of_draft(self, draft: str) -> tuple[StoredPhoto, ...]:
        """List those of a ride or a sag in progress, the oldest first."""
        return tuple(one for one in self.photos() if draft and one.subject.draft == draft)

    def waiting(self) -> tuple[StoredPhoto, ...]:
        """List those that have still to be read."""
        return tuple(one for one in self.photos() if one.is_waiting)

    def add(self, photo: StoredPhoto, draft: Path) -> StoredPhoto:
        """Keep a photo that has arrived in a file, or give the one that the phone sent before under the same number."""
        with self._lock:
            before = self.of_key(photo.key)
            if before is not None:
                return before
            latest = max((one.arrived for one in self._photos.values()), default="")
            photo = replace(photo, arrived=_after(latest, photo.arrived))
            draft.replace(self.raw_path(photo.id))
            self.put(photo)
            return photo

    def put(self, photo: StoredPhoto) -> None:
        """Keep what is known of a photo; it is on the disk when this returns."""
        assert _ID.fullmatch(photo.id)
        with self._lock:
            text = json.dumps(_fields(photo), ensure_ascii=True)
            write_new(self.folder / f"{photo.id}.json", text.encode(), force=True)
            self._photos[photo.id] = photo

    def change(self, photo_id: str, **changed: object) -> StoredPhoto:
        """Change what is known of a photo."""
        with self._lock:
            changed_photo = replace(self.get(photo_id), **changed)  # type: ignore[arg-type]
            self.put(changed_photo)
            return changed_photo

    def remember(self, photo_id: str, **changed: object) -> None:
        """Change what is known of a photo until the program ends; the disk keeps what it has."""
        with self._lock:
            self._photos[photo_id] = replace(self.get(photo_id), **changed)  # type: ignore[arg-type]

    def forget(self, photo_id: str) -> None:
        """Delete a photo with its reading and its pictures.

        Raises
        ------
        UnknownPhoto
        """
        with self._lock:
            places = (self.path(photo_id), self.picture_path(photo_id), self.drawn_path(photo_id))
            for path in (*places, self.raw_path(photo_id), self.folder / f"{photo_id}.json"):
                path.unlink(missing_ok=True)
            del self._photos[photo_id]

    def raw_path(self, photo_id: str) -> Path:
        """Place of a photo as it came, place and device in it; gone as soon as it was opened."""
        assert _ID.fullmatch(photo_id)
        return self.folder / f"{photo_id}.raw"

    def path(self, photo_id: str) -> Path:
        """Place of the photo as it is kept, without place and device.

        Raises
        ------
        UnknownPhoto
        """
        return self.folder / f"{self.get(photo_id).id}.photo"

    def picture_path(self, photo_id: str) -> Path:
        """Place of the plain picture for a screen, upright, JPEG.

        Raises
        ------
        UnknownPhoto
        """
        return self.folder / f"{self.get(photo_id).id}.jpg"

    def drawn_path(self, photo_id: str) -> Path:
        """Place of the picture with the reading drawn on it, JPEG; there is none of a refused photo.

        Raises
        ------
        UnknownPhoto
        """
        return self.folder / f"{self.get(photo_id).id}.drawn.jpg"


def _after(latest: str, arrived: str) -> str:
    """Give a time of arrival that is later than all before, whatever the clock says: the last photo of a leg counts."""
    if arrived > latest:
        return arrived
    try:
        moment = dt.datetime.fromisoformat(latest) + dt.timedelta(milliseconds=1)
    except (ValueError, OverflowError):  # a damaged note
        return arrived
    return moment.isoformat(timespec="milliseconds")


def _fields(photo: StoredPhoto) -> dict[str, object]:
    records = {name: getattr(photo, name) for name in ("automatic", "by_hand")}
    plain = asdict(replace(photo, automatic=None, by_hand=None))
    return {**plain, **{name: None if one is None else one.to_json() for name, one in records.items()}}


# Fields of a subject, and what those are that are no texts.
_SUBJECT: dict[str, type[LegName | State | Approach] | None] = {
    **dict.fromkeys(("bike", "purpose", "draft", "day_name", "print_scale")),
    **{"leg": LegName, "state": State, "approach": Approach},
}
# Fields of a photo's note that are no texts, or may be null.
_NO_TEXTS = frozenset(("automatic", "by_hand", "print_scale"))


def _loaded(path: Path) -> StoredPhoto | None:
    """Read what `put` wrote; None where it is damaged."""
    try:
        found = json.loads(read_own(path))
        # What a newer program added is passed over, what an older one did not write is as it is by default.
        subject = {name: value for name, value in found.pop("subject").items() if name in _SUBJECT}
        size = tuple(found.pop("size_px", (0, 0)))
        found = {one.name: found[one.name] for one in fields(StoredPhoto) if one.name in found}
        records = {
            name: None if found.get(name) is None else PhotoRecord.from_json(found[name])
            for name in ("automatic", "by_hand")
        }
        texts = [value for name, value in (*found.items(), *subject.items()) if name not in _NO_TEXTS]
        texts += [subject.get("print_scale") or ""]
        if not all(isinstance(one, str) for one in texts) or not all(isinstance(one, int) for one in size):
            return None
        kinds = {name: kind(subject[name]) for name, kind in _SUBJECT.items() if kind and name in subject}
        return StoredPhoto(
            **{**found, **records},
            subject=Subject(**{**subject, **kinds}),
            size_px=(size[0], size[1]),
        )
    except (
        OSError,
        ValueError,
        TypeError,
        KeyError,
        IndexError,
        AttributeError,
        RecursionError,
        OverflowError,
    ):
        return None
