"""Photos on their way in: every byte is counted, and a photo that was answered for is on the disk."""

from __future__ import annotations

import asyncio
import datetime as dt
import os
import re
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from ridelog.names import LegName
from ridelog.storage.records import Approach
from strandline.day.identify.identity import Phase
from strandline.garage.bikes import known_bike
from strandline.garage.photos.store import StoredPhoto, Subject
from strandline.garage.server.garage import Garage, garage_of, visitor_of
from strandline.shared.messages import ROOM_ERRORS
from suspension.quantities.print_scale import print_scale
from suspension.stroke.leg import State

if TYPE_CHECKING:
    from python_multipart.multipart import MultipartCallbacks
    from starlette.requests import Request
    from starlette.responses import Response

# The fields beside a photo, together; each part counts as so many bytes at least, or millions of empty ones would be
# free.
FIELD_BYTES = 4096
PART_BYTES = 64
# The phone's own number of a photo, a UUID (RFC 9562).
_KEY = re.compile(r"[0-9a-f-]{36}")
_BOUNDARY = re.compile(r'boundary="?([^";,]{1,70})"?', re.IGNORECASE)


class UploadRefused(Exception):
    """A photo that is not taken: status, what is the matter, and what to do."""

    def __init__(self, status: int, what: str, advice: str) -> None:
        super().__init__(what)
        self.status, self.what, self.advice = status, what, advice


@dataclass
class Upload:
    """The fields of a form with a photo; the photo itself goes into a file as it arrives.

    Attributes
    ----------
    file : BinaryIO
    most_bytes : int
    fields : dict of str to str
    photo_bytes : int
    """

    file: BinaryIO
    most_bytes: int
    fields: dict[str, str] = field(default_factory=dict)
    photo_bytes: int = 0
    is_complete: bool = False
    _name: bytes = b""
    _value: bytes = b""
    _field_bytes: int = 0
    _head: tuple[bytes, bytes] = (b"", b"")
    _is_photo: bool = False
    _seen_photo: bool = False

    def callbacks(self) -> MultipartCallbacks:
        """Give what the parser calls."""
        return {
            "on_part_begin": self._begin,
            "on_header_field": lambda data, start, end: self._header(data[start:end], b""),
            "on_header_value": lambda data, start, end: self._header(b"", data[start:end]),
            "on_header_end": self._header_end,
            "on_part_data": lambda data, start, end: self._data(data[start:end]),
            "on_part_end": self._end,
            "on_end": self._done,
        }

    def _begin(self) -> None:
        self._count(PART_BYTES)
        self._name, self._value, self._head, self._is_photo = b"", b"", (b"", b""), False

    def _header(self, name: bytes, value: bytes) -> None:
        self._count(len(name) + len(value))
        self._head = (self._head[0] + name, self._head[1] + value)

    def _header_end(self) -> None:
        name, value = self._head
        self._head = (b"", b"")
        if name.lower() != b"content-disposition":
            return
        from python_multipart.multipart import parse_options_header

        _, options = parse_options_header(value)
        self._name = options.get(b"name", b"")
        # The name that the phone gives its file is not looked at.
        self._is_photo = self._name == b"photo" and bool(options.get(b"filename"))
        if self._is_photo and self._seen_photo:
            raise UploadRefused(400, "More than one photo came at once.", "Send one photo at a time.")
        self._seen_photo = self._seen_photo or self._is_photo

    def _data(self, data: bytes) -> None:
        if not self._is_photo:
            self._count(len(data))
            self._value += data
            return
        self.photo_bytes += len(data)
        if self.photo_bytes > self.most_bytes:
            raise too_large(self.most_bytes)
        self.file.write(data)

    def _end(self) -> None:
        if not self._is_photo:
            self.fields[self._name.decode("utf-8", "replace")] = self._value.decode(
                "utf-8", "replace"
            ).strip()

    def _done(self) -> None:
        self.is_complete = True

    def _count(self, more: int) -> None:
        self._field_bytes += more
        if self._field_bytes > FIELD_BYTES:
            raise UploadRefused(413, "There is too much beside the photo.", "Send the photo alone.")


def too_large(most_bytes: int) -> UploadRefused:
    """Refuse a photo for its bytes."""
    return UploadRefused(
        413,
        f"The photo has more than {most_bytes / 1e6:.0f} MB.",
        "Set the camera to a smaller size; 12 to 50 megapixels are plenty.",
    )


async def receive_photo(request: Request) -> StoredPhoto:
    """Take a photo in, and have it read.

    Raises
    ------
    UploadRefused
    """
    garage = garage_of(request)
    limits = garage.settings.limits
    if len(garage.store.waiting()) + garage.arrivals.count >= limits.waiting:
        raise UploadRefused(503, "Many photos are waiting to be read.", "It is sent again by itself.")
    if len(garage.store) >= limits.kept:
        raise UploadRefused(
            507, f"{limits.kept} photos are kept already.", "Delete some on the laptop: under Phones."
        )
    length = request.headers.get("content-length", "")
    if length.isdigit() and int(length) > _most_bytes(garage):
        raise too_large(limits.photo_bytes)
    photo_id = garage.store.new_id()
    draft = garage.store.raw_path(photo_id).with_suffix(".part")
    with garage.arrivals:
        try:
            with draft.open("xb") as file:
                upload = Upload(file, limits.photo_bytes)
                await _pour(request, upload)
                await asyncio.to_thread(_flush, file)
            return await asyncio.to_thread(_kept, request, garage, photo_id, draft, upload)
        except OSError as error:
            what = "The laptop's disk is full, or fails."
            raise UploadRefused(507, what, "Free some space on the laptop, and send it again.") from error
        finally:
            draft.unlink(missing_ok=True)


async def _pour(request: Request, upload: Upload) -> None:
    """Write the photo as it arrives; whoever is too slow is cut off."""
    from python_multipart.exceptions import MultipartParseError
    from python_multipart.multipart import MultipartParser

    found = _BOUNDARY.search(request.headers.get("content-type", ""))
    if found is None or not request.headers["content-type"].startswith("multipart/form-data"):
        raise UploadRefused(415, "That was no form with a photo.", "Send it from the garage's page.")
    limits = garage_of(request).settings.limits
    pieces = aiter(request.stream())
    end = time.monotonic() + limits.upload_s
    seen, most = 0, _most_bytes(garage_of(request))
    try:
        parser = MultipartParser(found[1].encode("latin-1"), upload.callbacks())
        while True:
            left = min(limits.piece_s, end - time.monotonic())
            piece = await asyncio.wait_for(anext(pieces), max(left, 0.0))
            # What stands before the first part and behind the last is nobody's, and has no other end.
            seen += len(piece)
            if seen > most:
                raise too_large(limits.photo_bytes)
            parser.write(piece)
    except StopAsyncIteration:
        parser.finalize()
    except TimeoutError as error:
        raise UploadRefused(408, "The photo came too slowly.", "Go nearer to the laptop.") from error
    except MultipartParseError as error:
        raise UploadRefused(400, "The form is damaged.", "Send it from the garage's page.") from error
    if not upload.is_complete or not upload.photo_bytes:
        raise UploadRefused(400, "The photo did not come whole.", "Send it again.")


def _most_bytes(garage: Garage) -> int:
    """Bytes of a form with a photo."""
    return garage.settings.limits.photo_bytes + 2 * FIELD_BYTES


def _flush(file: BinaryIO) -> None:
    file.flush()
    os.fsync(file.fileno())


def _kept(request: Request, garage: Garage, photo_id: str, draft: Path, upload: Upload) -> StoredPhoto:
    """Keep a photo that has arrived; one that was sent before is not kept twice."""
    key = upload.fields.get("key", "").lower()
    key = key if _KEY.fullmatch(key) else ""
    subject = _subject(garage, upload.fields)
    arrived = dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds")
    photo = StoredPhoto(photo_id, key, subject, visitor_of(request).name, arrived)
    kept = garage.store.add(photo, draft)
    if kept.id == photo_id:
        garage.reader.read(kept)
    return garage.store.get(kept.id)


def _subject(garage: Garage, fields: dict[str, str]) -> Subject:
    """Read what a photo was taken for.

    Raises
    ------
    UploadRefused
    """
    if fields.get("purpose") == "day":
        return day_subject(garage, fields)
    try:
        bike = known_bike(garage.settings, fields.get("bike", ""))
        leg = bike.bike.leg(LegName(fields.get("leg", "")).value).name
        state = State(fields.get("state") or State.UNKNOWN.value)
        approach = Approach(fields.get("approach") or Approach.NOT_STATED.value)
        print_scale(fields.get("print_scale") or None)
    except ValueError as error:
        raise UploadRefused(400, "The form names no leg of the bike.", "Choose the leg again.") from error
    except ROOM_ERRORS as error:
        raise UploadRefused(400, error.message, error.remedy) from error
    is_sag = fields.get("purpose") == "sag"
    # The draft is the bike's own, whatever the form says; a photo that was kept on the phone meanwhile joins the ride
    # in progress if there is one, and is still to be seen under its own address.
    draft = (garage.sags if is_sag else garage.rides).of(fields["bike"])
    purpose, scale = "sag" if is_sag else "ride", fields.get("print_scale") or None
    return Subject(fields["bike"], leg, state, purpose, draft.number, approach, print_scale=scale)


def day_subject(garage: Garage, fields: dict[str, str]) -> Subject:
    """Read what a photo of a tech day shows: before or after, and which leg; the card in it says whose.

    Raises
    ------
    UploadRefused
    """
    if garage.day is None:
        raise UploadRefused(400, "There is no tech day here.", "Start the garage with --day FOLDER.")
    try:
        leg = LegName(fields.get("leg", ""))
        phase = Phase(fields.get("phase", ""))
    except ValueError as error:
        raise UploadRefused(400, "The form names no leg.", "Choose the leg again.") from error
    name = "-".join(part for part in (phase.value, leg.value) if part)
    return Subject("", leg, purpose="day", day_name=name)


async def send_photo(request: Request) -> Response:
    """Take a photo from a form, and go on to its page."""
    from starlette.responses import JSONResponse, RedirectResponse

    from strandline.garage.server.pages import message_page

    wants_json = "application/json" in request.headers.get("accept", "")
    try:
        photo = await receive_photo(request)
    except UploadRefused as error:
        if wants_json:
            return JSONResponse({"what": error.what, "advice": error.advice}, error.status)
        return message_page(error.status, error.what, error.advice)
    place = f"/photo/{photo.id}"
    return JSONResponse({"page": place}, 201) if wants_json else RedirectResponse(place, 303)
