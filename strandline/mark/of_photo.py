"""One photo in a garage: a bike's own where it has one, else one that is made for this photo and gone afterwards."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import shutil
import signal
import socket
import sys
import tempfile
import webbrowser
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

import click

from ridelog.bikes.bike import BikeLeg
from ridelog.bikes.file import read_bike
from ridelog.errors import RecordError
from strandline.garage.photos.store import StoredPhoto, Subject
from strandline.garage.settings import GarageSettings
from strandline.shared.messages import printable
from strandline.shared.storage import bike_path
from strandline.shared.suggest import did_you_mean
from strandline.shared.units import estimate_text
from suspension.quantities.lengths import Units

if TYPE_CHECKING:
    from strandline.garage.server.garage import Garage

# What a leg is called in the file that is made for one photo, by its layout.
LEG_OF_LAYOUT = {"fork": "front", "upside-down-fork": "front", "shock": "rear"}
MADE_BIKE = "photo"


@dataclass(frozen=True)
class Wanted:
    """What was typed."""

    photo: Path
    bike: str | None
    leg: str | None
    shaft: str | None
    layout: str | None
    print_scale: str | None
    units: Units
    logbook: Path | None


@dataclass
class PhotoToMark:
    """A photo whose marks are to be set.

    Attributes
    ----------
    settings : GarageSettings
    subject : Subject
    photo : Path
    content : bytes
    learning : Path
        Folder of photos that are kept for learning: the owner's, whatever folder the photo's garage is in.
    made : Path
        Folder that was made for this photo.
    """

    settings: GarageSettings
    subject: Subject
    photo: Path
    content: bytes
    learning: Path
    made: Path

    @classmethod
    def of(cls, wanted: Wanted) -> PhotoToMark:
        """Find or make what is known of the photo's shaft.

        Raises
        ------
        LogbookError, CalibrationError
        click.ClickException
            The photo cannot be read, or an option cannot be understood.
        """
        content = _content(wanted.photo)
        # A folder of its own: a garage may be open on the same logbook.
        port, made = _free_port(), Path(tempfile.mkdtemp(prefix="strandline-mark-"))
        try:
            path, leg, logbook = cls._bike_of(wanted, made)
        except BaseException:
            shutil.rmtree(made, ignore_errors=True)
            raise
        subject = Subject(path.stem, leg.name, purpose="mark", print_scale=wanted.print_scale)
        settings = GarageSettings(logbook, port, units=wanted.units, own_folder=made / "garage")
        learning = GarageSettings(wanted.logbook).folder / "learning"
        return cls(settings, subject, wanted.photo, content, learning, made)

    @staticmethod
    def _bike_of(wanted: Wanted, made: Path) -> tuple[Path, BikeLeg, Path | None]:
        """Find the bike's file, the leg and the logbook, or make a bike of what is typed."""
        if wanted.shaft is None or wanted.layout is None:
            path = bike_path(wanted.logbook, wanted.bike or "")
            return path, _leg(path, wanted.leg), wanted.logbook
        text = _made_bike(wanted)
        path = made / "bikes" / f"{MADE_BIKE}.toml"
        path.parent.mkdir()
        path.write_text(text, encoding="utf-8")
        return path, read_bike(path).bike.legs[0], made / "logbook.sqlite"

    def __enter__(self) -> PhotoToMark:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        shutil.rmtree(self.made, ignore_errors=True)

    def serve(self, *, opens_browser: bool, as_json: bool) -> None:
        """Serve the photo's page until Ctrl-C, and print each reading that is kept."""
        from strandline.garage.app import create_app
        from strandline.garage.serve import run

        app = create_app(self.settings)
        garage: Garage = app.state.garage
        photo = self._stored(garage)
        own = hashlib.sha256(self.content).hexdigest()
        app.state.learning = self.learning
        app.state.originals = {photo.id: (self.photo.name, own)}
        app.state.on_kept = lambda kept, said: self._show(kept, said, as_json=as_json)
        # Its default ends the process at once, and would leave a copy of the photo in the folder for passing files.
        signal.signal(signal.SIGTERM, lambda number, _: sys.exit(128 + number))
        run(app, self.settings, lambda: self._announce(photo, opens_browser=opens_browser, as_json=as_json))

    def _announce(self, photo: StoredPhoto, *, opens_browser: bool, as_json: bool) -> None:
        page = f"http://127.0.0.1:{self.settings.port}/photo/{photo.id}#marking"
        click.echo(json.dumps({"page": page}) if as_json else f"{page}   (Ctrl-C ends it)")
        sys.stdout.flush()
        if opens_browser:
            webbrowser.open(page)

    def _stored(self, garage: Garage) -> StoredPhoto:
        """Put a copy of the photo into the garage; the server reads it when it starts."""
        photo_id = garage.store.new_id()
        draft = garage.store.raw_path(photo_id).with_suffix(".part")
        draft.write_bytes(self.content)
        arrived = dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds")
        return garage.store.add(StoredPhoto(photo_id, "", self.subject, "", arrived), draft)

    def _show(self, kept: StoredPhoto, said: str, *, as_json: bool) -> None:
        record = kept.by_hand
        assert record is not None
        if as_json:
            click.echo(json.dumps({"kept": record.to_fields(), "said": said}))
        else:
            for name, length in record.lengths.items():
                click.echo(f"{name.value} {estimate_text(length, self.settings.units)}")
            if said:
                click.echo(said)
        sys.stdout.flush()


def _content(path: Path) -> bytes:
    from ridelog.regular_file import read_regular

    try:
        return read_regular(path, GarageSettings().limits.photo_bytes)
    except OSError as error:
        raise click.ClickException(
            printable(f"{path} cannot be read: {error.strerror or error}. Check its name.")
        ) from error


def _leg(path: Path, name: str | None) -> BikeLeg:
    bike = read_bike(path).bike
    names = [one.name.value for one in bike.legs]
    if name is not None and name not in names:
        raise RecordError(
            f"{bike.name} has no leg {name} (there: {', '.join(names)}).", did_you_mean(name, names)
        )
    if name is not None:
        return bike.leg(name)
    first = bike.legs[0]
    if all(replace(one, name=first.name) == first for one in bike.legs):
        return first
    raise RecordError(
        f"Which leg of {bike.name} does the photo show?", f"Add --leg with one of {', '.join(names)}."
    )


def _made_bike(wanted: Wanted) -> str:
    """Write a bike's file that says of one leg what was typed."""
    from strandline.read.parse import ReadOptions, parse_options

    assert wanted.shaft is not None and wanted.layout is not None
    inputs = parse_options(ReadOptions(wanted.shaft, wanted.layout, wanted.print_scale))
    leg = LEG_OF_LAYOUT[wanted.layout]
    diameter = f"{inputs.shaft_mm.value:.4f} mm ± {inputs.shaft_mm.u95:.4f} mm"
    return f'format = 1\nname = "Photo"\n\n[leg.{leg}]\nlayout = "{inputs.leg.layout.value}"\nshaft = "{diameter}"\n'


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
