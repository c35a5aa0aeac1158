"""A reading set by hand in the photo of a ride that is recorded already."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ridelog.storage.records import Reading
from ridelog.storage.store import Logbook
from strandline.shared.storage import place


def corrected_ride(logbook_path: Path | None, reading: Reading) -> int | None:
    """Let a reading by hand take the place of the one of the same photo and leg, where a ride has one.

    Parameters
    ----------
    logbook_path : Path or None
    reading : Reading
        From a photo, by hand.

    Returns
    -------
    int or None
        The ride's number; None where no ride has a reading of this photo.

    Raises
    ------
    LogbookError
    """
    path = place(logbook_path)
    if not path.exists():
        return None
    sha256 = reading.provenance.photo_sha256
    with Logbook.open(path, create=False) as logbook:
        for ride in reversed(logbook.rides.all_rides()):
            for one in ride.readings:
                if one.leg is reading.leg and one.provenance.photo_sha256 == sha256:
                    logbook.rides.amend(ride, readings=(replace(reading, replaces=one.id, state=one.state),))
                    return ride.number
    return None
