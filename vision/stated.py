"""Lengths of a leg as its owner states them, against what a photo shows: evidence, never trusted blindly.

A statement alone sets no length and moves no rim. It removes rivals of what the picture prefers anyway, and a reading
that cannot be this leg's is withheld: either the photo shows another leg, or an end is none, or the statement is wrong.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from vision.names import LengthName
from vision.reading import Length, Note, Reading, Status
from vision.reasons import Reason

# A tape laid carelessly, a top-out spring that a stand loads, a leg that sticks a little short of its end: up to so
# much, mm, the statement is likelier to be wrong than the photo [common practice, no source]. Ends of real photographs
# that were put on something else were 21, 25 and 56 mm off.
CARELESS_MM = 10.0
# Standard uncertainties of both beyond which they contradict each other, as in suspension/stroke/derived.py.
SIGMAS = 3.0
# Relative standard uncertainty of distances in the view along the shaft, before the last adjustment: those of 68
# exposed lengths of two sets differ from the reading by up to 1.5 %.
VIEW_REL_SD = 0.02


@dataclass(frozen=True)
class Stated:
    """A length as stated, mm, with its standard uncertainty."""

    mm: float
    sd_mm: float


@dataclass(frozen=True)
class StatedLengths:
    """What is stated of a leg's lengths.

    Attributes
    ----------
    extended : Stated or None
        Exposed length with the wheel hanging free, E0.
    stroke : Stated or None
        Of a fork, to its hard stop, S. A shock's goes on into its bumper, whose free face ends the exposed length, and
        limits nothing that a photo shows.
    hanging : bool
        The wheel is stated to hang free in the photo.
    far_end : str
        Name of the far end.
    """

    extended: Stated | None = None
    stroke: Stated | None = None
    hanging: bool = False
    far_end: str = "far end"

    def contradiction(self, name: LengthName, value_mm: float, sd_mm: float) -> str | None:
        """Say how a length cannot be this leg's, even if the statement is a careless one; None where it can be.

        Parameters
        ----------
        name : LengthName
        value_mm, sd_mm : float
            As the photo shows it, and its standard uncertainty.
        """
        for limit in self._limits(name):
            beyond_mm = limit.side * (value_mm - limit.stated.mm)
            if beyond_mm > max(CARELESS_MM, SIGMAS * float(np.hypot(sd_mm, limit.stated.sd_mm))):
                return f"{limit.what} {value_mm:.0f} mm, {beyond_mm:.0f} mm {limit.beyond} {limit.stated.mm:.0f} mm"
        return None

    def excludes(self, name: LengthName, value_mm: float) -> bool:
        """Whether a distance in the view along the shaft cannot be this length."""
        return self.contradiction(name, value_mm, VIEW_REL_SD * abs(value_mm)) is not None

    @property
    def shortest(self) -> Stated | None:
        """Exposed length at the end of a fork's stroke, Emin = E0 - S."""
        if self.extended is None or self.stroke is None:
            return None
        sd_mm = float(np.hypot(self.extended.sd_mm, self.stroke.sd_mm))
        return Stated(self.extended.mm - self.stroke.mm, sd_mm)

    def _limits(self, name: LengthName) -> Iterator[_Limit]:
        """Give the most (side 1) and the least (-1) that a length can be."""
        reads = {
            LengthName.EXPOSED: "the exposed length reads",
            LengthName.MARKER: "the marker's distance from the seal reads",
            LengthName.REMAINING: f"the marker's distance from the {self.far_end} reads",
        }[name]
        if self.extended is not None:
            yield _Limit(1, self.extended, reads, "more than the hanging length stated,")
        if name is LengthName.MARKER and self.stroke is not None:
            yield _Limit(1, self.stroke, reads, "more than the stroke stated,")
        if name is LengthName.EXPOSED and self.hanging and self.extended is not None:
            what = "the wheel is stated to hang free, but the exposed length reads"
            yield _Limit(-1, self.extended, what, "less than the hanging length stated,")
        if name is not LengthName.MARKER and self.shortest is not None:
            yield _Limit(-1, self.shortest, reads, "less than what is left at the end of the stroke,")


@dataclass(frozen=True)
class _Limit:
    """The most (side 1) or the least (-1) that a length can be, and the words about one beyond it."""

    side: int
    stated: Stated
    what: str
    beyond: str


def without_contradictions(reading: Reading, stated: StatedLengths) -> Reading:
    """Withhold lengths that cannot be those of the leg stated.

    An exposed length that cannot withholds all: both ends are in question. A marker's place that cannot withholds
    what the marker bounds.
    """
    detail = _of(reading.exposed, LengthName.EXPOSED, stated)
    if detail is not None:
        note = Note(Reason.STATED_CONFLICT, None, detail)
        return replace(
            reading,
            status=Status.REFUSED,
            notes=(note,),
            exposed=None,
            marker=None,
            remaining=None,
            marker_at_stop=None,
        )
    detail = _of(reading.marker, LengthName.MARKER, stated) or _of(
        reading.remaining, LengthName.REMAINING, stated
    )
    if detail is None:
        return reading
    if reading.marker is not None and reading.remaining is not None and _fits_turned(reading, stated):
        detail += "; with seal and far end exchanged it would fit"
    return replace(
        reading,
        status=Status.REFUSED if reading.exposed is None else Status.PARTIAL,
        notes=(Note(Reason.STATED_CONFLICT, LengthName.MARKER, detail), *reading.notes),
        marker=None,
        remaining=None,
        marker_at_stop=None,
    )


def _of(length: Length | None, name: LengthName, stated: StatedLengths) -> str | None:
    return None if length is None else stated.contradiction(name, length.value_mm, length.u95_mm / 2)


def _fits_turned(reading: Reading, stated: StatedLengths) -> bool:
    """Whether the marker's place would be possible if seal and far end were exchanged."""
    return (
        _of(reading.remaining, LengthName.MARKER, stated) is None
        and _of(reading.marker, LengthName.REMAINING, stated) is None
    )
