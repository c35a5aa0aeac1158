"""How far each leg of a ride in progress is: its photo, its reading, or what is still missing."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.bikes.bike import Bike
from ridelog.names import LegName
from strandline.day.reading.records import PhotoRecord, StrokeName
from strandline.garage.photos.store import StoredPhoto
from strandline.garage.server.drafts import RideDraft
from strandline.shared.units import estimate_text
from suspension.quantities.lengths import Units
from suspension.quantities.quantity import Quantity
from vision.names import LengthName

# The drawing of a shaft: its height in the drawing's own units.
SHAFT = 100.0


@dataclass(frozen=True)
class ShaftDrawing:
    """A shaft from its seal down to its far end, in the drawing's units.

    Attributes
    ----------
    marker_at : float or None
        Of the marker's seal-side edge, from the seal.
    """

    marker_at: float | None


@dataclass(frozen=True)
class LegNow:
    """A leg of a ride in progress.

    Attributes
    ----------
    leg : LegName
    status : str
        "missing", "waiting", "refused", "read", "at-stop", "no-marker" or "typed".
    words : str
        What is known, or what is missing.
    photo : StoredPhoto or None
        The last good one; without one, the last.
    later_refused : StoredPhoto or None
        A later one that could not be read.
    drawing : ShaftDrawing
    """

    leg: LegName
    status: str
    words: str
    photo: StoredPhoto | None = None
    later_refused: StoredPhoto | None = None
    drawing: ShaftDrawing = ShaftDrawing(None)

    @property
    def is_done(self) -> bool:
        """Whether nothing is missing."""
        return self.status in ("read", "at-stop", "no-marker", "typed")


def legs_now(
    bike: Bike, draft: RideDraft, photos: tuple[StoredPhoto, ...], units: Units
) -> tuple[LegNow, ...]:
    """Say how far each leg is.

    Parameters
    ----------
    bike : Bike
    draft : RideDraft
    photos : tuple of StoredPhoto
        Of this ride, the oldest first.
    units : Units
    """
    typed = dict(draft.typed)
    return tuple(
        _leg(one.name, draft, tuple(p for p in photos if p.subject.leg is one.name), typed, units)
        for one in bike.legs
    )


def _leg(
    leg: LegName, draft: RideDraft, photos: tuple[StoredPhoto, ...], typed: dict[str, str], units: Units
) -> LegNow:
    good = next((one for one in reversed(photos) if one.is_good), None)
    last = photos[-1] if photos else None
    refused = last if last is not None and not last.is_waiting and not last.is_good else None
    if leg.value in draft.at_stop:
        return LegNow(leg, "at-stop", "Marker at the stop", good, None, ShaftDrawing(SHAFT))
    if leg.value in draft.no_marker:
        return LegNow(leg, "no-marker", "No marker left: no reading", good)
    if typed.get(leg.value):
        return LegNow(leg, "typed", typed[leg.value], good)
    if good is not None and good.record is not None:
        return LegNow(leg, "read", used_words(good.record, units), good, refused, drawing_of(good.record))
    if last is not None and last.is_waiting:
        return LegNow(leg, "waiting", "The photo is being read", last)
    if refused is not None:
        return LegNow(leg, "refused", "Not read yet: take it again", refused, refused)
    return LegNow(leg, "missing", "No photo yet")


def used_words(record: PhotoRecord, units: Units) -> str:
    """Say what a reading comes to, in a few words."""
    used = record.stroke_value(StrokeName.USED)
    if used is not None:
        return f"Used {estimate_text(used, units)}"
    remaining = record.lengths.get(LengthName.REMAINING)
    if remaining is not None:
        return f"Remaining {estimate_text(remaining, units)}"
    exposed = record.lengths.get(LengthName.EXPOSED)
    return f"Exposed {estimate_text(exposed, units)}" if exposed is not None else "Read in part"


def drawing_of(record: PhotoRecord) -> ShaftDrawing:
    """Draw a reading's shaft: the marker at its share of the exposed length."""
    exposed, marker = (record.lengths.get(name) for name in (LengthName.EXPOSED, LengthName.MARKER))
    return ShaftDrawing(None if exposed is None or marker is None else _at(marker, exposed))


def _at(marker: Quantity, exposed: Quantity) -> float:
    return round(SHAFT * min(max(marker.value / exposed.value, 0.0), 1.0), 1)
