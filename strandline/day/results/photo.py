"""From the record of one photo to a leg's reading, or to an exception."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from ridelog.names import LegName
from strandline.day.identify.by_diameter import MeasuredDiameter, decide_by_diameter, measured_diameter
from strandline.day.identify.identity import Identity, Phase, Unclear, identify_leg
from strandline.day.identify.roster import Roster, RosterLeg
from strandline.day.identify.sighting import Sighting
from strandline.day.reading.from_outcome import hash_of_inputs
from strandline.day.reading.pass_over_folder import FoundPhoto
from strandline.day.reading.photo_files import display_name
from strandline.day.reading.records import PhotoRecord, ReadingRow, StrokeName
from strandline.day.reading.store import Kept
from strandline.day.results.results import ExceptionItem, LegReading
from suspension.stroke.verdict import judge_used, reference_bumper_mm


@dataclass(frozen=True)
class Subject:
    """Whose leg a photo shows, and when.

    Attributes
    ----------
    entrant : tuple of (str, str)
        As `Entry.entrant`.
    leg : LegName
    phase : Phase
    """

    entrant: tuple[str, str]
    leg: LegName
    phase: Phase

    @property
    def label(self) -> str:
        """The entrant's, as written."""
        return self.entrant[0]


Found = tuple[Subject, LegReading]


def photo_result(photo: FoundPhoto, folder: Path, roster: Roster, kept: Kept) -> Found | ExceptionItem:
    """Find the leg of one photo and its reading, or why there is none.

    Parameters
    ----------
    photo : FoundPhoto
    folder : Path
        The day's.
    roster : Roster
    kept : Kept
    """
    item = ExceptionItem(display_name(photo.path, folder), photo.sha256, "", "")
    if photo.sha256 is None and photo.stamp is None:
        return replace(
            item,
            code="unreadable",
            what="This is gone, too large for a photo, or no regular file in the day's folder: a pipe, a device, or a "
            "link that leads out of it.",
            advice="Copy the photo itself into the folder.",
        )
    if photo.sha256 is None:
        return replace(
            item,
            code="unreadable",
            what="The file cannot be read.",
            advice="Check its permissions, or copy it to this machine.",
        )
    sighting = kept.sightings.get(photo.sha256)
    if sighting is not None:
        item = replace(item, card=sighting.card, when=sighting.when)
    lost = kept.lost.get(photo.sha256)
    if lost is not None:
        advice = "Take the photo again, or run again with --retry and more --seconds or --memory."
        return replace(item, code=f"lost_{lost.kind}", what=lost.what, advice=advice)
    if sighting is None:
        return _not_read_yet(item)
    who = identify_leg(sighting, photo.path.relative_to(folder).parts, roster)
    if isinstance(who, Unclear):
        label = None if who.entry is None else who.entry.label
        return replace(item, code=who.code, what=who.what, advice=who.advice, label=label)
    item = replace(item, label=who.entry.label, phase=who.phase)
    return _as_leg(item, sighting, who, kept.readings.get(photo.sha256, {}))


def _as_leg(
    item: ExceptionItem, sighting: Sighting, who: Identity, rows: Mapping[str, ReadingRow]
) -> Found | ExceptionItem:
    """Decide which of the possible legs it is, and take the reading as that leg."""
    legs = tuple(leg for leg in who.entry.legs if leg.name in who.legs)
    read: dict[LegName, ReadingRow] = {}
    for leg in legs:
        assert leg.inputs is not None
        row = rows.get(hash_of_inputs(leg.inputs))
        if row is None:
            return _not_read_yet(item)
        read[leg.name] = row
    by = who.by
    if len(legs) == 1:
        leg = legs[0]
    else:
        decided = decide_by_diameter(legs, _measured(legs, read))
        if decided is None:
            return _which_leg(item, legs, [row.record for row in read.values()])
        leg, by = next(one for one in legs if one.name is decided), (*by, "shaft's diameter")
    record = read[leg.name].record
    if record.is_refused:
        item = replace(item, inputs_hash=read[leg.name].inputs_hash)
        if not record.reasons:
            return replace(item, code="refused", leg=leg.name)
        reason = record.reasons[0]
        return replace(item, code=reason.code, what=reason.what, advice=reason.advice, leg=leg.name)
    subject = Subject(who.entry.entrant, leg.name, who.phase)
    reading = _leg_reading(item, leg, read[leg.name], by)
    return subject, reading


def _leg_reading(item: ExceptionItem, leg: RosterLeg, row: ReadingRow, by: tuple[str, ...]) -> LegReading:
    assert item.sha256 is not None
    stop = row.record.stroke_value(StrokeName.HARD_STOP)
    stop_mm = None if stop is None else stop.value
    return LegReading(
        item.file,
        item.sha256,
        row.inputs_hash,
        item.when,
        row.record,
        verdict=judge_used(row.record.stroke_value(StrokeName.USED), leg.bumper_met_mm, stop_mm),
        reference_mm=reference_bumper_mm(leg.bumper_met_mm, stop_mm),
        by=by,
        bumper_met_mm=leg.bumper_met_mm,
    )


def _measured(
    legs: Iterable[RosterLeg], read: Mapping[LegName, ReadingRow]
) -> dict[LegName, MeasuredDiameter]:
    """Diameter in the photo read as each leg, where it was read and its scale is known."""
    found = {}
    for leg in legs:
        record = read[leg.name].record
        scale = record.scale
        if record.is_refused or scale is None:
            continue
        assert leg.shaft_mm is not None
        card, diameter, focal = scale.card_px_per_mm, scale.diameter_px_per_mm, scale.focal_px
        if card and diameter and focal and scale.depth_gap_sd_mm is not None:
            found[leg.name] = measured_diameter(leg.shaft_mm, card, diameter, focal, scale.depth_gap_sd_mm)
    return found


def _not_read_yet(item: ExceptionItem) -> ExceptionItem:
    return replace(
        item, code="not_read_yet", what="It has not been read yet.", advice="Run the command again."
    )


def _which_leg(item: ExceptionItem, legs: Iterable[RosterLeg], records: list[PhotoRecord]) -> ExceptionItem:
    could = ", ".join(one.name.value for one in legs)
    what = f"Which leg it shows is not clear: it could be {could}, and the shaft's diameter does not decide."
    reasons = [reason for record in records if record.is_refused for reason in record.reasons]
    if reasons and all(record.is_refused for record in records):
        what += f" It could not be read either. {reasons[0].what}"
    advice = "Clip the leg's tag to the card, or put “front”, “rear”, “left”, “right” into the photo's name."
    return replace(item, code="which_leg", what=what, advice=advice)
