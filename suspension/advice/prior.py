"""What physics says of the next ride before any has been measured: the deepest point and its slopes.

A ride's deepest point is taken as the balance under lam times the sprung load, lam 1.5 to 2.5 [common practice,
no source]: quasi-static, without damping.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity
from suspension.springs.equilibrium import rest_under
from suspension.springs.wheel_rate import EndForces, preload_force_per_mm, wheel_rate_n_per_mm

# How many times its sprung load an end carries at a ride's deepest point [common practice, no source].
PEAK_LOAD_RANGE = (1.5, 2.5)
# Slope du/dd: -1 for linear springs [derived], with this standard uncertainty [common practice, no source].
PRELOAD_SLOPE = -1.0
PRELOAD_SLOPE_SD = 0.3
USUAL_EFFECT = Quantity(PRELOAD_SLOPE, PRELOAD_SLOPE_SD)
# Relative standard uncertainty of the slope du/dW [common practice, no source].
LOAD_SLOPE_RELATIVE_SD = 0.4


@dataclass(frozen=True)
class RidePrior:
    """Gaussian priors for a route, at a reference setting and load.

    Attributes
    ----------
    used_mm : Quantity or None
        Deepest point at the reference, mm; None where spring rate, motion ratio or load are not known.
    per_preload : Quantity
        B, mm of stroke for a mm of preload.
    per_load : Quantity or None
        G, mm of stroke for a newton of sprung load; None where the spring rate is not known.
    preload_mm, load_n : float or None
        The reference of `used_mm`.
    """

    used_mm: Quantity | None = None
    per_preload: Quantity = USUAL_EFFECT
    per_load: Quantity | None = None
    preload_mm: float | None = None
    load_n: float | None = None

    def __post_init__(self) -> None:
        priors = (self.used_mm, self.per_preload, self.per_load)
        if any(one is not None and not one.sigma > 0 for one in priors):
            raise SuspensionError(
                "A prior has no uncertainty.", "Give each a standard uncertainty above zero."
            )
        if self.used_mm is not None and (self.preload_mm is None or self.load_n is None):
            raise SuspensionError(
                "The prior's reference is missing.", "Give its preload in mm and load in N."
            )


def physical_prior(
    end: EndForces, preload_mm: float, sprung_load_n: float, peak_load: tuple[float, float] = PEAK_LOAD_RANGE
) -> RidePrior:
    """Work out the prior from an end's forces, by the balance on [0, S] and its local slopes [derived].

    Parameters
    ----------
    end : EndForces
        Its preload is replaced by the next.
    preload_mm : float
        d at the reference.
    sprung_load_n : float
        Ws at the reference.
    peak_load : tuple of float
        Range of lam, taken as rectangular.

    Returns
    -------
    RidePrior
        Bumper, air and a rising motion ratio weaken both slopes.

    Raises
    ------
    SuspensionError
        As `equilibrium.rest_under`.
    """
    low, high = peak_load
    if not 0 < low < high:
        raise SuspensionError("The range of peak loads does not rise.", "1.5 to 2.5 is usual.")
    end = end.with_preload(preload_mm)
    middle = (low + high) / 2
    lam_sd = (high - low) / math.sqrt(12)  # rectangular: JCGM 100, 4.3.7
    stroke = rest_under(end, middle * sprung_load_n).stroke_mm
    # dF/dc at the wheel, N per mm of stroke: the balance's own stiffness
    stiffness = wheel_rate_n_per_mm(end, stroke) / end.ratio.at(stroke)
    per_lam = sprung_load_n / stiffness
    spread = rest_under(end, high * sprung_load_n).stroke_mm - rest_under(end, low * sprung_load_n).stroke_mm
    # At a stop the balance no longer moves with lam, although lam is not known: the local slope holds then.
    used = Quantity(stroke, max(spread / math.sqrt(12), lam_sd * per_lam))
    per_load = middle / stiffness
    return RidePrior(
        used_mm=used,
        per_preload=Quantity(-preload_force_per_mm(end, stroke) / stiffness, PRELOAD_SLOPE_SD),
        per_load=Quantity(per_load, LOAD_SLOPE_RELATIVE_SD * per_load),
        preload_mm=preload_mm,
        load_n=sprung_load_n,
    )
