"""What a garage is opened with, and the limits on what comes over the network."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from strandline.shared.storage import place
from suspension.quantities.lengths import Units

PORT = 8427
"""Of the pages. It stays the same from call to call: a phone keeps its waiting photos by address and port. The number
is in no list of well-known services [a choice]."""

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")


@dataclass(frozen=True)
class Limits:
    """Limits on what a phone may send.

    Attributes
    ----------
    form_bytes : int
        Of a form without a photo.
    photo_bytes : int
        Of a photo's file. Phones write 3 to 25 MB; 48 megapixels of a detailed scene stay below 40 [estimated].
    pixels : int
        Of a photo. Phones' usual modes have 12 to 50 megapixels; twice the 1.1 GB that 12 need is left for the
        reading of 64 [estimated from the day's figures].
    scans : int
        Passes of a JPEG over its picture: 1, or 6 to 13 of a progressive one; each costs the decoder a whole pass, so
        that thousands in a small file keep it busy for minutes.
    waiting : int
        Photos that arrived and are not read yet, of all phones: three each of twenty.
    kept : int
        Photos kept in all. At 5 MB each that is 10 GB.
    piece_s : float
        A phone that sends nothing for so long is cut off, s; twice the pause of a weak network [estimated].
    upload_s : float
        For the whole photo, s: 48 MB at 1.6 Mbit/s take four minutes.
    reading_s : float
        For reading a photo, s, after which its worker is stopped; ten times what 48 megapixels take [estimated].
    worker_mb : int
        Address space of a worker, MB.
    """

    form_bytes: int = 64 * 1024
    photo_bytes: int = 48 * 1024 * 1024
    pixels: int = 64_000_000
    scans: int = 40
    waiting: int = 60
    kept: int = 2000
    piece_s: float = 20.0
    upload_s: float = 300.0
    reading_s: float = 60.0
    worker_mb: int = 4000


@dataclass(frozen=True)
class GarageSettings:
    """What a garage is opened with.

    Attributes
    ----------
    logbook : Path or None
        None for the one in the data folder.
    port : int
    addresses : tuple of str
        This machine's network addresses under which phones reach it; empty: this machine alone.
    day : Path or None
        Folder of a tech day.
    units : Units
        Of the pages.
    workers : int or None
        Processes that read photos; None for as many as there are cores, two at most.
    limits : Limits
    own_folder : Path or None
        Where photos, phones and rides in progress are kept in the place of the folder beside the logbook.
    """

    logbook: Path | None = None
    port: int = PORT
    addresses: tuple[str, ...] = ()
    day: Path | None = None
    units: Units = Units.MM
    workers: int | None = None
    limits: Limits = field(default_factory=Limits)
    own_folder: Path | None = None

    @property
    def folder(self) -> Path:
        """Where photos, paired phones and rides in progress are kept: beside the logbook, unless one is named."""
        return self.own_folder or place(self.logbook).parent / "garage"

    @property
    def pairing_address(self) -> str | None:
        """Where phones reach the pages; None where they cannot."""
        return f"http://{self.addresses[0]}:{self.port}" if self.addresses else None

    @property
    def hosts(self) -> frozenset[str]:
        """Values of the header Host that are answered: a page of another name that leads here is not."""
        return frozenset(f"{name}:{self.port}" for name in (*LOOPBACK, *self.addresses))
