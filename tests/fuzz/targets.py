"""What is fuzzed: each parser with the errors that it may end with, those that carry words for a person.

A target gets any bytes. Whatever else it raises is a crash; so is more than the time and memory that `run.py` allows.
"""

from __future__ import annotations

import io
import os
import sqlite3
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import click

from calibration.errors import CalibrationError
from ridelog.bikes.file import parse_bike
from ridelog.errors import LogbookError
from ridelog.storage.connection import migrate, open_raw
from ridelog.storage.readable import bad_rows
from ridelog.storage.store import Logbook
from ridelog.transfer.as_csv import read_csv
from ridelog.transfer.as_json import from_json
from ridelog.transfer.document import Document
from ridelog.transfer.transfer import import_
from strandline.day.errors import DayError
from strandline.day.identify.roster_file import read_roster
from strandline.pool.file import read_csv as read_pool
from strandline.read.hand_marks import MarksError
from strandline.shared.messages import ROOM_ERRORS
from tests.helpers.made_records import BIKE, TYPED, bike_file, entry, put_bike

PIXELS = 4_000_000
"""Of a photo here: enough for every way through the decoders, and quick."""


@dataclass(frozen=True)
class Target:
    """A parser.

    Attributes
    ----------
    run : function of bytes
    may_raise : tuple of exception classes
    longest : int
        Bytes of an input.
    """

    run: Callable[[bytes], object]
    may_raise: tuple[type[Exception], ...]
    longest: int = 4_096

    def attack(self, data: bytes) -> None:
        """Parse, and let only what is a crash through."""
        try:
            self.run(data)
        except self.may_raise as error:
            words = getattr(error, "message", None) or str(error)
            if not words.strip():
                raise AssertionError(f"{type(error).__name__} says nothing") from error


@cache
def folder() -> Path:
    """Make a folder for the files that parsers are given by name."""
    return Path(tempfile.mkdtemp(prefix="fuzz-", dir="/dev/shm" if os.path.isdir("/dev/shm") else None))  # noqa: PTH112


def written(name: str, data: bytes) -> Path:
    """Write a file for a parser that takes a name."""
    path = folder() / name
    path.write_bytes(data)
    return path


def text_of(data: bytes) -> str:
    """Make a text of any bytes; what is no UTF-8 becomes a lone surrogate, as in what is typed on a command line."""
    return data.decode("utf-8", "surrogateescape")


@cache
def _empty() -> sqlite3.Connection:
    made = open_raw(":memory:")
    migrate(made)
    return made


def _imported(document: Document) -> None:
    """Take a document into a logbook, which must be able to read what it took."""
    connection = open_raw(":memory:")
    try:
        _empty().backup(connection)
        book = Logbook(connection, Path("fuzzed.sqlite"))
        import_(book, document)
        assert not bad_rows(connection)
        book.rides.all_rides()
        for bike in book.bikes.all_bikes():
            book.sag.current(bike.id)
            book.loads.current(bike.id)
    finally:
        connection.close()


def photo(data: bytes) -> None:
    """Open a photo's file as `read` does."""
    from calibration.photo import load_photo

    load_photo(written("photo.jpg", data), max_pixels=PIXELS)


@cache
def _smallest_jpeg() -> bytes:
    from PIL import Image

    made = io.BytesIO()
    Image.new("RGB", (16, 16), (90, 120, 60)).save(made, "JPEG")
    return made.getvalue()


def exif(data: bytes) -> None:
    """Read the EXIF block of a good photo: what is broken counts as missing, and nothing is raised."""
    from calibration.photo import load_photo
    from strandline.shared.without_place import without_place

    block = b"Exif\0\0" + data[:65_000]
    jpeg = _smallest_jpeg()
    content = jpeg[:2] + b"\xff\xe1" + (len(block) + 2).to_bytes(2, "big") + block + jpeg[2:]
    load_photo(written("exif.jpg", content))
    without_place(content, 20, PIXELS)


def stripped(data: bytes) -> None:
    """Take the place out of a file that is sent to another machine, whatever it is."""
    from strandline.shared import without_place as module

    module.fit_to_send(data)


def toml(data: bytes) -> None:
    """Read a bike's file, and change it."""
    from ridelog.bikes.write import set_values

    text = text_of(data)
    parse_bike(text, "fuzzed.toml")
    parse_bike(set_values(text, {("note",): "changed"}), "fuzzed.toml")


def settings(data: bytes) -> None:
    """Read the file of settings."""
    from strandline.shared.settings import parse_settings

    parse_settings(text_of(data))


def csv(data: bytes) -> None:
    """Import CSV: the tables one after the other, each after a line with its name."""
    here = folder() / "csv"
    here.mkdir(exist_ok=True)
    for old in here.iterdir():
        old.unlink()
    for part in data.split(b"\n@@"):
        name, _, content = part.lstrip(b"@").partition(b"\n")
        if name.isalpha() or name.replace(b"_", b"").isalpha():
            (here / f"{name[:40].decode()}.csv").write_bytes(content)
    _imported(read_csv(here))


def json(data: bytes) -> None:
    """Import JSON."""
    _imported(from_json(text_of(data), "fuzzed.json"))


def roster(data: bytes) -> None:
    """Read a day's roster."""
    (folder() / "bikes").mkdir(exist_ok=True)
    if not (folder() / "bikes" / "twin.toml").exists():
        written("bikes/twin.toml", BIKE.encode())
    read_roster(written("roster.csv", data))


def pool(data: bytes) -> None:
    """Read settings of other owners."""
    read_pool(written("pool.csv", data))


def state(data: bytes) -> None:
    """Read files of the garage's own: photos, drafts, phones; and what was said today. A damaged one counts as none."""
    import datetime as dt

    from strandline.advise.said_today import ENDING, SaidToday
    from strandline.bike.draft import drafts_in, load
    from strandline.garage.marking.learning import Learning
    from strandline.garage.photos.store import _loaded
    from strandline.garage.server.drafts import Drafts, RideDraft
    from strandline.garage.server.session import Sessions

    path = written("b.json", data)
    _loaded(path)
    Drafts(folder(), RideDraft).begun("b")
    Sessions(path)
    written("l" + ENDING, data)
    SaidToday(folder() / "l", dt.date(2026, 5, 1))
    load(path)
    drafts_in(folder())
    Learning(folder()).score()


def _parsers() -> list[Callable[[str], Any]]:
    """List everything that understands a typed value."""
    from ridelog.bikes.amounts import MASS, PRESSURE
    from ridelog.bikes.write import parse_key
    from strandline.loads.parse import LoadOptions, load_case
    from strandline.read import hand_marks, parse
    from strandline.ride.parse import RideOptions, facts, readings, state_of
    from strandline.ride.parse import settings as counts
    from strandline.sag.parse import SagOptions, measurements
    from strandline.shared.parse import parse_day
    from strandline.shared.settings import check_setting
    from suspension.quantities import declared
    from suspension.quantities.print_scale import print_scale

    bike = bike_file().bike
    book = Logbook(open_raw(":memory:"), Path("fuzzed.sqlite"))
    migrate(book.connection)
    plain = entry(put_bike(book))
    read = {"shaft": "41 mm", "layout": "fork"}
    return [
        declared.shaft_diameter,
        declared.extended_length,
        declared.stroke_length,
        declared.marker_width,
        lambda text: declared.by_rule(text, name="length"),
        lambda text: declared.amount(MASS, text, name="mass"),
        lambda text: declared.amount(PRESSURE, text, name="pressure"),
        print_scale,
        parse_day,
        parse_key,
        hand_marks.parse_rims,
        hand_marks.parse_edges,
        hand_marks.parse_hand_error,
        lambda text: parse.parse_options(parse.ReadOptions(**read, focal_35mm=text)),
        lambda text: parse.parse_options(parse.ReadOptions(**read, marker_color=text)),
        lambda text: parse.parse_options(parse.ReadOptions(**read, bumper=text, bumper_crushed=text)),
        lambda text: facts(RideOptions(temperature=text), plain),
        lambda text: facts(RideOptions(route=text, note=text, events=(text,)), plain),
        lambda text: facts(RideOptions(pressures=(text,)), plain),
        lambda text: list(readings(RideOptions(readings=(text,), states=(text,)), bike, TYPED)),
        lambda text: list(counts(RideOptions(settings=(text,)), bike, TYPED)),
        lambda text: state_of(RideOptions(states=(text,)), bike.legs[0]),
        lambda text: measurements(SagOptions(lengths=(text,)), bike, TYPED),
        lambda text: measurements(SagOptions(exposed=(text,)), bike, TYPED),
        lambda text: load_case(LoadOptions(riders=(text,), luggage=(text,), scales=()), "x", bike, TYPED),
        lambda text: load_case(LoadOptions(scales=(text,), bike_centre=text), "x", bike, TYPED),
        lambda text: check_setting("print_scale.0", text),
        lambda text: check_setting(text, "mm"),
    ]


_parsers = cache(_parsers)


def quantities(data: bytes) -> None:
    """Parse what people type: the first byte chooses who understands it."""
    if data:
        parsers = _parsers()
        parsers[data[0] % len(parsers)](text_of(data[1:]))


def forms(data: bytes) -> None:
    """Take a page's form, and a form with a photo, from its first bytes to its end."""
    from python_multipart.exceptions import MultipartParseError
    from python_multipart.multipart import MultipartParser

    from strandline.garage.server.forms import parsed
    from strandline.garage.views.uploads import Upload, UploadRefused

    form = parsed(data)
    for name in form.fields:
        form.text(name), form.given(name), form.texts(name)
    upload = Upload(io.BytesIO(), 10_000)
    try:
        parser = MultipartParser(b"x", upload.callbacks())
        for at in range(0, len(data), 97):
            parser.write(data[at : at + 97])
        parser.finalize()
    except (MultipartParseError, UploadRefused):
        pass


def marks(data: bytes) -> None:
    """Take the marks that a page sends for a photo."""
    from strandline.garage.marking.wire import placed_from

    placed_from(data, (4_000, 3_000))


_WORDS = (*ROOM_ERRORS, DayError, click.ClickException)

TARGETS = {
    "photo": Target(photo, (CalibrationError,), 20_000),
    "exif": Target(exif, (), 4_096),
    "stripped": Target(stripped, (), 20_000),
    "toml": Target(toml, (LogbookError,)),
    "settings": Target(settings, (LogbookError,)),
    "csv": Target(csv, (LogbookError,), 16_384),
    "json": Target(json, (LogbookError,), 16_384),
    "roster": Target(roster, (DayError, LogbookError)),
    "pool": Target(pool, (*_WORDS,)),
    "state": Target(state, ()),
    "quantities": Target(quantities, _WORDS, 400),
    "forms": Target(forms, ()),
    "marks": Target(marks, (MarksError,)),
}
"""By the name of their folder of seeds."""
