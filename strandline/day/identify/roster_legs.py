"""Legs of a roster's line: what the bike's file says of them, what the line adds, and what neither says."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from ridelog.bikes.bike import BikeLeg
from ridelog.bikes.file import BikeFile, read_bike
from ridelog.errors import LogbookError
from ridelog.names import LegName
from ridelog.regular_file import is_regular, is_there
from strandline.day.identify.roster import RosterLeg
from strandline.day.identify.roster_line import RosterLine
from strandline.read.inputs import PhotoInputs, inputs_of_leg
from strandline.shared.messages import ROOM_ERRORS
from suspension.quantities.print_scale import print_scale
from suspension.stroke.leg import State
from suspension.stroke.marker import MarkerKind

BIKE_FILE, FILE_MISSING, ROSTER_GAP = "bike_file", "bike_file_missing", "roster_gap"
"""Codes of what keeps a leg's photos from being read: the bike's file, its absence, or a gap in the roster."""


@dataclass(frozen=True)
class FoundBike:
    """A bike's file as far as it could be used.

    Attributes
    ----------
    file : BikeFile or None
    problem : str
        Why it could not; "" where it could, or none is named.
    is_missing : bool
        It is named, and is not there.
    """

    file: BikeFile | None = None
    problem: str = ""
    is_missing: bool = False

    @property
    def sha256(self) -> str:
        """Hash of what is known of it."""
        return self.problem if self.file is None else self.file.sha256

    @property
    def code(self) -> str:
        """Code of its problem."""
        return FILE_MISSING if self.is_missing else BIKE_FILE


def find_bike(folder: Path, written: str) -> FoundBike:
    """Read a bike's file that a roster names; it lies in the roster's folder or below it."""
    if not written:
        return FoundBike()
    path = _as_found(folder, written)
    try:
        return FoundBike(read_bike(path, inside=folder))
    except LogbookError as error:
        # A name that no file can have is missing, too; a link that leads nowhere is there.
        if not is_there(path) and not _is_link(path):
            return FoundBike(None, f"The bike's file {written} is missing.", is_missing=True)
        # Where the folder lies on this machine is nobody's business who gets the page.
        return FoundBike(None, f"{error.message} {error.remedy}".replace(str(path), written))


def _is_link(path: Path) -> bool:
    try:
        return path.is_symlink()
    except (OSError, ValueError):
        return False


def _as_found(folder: Path, written: str) -> Path:
    """Find the file of a name that was written on another system: with backslashes, or accents in another form."""
    slashes = written.replace("\\", "/")
    forms = (unicodedata.normalize(form, one) for form in ("NFC", "NFD") for one in (written, slashes))
    ways = [folder / one for one in (written, slashes, *forms)]
    return next((one for one in ways if is_regular(one)), ways[0])


@dataclass(frozen=True)
class Otherwise:
    """What holds for the photos of lines that say nothing of it themselves.

    Attributes
    ----------
    print_scale, state : str or None
    measured : mapping
        Print scales that were kept, by the card's number: where `print_scale` says nothing.
    """

    print_scale: str | None = None
    state: str | None = None
    measured: Mapping[int, str] = field(default_factory=dict)

    def photo_inputs(self, line: RosterLine) -> PhotoInputs:
        """Take what is known of the photos of a line."""
        kept = None if line.card is None else self.measured.get(line.card)
        scale = line.print_scale if line.print_scale is not None else print_scale(self.print_scale or kept)
        state = line.state if line.state is not None else State(self.state or "unknown")
        return PhotoInputs(scale, state=state)


def legs_of(line: RosterLine, bike: FoundBike, photo: PhotoInputs) -> tuple[RosterLeg, ...]:
    """Give the legs that a line serves.

    Parameters
    ----------
    line : RosterLine
    bike : FoundBike
    photo : PhotoInputs

    Returns
    -------
    tuple of RosterLeg
        Those of the bike's file, filled from the line where it describes them; and where the file has none of them,
        those that the line describes.
    """
    of_file = () if bike.file is None else bike.file.bike.legs
    described = set(line.leg_names)
    legs = [
        _roster_leg(_filled(leg, line) if leg.name in described else leg, line, bike, photo)
        for leg in of_file
    ]
    if not any(leg.name in described for leg in of_file):
        legs += [
            _of_line(name, line, bike, photo) for name in line.leg_names if bike.file is None or line.kind
        ]
    return tuple(legs)


def _of_line(name: LegName, line: RosterLine, bike: FoundBike, photo: PhotoInputs) -> RosterLeg:
    leg = line.leg(name)
    if leg is None or leg.shaft is None:
        lacking = " and ".join(
            words
            for words, there in (("the kind of leg", line.kind), ("the shaft's diameter", line.shaft))
            if there is None
        )
        what = f"The roster does not say {lacking} for {line.label}, {name.end.value} (line {line.number})."
        if bike.problem:
            what += f" {bike.problem}"
        return RosterLeg(name, None, what, from_roster=True, code=ROSTER_GAP)
    return replace(_roster_leg(leg, line, bike, photo), from_roster=True)


def _filled(leg: BikeLeg, line: RosterLine) -> BikeLeg:
    """Fill what the bike's file leaves open of a leg from the roster's line."""
    marked = leg.marker_kind is not MarkerKind.UNKNOWN
    return replace(
        leg,
        shaft=leg.shaft or line.shaft,
        extended=leg.extended or line.hanging,
        stroke=leg.stroke or line.stroke,
        marker_kind=leg.marker_kind if marked else line.marker_kind,
        marker_width=leg.marker_width or (None if marked else line.marker_width),
        marker_color=leg.marker_color or (None if marked else line.marker_color),
    )


def _roster_leg(leg: BikeLeg, line: RosterLine, bike: FoundBike, photo: PhotoInputs) -> RosterLeg:
    shaft_mm = None if leg.shaft is None else leg.shaft.value
    said = _contradiction(leg, line)
    if said:
        return RosterLeg(leg.name, None, said, shaft_mm, code=BIKE_FILE)
    met = leg.bumper_stroke_mm
    try:
        inputs = inputs_of_leg(leg, photo)
    except ROOM_ERRORS as error:
        return RosterLeg(leg.name, None, f"{error.message} {error.remedy}", shaft_mm, code=bike.code)
    return RosterLeg(leg.name, inputs, "", shaft_mm, None if met is None else met.value)


def _contradiction(leg: BikeLeg, line: RosterLine) -> str:
    """Say where the bike's file and the roster give one leg two different shafts."""
    if leg.name not in line.leg_names or leg.shaft is None or line.shaft is None:
        return ""
    apart_mm = abs(leg.shaft.value - line.shaft.value)
    if apart_mm <= leg.shaft.quantity.u95 + line.shaft.quantity.u95 and line.kind in (None, leg.layout):
        return ""
    theirs, ours = (
        f"{kind.value if kind else 'shaft'} {amount.as_written}"
        for kind, amount in ((line.kind, line.shaft), (leg.layout, leg.shaft))
    )
    return (
        f"The roster's line {line.number} says {theirs} and the bike's file {ours} for {leg.name.value}: "
        "correct one of them."
    )
