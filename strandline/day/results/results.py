"""Results of a day, as they are shown and written: exceptions, and bikes with their legs."""

from __future__ import annotations

from dataclasses import dataclass, field

from ridelog.names import End, LegName
from strandline.day.identify.identity import Phase
from strandline.day.reading.records import PhotoRecord, StrokeName
from strandline.day.results.repeatability import Repeatability
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg_pair import LegComparison
from suspension.stroke.verdict import Verdict
from vision.names import LengthName


@dataclass(frozen=True)
class ExceptionItem:
    """A photo on the list of exceptions.

    Attributes
    ----------
    file : str
        Below the day's folder.
    sha256 : str or None
    code : str
    what, advice : str
        In words.
    label, card, leg, phase, when
        As far as they are known; else None or empty.
    inputs_hash : str or None
        Of the reading that was refused, for its overlay.
    """

    file: str
    sha256: str | None
    code: str
    what: str
    advice: str = ""
    label: str | None = None
    card: int | None = None
    leg: LegName | None = None
    phase: Phase = Phase.NONE
    when: str | None = None
    inputs_hash: str | None = None


@dataclass(frozen=True)
class LegReading:
    """One photo of one leg that was read.

    Attributes
    ----------
    file, sha256, inputs_hash : str
    when : str or None
    record : PhotoRecord
    verdict : Verdict
    reference_mm : float or None
        Stroke to the bumper, or 0.92 of the whole where that is not known: what a verdict's shares are of.
    by : tuple of str
        What says whose leg it is.
    bumper_met_mm : float or None
        Stroke at which the bumper is met, where that is known.
    """

    file: str
    sha256: str
    inputs_hash: str
    when: str | None
    record: PhotoRecord
    verdict: Verdict
    reference_mm: float | None
    by: tuple[str, ...]
    bumper_met_mm: float | None = None

    def length(self, name: LengthName) -> Quantity | None:
        """Length, mm; None where it was not read."""
        return self.record.lengths.get(name)

    @property
    def used(self) -> Quantity | None:
        """Used stroke, mm."""
        return self.record.stroke_value(StrokeName.USED)

    @property
    def percent(self) -> Quantity | None:
        """Used share of the stroke, percent."""
        return self.record.stroke_value(StrokeName.USED_PERCENT)

    @property
    def reserve_bumper(self) -> Quantity | None:
        """What is left to the bumper, mm."""
        return self.record.stroke_value(StrokeName.RESERVE_BUMPER)

    @property
    def reserve_hard(self) -> Quantity | None:
        """What is left to the hard stop, mm."""
        return self.record.stroke_value(StrokeName.RESERVE_HARD)

    @property
    def hard_stop_mm(self) -> float | None:
        """S, mm."""
        stop = self.record.stroke_value(StrokeName.HARD_STOP)
        return None if stop is None else stop.value

    @property
    def share(self) -> float | None:
        """Used stroke over the reference."""
        if self.used is None or not self.reference_mm:
            return None
        return self.used.value / self.reference_mm


@dataclass(frozen=True)
class LegResult:
    """One leg before, after, or at no known phase.

    Attributes
    ----------
    leg : LegName
    phase : Phase
    readings : tuple of LegReading
        The one that counts first; the others repeat it.
    """

    leg: LegName
    phase: Phase
    readings: tuple[LegReading, ...]

    @property
    def counted(self) -> LegReading:
        """The reading that counts."""
        return self.readings[0]


@dataclass(frozen=True)
class SideBySide:
    """Left compared with right, of one end."""

    end: End
    phase: Phase
    comparison: LegComparison


@dataclass(frozen=True)
class Change:
    """Used stroke after minus before of one leg, mm."""

    leg: LegName
    deeper_mm: Quantity

    @property
    def is_clear(self) -> bool:
        """Whether it is more than the uncertainty of both."""
        return abs(self.deeper_mm.value) > self.deeper_mm.u95


@dataclass(frozen=True)
class BikeResult:
    """One entrant's bike.

    Attributes
    ----------
    label, bike_name, bike_file : str
    cards : tuple of int
    all_legs : tuple of LegName
        The bike's, read or not.
    legs : tuple of LegResult
    sides : tuple of SideBySide
    changes : tuple of Change
    exceptions : int
        Photos of this entrant on the list of exceptions.
    remarks : tuple of str
        On its file.
    described : str
        Its legs in a few words.
    """

    label: str
    bike_name: str
    bike_file: str
    cards: tuple[int, ...]
    all_legs: tuple[LegName, ...]
    legs: tuple[LegResult, ...]
    sides: tuple[SideBySide, ...]
    changes: tuple[Change, ...]
    exceptions: int
    remarks: tuple[str, ...] = ()
    described: str = ""

    @property
    def about(self) -> str:
        """What the bike is called: by its file, else by its legs."""
        return self.bike_name or self.described or self.bike_file

    def of(self, leg: LegName, phase: Phase) -> LegResult | None:
        """Find a leg's result at a phase; None where it was not read."""
        return next((one for one in self.legs if (one.leg, one.phase) == (leg, phase)), None)

    @property
    def phases(self) -> tuple[Phase, ...]:
        """Phases with any result, in their order."""
        there = {one.phase for one in self.legs}
        return tuple(phase for phase in (Phase.BEFORE, Phase.AFTER, Phase.NONE) if phase in there)


@dataclass(frozen=True)
class Repeated:
    """Repeatability of one length beside the standard uncertainty that its readings report, mm."""

    name: LengthName
    found: Repeatability
    reported_sd: float

    @property
    def is_underestimated(self) -> bool:
        """Whether photos of one leg differ by more than the reported uncertainty explains."""
        return self.found.low > self.reported_sd


@dataclass(frozen=True)
class DayResults:
    """Results of a whole day.

    Attributes
    ----------
    name : str
        Of the folder.
    photos : int
    exceptions : tuple of ExceptionItem
    bikes : tuple of BikeResult
        In the roster's order.
    repeated : tuple of Repeated
    """

    name: str
    photos: int
    exceptions: tuple[ExceptionItem, ...]
    bikes: tuple[BikeResult, ...]
    repeated: tuple[Repeated, ...] = field(default=())

    @property
    def read(self) -> int:
        """Photos that were read."""
        return sum(len(leg.readings) for bike in self.bikes for leg in bike.legs)
