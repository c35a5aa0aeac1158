"""Ride frequency of one end: how it bounces on its wheel rate."""

from __future__ import annotations

import math

from suspension.errors import SuspensionError
from suspension.loads.loads import GRAVITY_M_PER_S2


def ride_frequency_hz(sprung_load_n: float, wheel_rate_n_per_mm: float) -> float:
    """Undamped frequency f = 15.761/sqrt(Ws/kw) Hz, Ws/kw in mm [handbook]; 1.5 to 3 Hz is usual [common practice].

    Ws/kw is not the sag: a preloaded spring sags less.

    Parameters
    ----------
    sprung_load_n : float
        Ws, N.
    wheel_rate_n_per_mm : float
        kw at the ride height, N/mm.

    Raises
    ------
    SuspensionError
        A load or a rate that is not positive.
    """
    if not (sprung_load_n > 0 and wheel_rate_n_per_mm > 0):
        raise SuspensionError("A frequency needs a load and a rate above zero.", "Give N and N/mm.")
    deflection_mm = sprung_load_n / wheel_rate_n_per_mm
    return math.sqrt(1000 * GRAVITY_M_PER_S2 / deflection_mm) / (2 * math.pi)
