"""Lengths of a day's results, and the sentences that hold them, in mm or inches."""

from __future__ import annotations

from dataclasses import dataclass

from strandline.day.output.text import leg_words, percent
from strandline.day.results.results import BikeResult, ExceptionItem, LegReading
from strandline.shared.units import MM_PER_IN, in_units
from suspension.quantities.lengths import Units
from suspension.quantities.quantity import Bound, Quantity
from vision.names import LengthName

LENGTHS = {
    LengthName.EXPOSED: "Exposed shaft",
    LengthName.MARKER: "Seal to marker",
    LengthName.REMAINING: "Marker to far end",
}
# What says whose leg it is, where the word in the lines of JSON is too short for a sentence.
_BY = {"name": "photo's name", "folder": "folder's name", "time": "photo's time"}


@dataclass(frozen=True)
class Comparison:
    """Left compared with right, or after with before, in a sentence.

    Attributes
    ----------
    text : str
    is_flagged : bool
        Left and right differ by more than the uncertainty.
    is_clear : bool
        After and before do.
    """

    text: str
    is_flagged: bool = False
    is_clear: bool = False


@dataclass(frozen=True)
class Amounts:
    """Lengths as text, in the units that the organiser chose.

    Attributes
    ----------
    units : Units
    """

    units: Units = Units.MM

    @property
    def unit(self) -> str:
        """The unit's sign."""
        return self.units.value

    def number(self, value_mm: float, decimals: int = 1, sign: str = "") -> str:
        """Write a length without its unit; inches take two decimals more, for one would hide what the mm say."""
        if self.units is Units.MM:
            return f"{value_mm:{sign}.{decimals}f}"
        return f"{value_mm / MM_PER_IN:{sign}.{decimals + 2}f}"

    def amount(self, one: Quantity | None) -> str:
        """Write a length with its 95 % uncertainty, without the unit; a dash where it is not known."""
        if one is None:
            return "–"
        bound = "" if one.bound is Bound.EXACT else f"{one.bound.value} "
        return f"{bound}{self.number(one.value)} ± {self.number(one.u95)}"

    def difference(self, one: Quantity) -> str:
        """Write a difference with its 95 % uncertainty and unit; it has a sign unless it is 0."""
        value = self.number(one.value, sign="+").replace("-", "−")
        value = value if any(digit in value for digit in "123456789") else value[1:]
        return f"{value} ± {self.number(one.u95)} {self.unit}"

    def sentence(self, text: str) -> str:
        """Turn the lengths in a sentence of the program's into the units."""
        return in_units(text, self.units)

    def what_of(self, item: ExceptionItem) -> str:
        """Say what an exception is; a sentence that may name an entrant is left as it is."""
        return item.what if item.leg is None else self.sentence(item.what)

    def of_what(self, reading: LegReading) -> str:
        """Say of what the used stroke is a part; "" where that is not known."""
        stop, met = reading.hard_stop_mm, reading.bumper_met_mm
        if stop is not None:
            share = "" if reading.percent is None else f": {percent(reading.percent)}"
            return f"of {self.number(stop, 0)} {self.unit} to the stop{share}"
        if met is not None and reading.share is not None:
            return f"of {self.number(met, 0)} {self.unit} to the bumper: {100 * reading.share:.0f} %"
        return ""

    def reserves(self, reading: LegReading) -> list[str]:
        """Say what is left to the bumper and to the stop."""
        both = ((reading.reserve_bumper, "bumper"), (reading.reserve_hard, "stop"))
        return [f"{self.amount(one)} {self.unit} left to the {end}" for one, end in both if one is not None]

    def why_no_verdict(self, reading: LegReading) -> str:
        """Say what a verdict lacks; "" where there is one."""
        return "" if reading.verdict.bands else self.sentence(reading.verdict.words)

    def comparisons(self, bike: BikeResult) -> list[Comparison]:
        """Compare left with right, and after with before."""
        found = []
        for side in bike.sides:
            phase = f" {side.phase}" if side.phase else ""
            difference = self.difference(side.comparison.difference_mm)
            text = f"{side.end.value.capitalize()}{phase}: left minus right {difference}"
            if side.comparison.flagged:
                text += ": more than the uncertainty. Check for binding, or a marker that slipped."
            else:
                text += ", within the uncertainty."
            found.append(Comparison(text, is_flagged=side.comparison.flagged))
        for change in bike.changes:
            difference = self.difference(change.deeper_mm)
            text = f"{leg_words(change.leg).capitalize()}: after minus before {difference} of stroke"
            text += "." if change.is_clear else ", within the uncertainty."
            found.append(Comparison(text, is_clear=change.is_clear))
        return found

    def sheet_lines(self, bike: BikeResult) -> list[str]:
        """Give the sentences of an entrant's sheet: comparisons, and cautions."""
        lines = [one.text for one in self.comparisons(bike)]
        lines += [line for one in bike.legs for line in one.counted.record.cautions]
        return list(dict.fromkeys(lines))

    def notes(self, reading: LegReading) -> list[str]:
        """Give every sentence that belongs to a reading."""
        record, stroke = reading.record, reading.record.stroke
        lines = [reading.verdict.words, *reading.verdict.remarks, *(one.text for one in record.reasons)]
        if stroke is not None:
            lines += [*stroke.withheld, *stroke.remarks]
        lines += record.cautions
        lines.append(f"Identified by: {', '.join(_BY.get(one, one) for one in reading.by)}.")
        return [self.sentence(line) for line in dict.fromkeys(lines) if line]
