"""Identify a leg by its shaft's diameter, where nothing else says: only if the bike has but one that fits."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ridelog.names import LegName
from strandline.day.identify.roster import RosterLeg
from suspension.quantities.quantity import Quantity

# The card lies level with the shaft's middle to about this, standard uncertainty, mm (the card's own rule).
CARD_DEPTH_SD_MM = 3.0
# A rival is ruled out when it would need the card so many standard uncertainties away from the shaft's middle:
# one wrong leg in some 16,000 readings if depths were normal; people are not, hence `FAR_MM` besides.
RULED_OUT_SDS = 4.0
# Hardly a reading is accepted with a card farther off (3 standard uncertainties of depth and yaw together, see
# `vision.shaft.scale_check`): a rival within it stays possible.
FAR_MM = 16.0


@dataclass(frozen=True)
class MeasuredDiameter:
    """A shaft's diameter by the card's scale, and its distance from the camera with the depth's uncertainty."""

    diameter_mm: float
    distance_mm: Quantity

    def rules_out(self, diameter_mm: float) -> bool:
        """Whether a shaft of another diameter would need an impossible place of the card."""
        depth_mm = self.distance_mm.value * abs(diameter_mm / self.diameter_mm - 1)
        return depth_mm > max(FAR_MM, RULED_OUT_SDS * self.distance_mm.sigma)


def measured_diameter(
    stated_mm: float, card_px_per_mm: float, diameter_px_per_mm: float, focal_px: float, gap_sd_mm: float
) -> MeasuredDiameter:
    """Measure a shaft's diameter by the card's scale.

    Parameters
    ----------
    stated_mm : float
        Diameter under which the photo was read.
    card_px_per_mm, diameter_px_per_mm : float
        Scale at the shaft by the card, and by the stated diameter.
    focal_px : float
    gap_sd_mm : float
        Standard uncertainty of the shaft's depth against the card's plane.
    """
    distance_mm = Quantity(focal_px / card_px_per_mm, math.hypot(CARD_DEPTH_SD_MM, gap_sd_mm))
    return MeasuredDiameter(stated_mm * diameter_px_per_mm / card_px_per_mm, distance_mm)


def decide_by_diameter(
    legs: Sequence[RosterLeg], measured: Mapping[LegName, MeasuredDiameter]
) -> LegName | None:
    """Find the one leg whose diameter fits.

    Parameters
    ----------
    legs : sequence of RosterLeg
        Those in question, each with its diameter.
    measured : mapping from LegName to MeasuredDiameter
        The diameter in the photo read as each of them; without those that could not be read.

    Returns
    -------
    LegName or None
        None where none or several fit: also where both legs of an end have the same diameter.
    """
    diameters = {leg.name: leg.shaft_mm for leg in legs if leg.shaft_mm is not None}
    fitting: set[LegName] = set()
    for name, seen in measured.items():
        if not seen.rules_out(diameters[name]):
            fitting |= {other for other, diameter_mm in diameters.items() if not seen.rules_out(diameter_mm)}
    return fitting.pop() if len(fitting) == 1 else None
