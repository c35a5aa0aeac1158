"""The marker: its band's width, and how far ahead of the band a tie's lock meets the seal."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from suspension.quantities.quantity import Quantity

# A tie's lock stands out over its strap by about this much on each side, mm [common practice, no source], and
# ties of 2.5 to 4.8 mm differ by about so much (sd, mm) [common practice, no source].
LOCK_OVERHANG_MM = 0.9
LOCK_OVERHANG_SD_MM = 0.1


class MarkerKind(StrEnum):
    """What the marker is."""

    TIE = "tie"
    O_RING = "o-ring"
    UNKNOWN = "unknown"


class LockFacing(StrEnum):
    """Where a tie's lock is, seen from where the seal touches the marker."""

    MEETS_SEAL = "meets-seal"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Marker:
    """A cable tie or an O-ring on the shaft.

    Attributes
    ----------
    width_mm : Quantity or None
        Width of the band along the shaft, w, mm: a tie's strap, not its lock. None: not known.
    """

    kind: MarkerKind = MarkerKind.UNKNOWN
    width_mm: Quantity | None = None
    lock: LockFacing = LockFacing.UNKNOWN

    @property
    def overhang_mm(self) -> Quantity:
        """How much less deep than the band's edge the seal came, mm.

        An O-ring: 0. A tie whose lock meets the seal: 0.9 mm. Else anything from 0 to 0.9 mm: a
        rectangular distribution, mean 0.45 mm, sd 0.9/sqrt(12) mm (JCGM 100, 4.3.7).
        """
        if self.kind is MarkerKind.O_RING:
            return Quantity(0.0, 0.0)
        if self.kind is MarkerKind.TIE and self.lock is LockFacing.MEETS_SEAL:
            return Quantity(LOCK_OVERHANG_MM, LOCK_OVERHANG_SD_MM)
        return Quantity(LOCK_OVERHANG_MM / 2, LOCK_OVERHANG_MM / math.sqrt(12))

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is not known of the marker, and what that costs, in words."""
        found = []
        if self.kind is MarkerKind.UNKNOWN:
            found.append(
                "Whether the marker is a tie or an O-ring is not known: a tie's lock meets the seal "
                f"up to {LOCK_OVERHANG_MM:g} mm before its strap; this is included in the uncertainty."
            )
        elif self.kind is MarkerKind.TIE and self.lock is LockFacing.UNKNOWN:
            found.append(
                "Where the tie's lock faces is not known: it may have met the seal up to "
                f"{LOCK_OVERHANG_MM:g} mm before the strap; this is included in the uncertainty."
            )
        if self.width_mm is None:
            found.append(
                "The marker's width is not known: the lengths alone do not show whether it touches "
                "the far end."
            )
        return tuple(found)


# A marker that moved by more than this on smooth ground is loose, mm [common practice, no source].
LOOSE_MM = 1.0

MARKER_CHECK = (
    "Before the first ride check that the marker holds: slide it to the seal, bounce the bike, note where the marker "
    f"is, roll 100 m over smooth ground and look again. If it moved by more than {LOOSE_MM:g} mm, it is loose: use "
    "a tighter one."
)
