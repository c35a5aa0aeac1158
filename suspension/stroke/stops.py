"""Where the travel ends: stroke, bumper, and when a marker is too close to the far end to show more."""

from __future__ import annotations

import math

from suspension.quantities.quantity import COVERAGE_FACTOR

# A gap up to this, mm, counts as touching, or a distance up to this as not moved; where twice the standard
# uncertainty is more, that counts [common practice, no source].
TOUCHING_MM = 1.0


# With a larger expanded uncertainty a distance says nothing of a touch, mm [common practice, no source].
VAGUE_MM = 5.0


def touching_limit_mm(sd_mm: float) -> float:
    """Largest distance, mm, that cannot be distinguished from touching: max(1 mm, 2 u_c).

    Where 2 u_c is over 5 mm there is none (minus infinity): a reading is not at the stop because it is vague.

    Parameters
    ----------
    sd_mm : float
        Standard uncertainty of the distance, mm.
    """
    expanded = COVERAGE_FACTOR * sd_mm
    return -math.inf if expanded > VAGUE_MM else max(TOUCHING_MM, expanded)


def shortest_exposed_mm(extended_mm: float, stroke_mm: float) -> float:
    """Shortest exposed length of a fork, Emin = E0 - S, mm; what is left then is dead length.

    >>> shortest_exposed_mm(205, 120)
    85
    """
    return extended_mm - stroke_mm


def hard_stop_of_shock_mm(extended_mm: float, bumper_free_mm: float, bumper_crushed_mm: float) -> float:
    """Stroke of a shock to its hard stop, S = E0 + b - bs, mm; E0 is measured to the bumper's free face.

    Parameters
    ----------
    extended_mm : float
        E0, which is also Sb, the stroke at which the body meets the bumper.
    bumper_free_mm, bumper_crushed_mm : float
        The bumper's free length b and its length when crushed bs (0.3 to 0.5 b is common).

    Examples
    --------
    >>> hard_stop_of_shock_mm(80, 20, 8)
    92
    """
    return extended_mm + bumper_free_mm - bumper_crushed_mm
