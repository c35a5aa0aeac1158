"""What a photo's reading becomes in the logbook: one mapping for `ride add`, `sag` and `day --logbook`."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from pathlib import PurePath

from ridelog.errors import RecordError
from ridelog.names import LegName
from ridelog.storage.records import Approach, Provenance, Reading, SagLength, SagMeasurement, Source
from strandline import __version__
from strandline.shared.fields import DIGITS
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import State
from suspension.stroke.marker import Marker
from suspension.stroke.question import StrokeQuestion
from suspension.stroke.shaft_lengths import ShaftLengths


@dataclass(frozen=True)
class PhotoReading:
    """What was read in one photo of one leg.

    Attributes
    ----------
    file : str
        The photo's name, with or without its folders.
    sha256 : str
        Of its content.
    lengths : ShaftLengths
        With the covariance of the adjustment.
    marker : Marker
        As the bike's file describes it; its width as the photo shows it, where the file gives none.
    state : State
        How the bike stood.
    at_stop : bool or None
        Whether the marker touches the far end.
    by_hand : bool
        A person set the marks.
    """

    file: str
    sha256: str
    lengths: ShaftLengths
    marker: Marker
    state: State
    at_stop: bool | None
    by_hand: bool = False

    @classmethod
    def of_question(cls, file: str, sha256: str, asked: StrokeQuestion) -> PhotoReading:
        """Take what a photo's stroke is worked out from."""
        return cls(file, sha256, asked.lengths, asked.marker, asked.state, asked.at_stop)


def log_reading(leg: LegName, photo: PhotoReading, who: str | None = None) -> Reading:
    """Give the logbook's reading of a photo.

    Parameters
    ----------
    leg : LegName
    photo : PhotoReading
    who : str, optional
        Who took it.

    Returns
    -------
    Reading
        Lengths rounded to `DIGITS`, as in a day's file, so that a photo that went through one does not differ from
        the same photo read on the spot. A covariance is None where one of its two lengths was not read.
    """
    lengths = _rounded_lengths(photo.lengths)
    return Reading(
        leg,
        _provenance(photo, who),
        photo.state,
        exposed_mm=lengths.exposed_mm,
        marker_mm=lengths.marker_mm,
        remaining_mm=lengths.remaining_mm,
        at_stop=photo.at_stop,
        marker_kind=photo.marker.kind,
        marker_lock=photo.marker.lock,
        marker_width_mm=_rounded(photo.marker.width_mm),
        exposed_marker_mm2=_covariance(lengths, 0, 1),
        exposed_remaining_mm2=_covariance(lengths, 0, 2),
        marker_remaining_mm2=_covariance(lengths, 1, 2),
    )


def log_sag_length(
    leg: LegName, photo: PhotoReading, approach: Approach, who: str | None = None
) -> SagMeasurement:
    """Give the logbook's exposed length of a photo that was taken for sag.

    Parameters
    ----------
    leg : LegName
    photo : PhotoReading
    approach : Approach
        From where the bike settled.
    who : str, optional
        Who took it.

    Raises
    ------
    RecordError
        The exposed length was not read.
    """
    exposed = _rounded(photo.lengths.exposed_mm)
    if exposed is None:
        raise RecordError(
            f"{leg.value}: the exposed length was not read from {photo.file}.", "Type it with --exposed."
        )
    return SagMeasurement(
        leg, SagLength.EXPOSED, photo.state, exposed, _provenance(photo, who), approach=approach
    )


def _provenance(photo: PhotoReading, who: str | None) -> Provenance:
    # A file's name may hold bytes that are no text; they are written as \xNN.
    name = os.fsencode(PurePath(photo.file).name).decode("utf-8", "backslashreplace")
    return Provenance(
        Source.PHOTO,
        __version__,
        photo_name=name,
        photo_sha256=photo.sha256,
        who=who or None,
        by_hand=photo.by_hand,
    )


def _rounded_lengths(lengths: ShaftLengths) -> ShaftLengths:
    matrix = lengths.covariance_mm2
    return ShaftLengths(
        _rounded(lengths.exposed_mm),
        _rounded(lengths.marker_mm),
        _rounded(lengths.remaining_mm),
        None if matrix is None else tuple(tuple(round(one, DIGITS) for one in row) for row in matrix),
    )


def _rounded(length: Quantity | None) -> Quantity | None:
    if length is None:
        return None
    return Quantity.from_u95(round(length.value, DIGITS), round(length.u95, DIGITS))


def _covariance(lengths: ShaftLengths, i: int, j: int) -> float | None:
    """Covariance of two lengths, mm squared, as their own uncertainties have it: see `ShaftLengths`."""
    three = (lengths.exposed_mm, lengths.marker_mm, lengths.remaining_mm)
    if lengths.covariance_mm2 is None or three[i] is None or three[j] is None:
        return None
    value = lengths.covariance_of(i, j)
    return value if math.isfinite(value) else None
