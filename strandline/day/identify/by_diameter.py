"""Which leg it is by the shaft's diameter, where nothing else says: only if the bike has but one that fits."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ridelog.names import LegName
from strandline.day.identify.roster import RosterLeg
from suspension.quantities.quantity import Quantity

# The card lies level with the shaft's middle to about this, standard uncertainty, mm (the card's own rule).
CARD_DEPTH_SD_MM = 3.0
# A rival is ruled out when it would need the card so many standard uncertainties away from the shaft's middle:
# one wrong leg in some 16,000 readings if depths were normal; people are not, hence `FAR_MM` besides.
RULED_OUT_SDS = 4.0
# What no reading is accepted with (see `vision.shaft.scale_check`): a rival within it might be the one after all.
FAR_MM = 10.0


@dataclass(frozen=True)
class MeasuredDiameter:
    """A shaft's diameter by the card's scale, and its distance from the camera with the depth's uncertainty."""

    diameter_mm: float
    distance_mm: Quantity

    def rules_out(self, diameter_mm: float) -> bool:
        """Whether a shaft of another diameter would need an impossible place of the card."""
        depth_mm = self.distance_mm.value * abs(diameter_mm / self.diameter_mm - 1)
        return depth_mm > max(FAR_MM, RULED_OUT_SDS * self.distance_mm.sigma)


def measured_diameter(record: Mapping[str, Any], stated_mm: float) -> MeasuredDiameter | None:
    """What a reading says of the diameter; None where it was refused or does not tell its scale.

    Parameters
    ----------
    record : mapping
        As `ReadingRow.values`.
    stated_mm : float
        Diameter under which it was read.
    """
    scale, camera = record.get("scale"), record.get("camera")
    if record.get("status") == "refused" or not scale or not camera:
        return None
    card, diameter, gap_sd = (
        scale[name] for name in ("card_px_per_mm", "diameter_px_per_mm", "depth_gap_sd_mm")
    )
    focal = camera["focal_px"]
    if not (card and diameter and focal and gap_sd is not None):
        return None
    distance_mm = Quantity(focal / card, math.hypot(CARD_DEPTH_SD_MM, gap_sd))
    return MeasuredDiameter(stated_mm * diameter / card, distance_mm)


def decide_by_diameter(
    legs: tuple[RosterLeg, ...], records: Mapping[LegName, Mapping[str, Any]]
) -> LegName | None:
    """The one leg whose diameter fits.

    Parameters
    ----------
    legs : tuple of RosterLeg
        Those in question, each with its diameter.
    records : mapping from LegName to record
        The photo read as each of them.

    Returns
    -------
    LegName or None
        None where none or several fit: also where both legs of an end have the same diameter.
    """
    fitting = set()
    for leg in legs:
        assert leg.shaft_mm is not None
        record = records.get(leg.name)
        seen = None if record is None else measured_diameter(record, leg.shaft_mm)
        if seen is None or seen.rules_out(leg.shaft_mm):
            continue
        fitting |= {one.name for one in legs if one.shaft_mm is not None and not seen.rules_out(one.shaft_mm)}
    return fitting.pop() if len(fitting) == 1 else None
