"""The colour of a band round the shaft against the marker's colour as stated: evidence, not a rule.

Only what cannot be the stated colour under any light counts against a band: a grey ring is not an orange tie, a blue
one not a red one. Black, grey and white are one here, and what is too dark to have a colour says nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from vision.geometry.views import reader_columns
from vision.rims.candidates import RimCandidate

# Hue, degrees, of the colours that have one. Of some 70 bands of three sets orange ones lie at 19 to 29, red at 357
# to 11, yellow ones at 39 to 56, blue ones at 209 to 217; green, purple and pink have no measurement.
HUES = {
    **{"red": 4.0, "orange": 25.0, "brown": 25.0, "yellow": 50.0, "green": 120.0, "blue": 213.0},
    **{"purple": 280.0, "violet": 270.0, "pink": 340.0},
}
NEUTRAL = ("black", "white", "grey", "gray", "silver", "clear")
# Distance between hues, degrees, beyond which they are two colours under any light: red and yellow are 46 apart, and
# red fades to orange in the sun.
HUE_TOLERANCE = 60.0
# Least chroma (difference of the largest and smallest of R, G, B, as shares of the largest code) of a band that has a
# colour: those bands have 0.25 to 0.87, some 40 black and white ones 0 to 0.08.
COLOURED_CHROMA = 0.2
# Largest saturation (chroma over the largest of R, G, B) of a band that has none, and its least brightness, as a share
# of the largest code: the coloured ones have 0.29 and more, and in the dark rounding makes colours.
NEUTRAL_SATURATION, LEAST_VALUE = 0.2, 0.05
# Part of a band that is looked at, radii from the axis, and rows within its edges; without its other edge so many rows.
MIDDLE_U, WITHIN_ROWS, ASSUMED_ROWS = 0.7, 2, 8


class Seen(StrEnum):
    """What colour a band has."""

    NEUTRAL = "black, grey or white"
    UNCLEAR = "unclear"


@dataclass(frozen=True)
class BandColour:
    """Judges bands by the marker's colour.

    Attributes
    ----------
    view : ndarray of uint8, shape (rows, columns, 3)
        The reader view.
    stated : str
        The marker's colour in words: the first that is known counts.
    """

    view: np.ndarray
    stated: str

    def contradiction(self, start: RimCandidate, end: RimCandidate | None) -> str | None:
        """Name the colour of a band that cannot be the marker's; None where it can."""
        words = self.stated.replace("-", " ").split()
        hue = next((HUES[word] for word in words if word in HUES), None)
        if hue is None and not any(word in NEUTRAL for word in words):
            return None
        seen = self._seen(start, end)
        if seen is Seen.UNCLEAR:
            return None
        if isinstance(seen, Seen):
            return None if hue is None else str(seen)
        if hue is not None and _apart(seen, hue) <= HUE_TOLERANCE:
            return None
        return min(HUES, key=lambda name: _apart(seen, HUES[name]))

    def _seen(self, start: RimCandidate, end: RimCandidate | None) -> float | Seen:
        """Hue of a band, degrees, or why it has none."""
        middle = np.abs(start.u) < MIDDLE_U
        if not middle.any():
            return Seen.UNCLEAR
        height = ASSUMED_ROWS if end is None else float(np.median(end.rows) - np.median(start.rows))
        codes = []
        for column, row in zip(reader_columns(start.u[middle]), start.rows[middle], strict=True):
            first, last = round(row) + WITHIN_ROWS, round(row + height) - WITHIN_ROWS
            codes.append(self.view[first : max(last, first + 1), column])
        red, green, blue = np.median(np.concatenate(codes), axis=0) / 255.0
        value = float(max(red, green, blue))
        chroma = value - float(min(red, green, blue))
        if value >= LEAST_VALUE and chroma < NEUTRAL_SATURATION * value:
            return Seen.NEUTRAL
        if chroma < COLOURED_CHROMA:
            return Seen.UNCLEAR
        if value == red:
            return float(60 * ((green - blue) / chroma) % 360)
        if value == green:
            return float(60 * ((blue - red) / chroma + 2))
        return float(60 * ((red - green) / chroma + 4))


def _apart(one: float, other: float) -> float:
    return abs((one - other + 180.0) % 360.0 - 180.0)
