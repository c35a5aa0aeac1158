"""Each end of the shaft as the look that sees it most clearly shows it, where several networks agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from math import hypot

import numpy as np

from vision.adjustment.observations import RimPoints
from vision.adjustment.solve import Solution
from vision.names import RimName
from vision.reasons import Reason
from vision.rims.choose import Choice

# The reason that says that an end was not found.
_NOT_FOUND = {RimName.SEAL: Reason.SEAL_HIDDEN, RimName.FAR_END: Reason.FAR_END_HIDDEN}


def place_mm(rim: RimPoints, solution: Solution) -> tuple[float, float]:
    """Evaluate a rim's place along the shaft as seen, mm, and its standard uncertainty: as a whole, height, points."""
    cylinder, camera = solution.cylinder, solution.camera
    s, _ = cylinder.unroll(camera.rays(rim.points_px), cylinder.radius_mm + rim.height_mm)
    s_mm = float(np.nanmedian(s))
    by_points_px = rim.point_sd_px / len(rim.points_px) ** 0.5 / rim.mean_weight
    seen_mm = hypot(rim.sd_px, by_points_px) / cylinder.px_per_mm(camera, s_mm)
    return s_mm, hypot(seen_mm, rim.height_sd_mm * cylinder.slant(s_mm))


def with_clearest_ends(choice: Choice, others: Sequence[Choice], solution: Solution) -> Choice:
    """Take each end from the choice whose networks see it most clearly; the marker stays.

    The networks err together, by as much whichever is asked, and what one sees vaguely another may see well: over 124
    lengths of photos that more than one pair was asked for, errors over uncertainties are those of the first pair
    within a twenty-fifth (docs/measured.md, "Where silent ends lose their millimetres").

    Parameters
    ----------
    choice : Choice
    others : sequence of Choice
        Of the same photo by other networks.
    solution : Solution
        Of card and shaft.

    Returns
    -------
    Choice
        The same object where no other shows an end more clearly, where two put a rim farther apart than the larger of
        their expanded uncertainties, or where a marker touches the far end in any of them.
    """
    every = (choice, *others)
    if any(one.touching for one in every):
        return choice
    rims, unrefined, shares = dict(choice.rims), dict(choice.unrefined), dict(choice.shares)
    for name in RimName:
        seen = [(place_mm(one.rims[name], solution), one) for one in every if name in one.rims]
        if any(abs(a[0] - b[0]) > 2 * max(a[1], b[1]) for (a, _), (b, _) in combinations(seen, 2)):
            return choice
        if seen and name in _NOT_FOUND:
            _, best = min(seen, key=lambda one: one[0][1])
            rims[name], unrefined[name] = best.rims[name], best.unrefined[name]
            shares[name] = best.shares.get(name, 0.0)
    if all(rim is choice.rims.get(name) for name, rim in rims.items()):
        return choice
    found = {reason for name, reason in _NOT_FOUND.items() if name in rims}
    return replace(
        choice,
        rims={name: rims[name] for name in RimName if name in rims},
        unrefined={name: unrefined[name] for name in RimName if name in unrefined},
        shares=shares,
        notes=tuple(note for note in choice.notes if note.reason not in found),
    )
