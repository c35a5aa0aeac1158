"""A photo's reading as its page shows it."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.bikes.bike import BikeLeg
from strandline.day.reading.records import PhotoRecord, StrokeName
from strandline.shared.units import estimate_text, in_units, percent_text
from suspension.quantities.lengths import Units
from vision.names import LengthName


@dataclass(frozen=True)
class ReadingShown:
    """Texts of a reading.

    Attributes
    ----------
    first : str
        What matters most, in a few words.
    rows : tuple of (str, str)
        Name and value.
    notes, cautions : tuple of str
    wrong : str
        Code of the first reason, which chooses the small drawing; empty where all was read.
    reasons : tuple of (str, str)
        What is the matter, and what to do differently.
    """

    first: str
    rows: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    wrong: str
    reasons: tuple[tuple[str, str], ...]


def reading_shown(record: PhotoRecord, leg: BikeLeg, units: Units) -> ReadingShown:
    """Write a reading.

    Parameters
    ----------
    record : PhotoRecord
    leg : BikeLeg
    units : Units
    """
    names = {
        LengthName.EXPOSED: f"Exposed, seal to {leg.layout.far_end}",
        LengthName.MARKER: "Marker from the seal",
        LengthName.REMAINING: f"Remaining to the {leg.layout.far_end}",
    }
    rows = [(names[name], estimate_text(one, units)) for name, one in record.lengths.items()]
    strokes = (
        ("Stroke used", StrokeName.USED),
        ("Left to the bumper", StrokeName.RESERVE_BUMPER),
        ("Left to the hard stop", StrokeName.RESERVE_HARD),
    )
    known = [
        (name, estimate_text(one, units))
        for name, key in strokes
        if (one := record.stroke_value(key)) is not None
    ]
    percent = record.stroke_value(StrokeName.USED_PERCENT)
    first = ""
    if known and record.stroke_value(StrokeName.USED) is not None:
        first = f"{known[0][1]} used" + ("" if percent is None else f", {percent_text(percent)}")
    stroke = record.stroke
    notes = [] if stroke is None else [*stroke.withheld, *stroke.remarks]
    if stroke is not None and stroke.refusal:
        notes.append(stroke.refusal)
    return ReadingShown(
        first,
        (*known, *rows),
        tuple(in_units(one, units) for one in (*notes, *record.remarks)),
        tuple(in_units(one, units) for one in record.cautions),
        record.reasons[0].code if record.reasons else "",
        tuple((in_units(one.what, units), one.advice) for one in record.reasons),
    )
