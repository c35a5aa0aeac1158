"""What is known of a shaft besides its diameter, as evidence where several rims could be the one looked for."""

from __future__ import annotations

from dataclasses import dataclass

from vision.names import LengthName
from vision.networks.classes import PartMap
from vision.rims.band_colour import BandColour
from vision.rims.band_outline import BandOutline
from vision.rims.candidates import RimCandidate
from vision.rims.faint_band import FaintBand
from vision.stated import StatedLengths


@dataclass(frozen=True)
class Evidence:
    """What is stated, None where nothing is, and how the photo stands.

    Attributes
    ----------
    colour : BandColour or None
        The marker's: bands that cannot have it are no rivals, and the best band that cannot is not read.
    lengths : StatedLengths or None
        Candidates where no end or marker of this leg can be are no rivals. They choose none: a length that they
        contradict is withheld once it is measured.
    standing : float
        Odds that the card's arrow points to the seal, see `vision.rims.standing`.
    outline : BandOutline or None
        The photo beside the shaft: a band that is painted on is no marker.
    laid_right : float or None
        Probability that the card's arrow points to the seal, where all that speaks for it has been weighed before.
    faint_band : FaintBand or None
        A band that the networks see faintly.
    """

    colour: BandColour | None = None
    lengths: StatedLengths | None = None
    standing: float = 1.0
    outline: BandOutline | None = None
    laid_right: float | None = None
    faint_band: FaintBand | None = None

    def with_band(self, parts: PartMap) -> PartMap:
        """Draw the faint band into what a network sees; unchanged where there is none."""
        return parts if self.faint_band is None else self.faint_band.drawn_in(parts)

    def is_painted(self, start: RimCandidate, end: RimCandidate | None) -> bool:
        """Whether a band is paint, grease or a line on the shaft."""
        return self.outline is not None and self.outline.is_painted(start, end)

    def may_be_far_end(self, far: RimCandidate, seal: RimCandidate | None) -> bool:
        """Whether the shaft of this leg can end there."""
        if self.lengths is None or seal is None:
            return True
        return not self.lengths.excludes(LengthName.EXPOSED, far.s_mm - seal.s_mm)

    def may_be_marker(self, near: RimCandidate, seal: RimCandidate | None, far: RimCandidate | None) -> bool:
        """Whether a band can stand there: at most the stroke from the seal, and not beyond its end."""
        if self.lengths is None:
            return True
        beyond = seal is not None and self.lengths.excludes(LengthName.MARKER, near.s_mm - seal.s_mm)
        behind = far is not None and self.lengths.excludes(LengthName.REMAINING, far.s_mm - near.s_mm)
        return not beyond and not behind


NOTHING_STATED = Evidence()
"""Evidence of a shaft of which the diameter alone is stated."""
