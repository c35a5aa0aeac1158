"""Rims of a cropped photo: their shape is weakened there, since it would say which lens it was; their place is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.made_observations import made
from vision.adjustment.observations import RimPoints
from vision.adjustment.solve import solve
from vision.lengths.budget import Source, budgets
from vision.lengths.lengths import CROPPED_FROM_PX, lengths
from vision.names import LengthName, RimName
from vision.reading import Joint, Reading, Status
from vision.rims.choose import Choice
from vision.shaft.fit import ShaftFit

# A vague end as a real photograph enlarged four times shows it, px: its shape is known far less well than its place.
PLACE_PX, SHAPE_PX = 2.0, 12.0


def share_of_far_end_mm(centre_sd_px: float) -> float:
    """Evaluate the expanded uncertainty of the exposed length that the far end alone gives."""
    scene = made(np.random.default_rng(4), noise=0.0, diameter_mm=41.0)
    observations = replace(scene.observations, centre_sd_px=centre_sd_px)
    rims: dict[RimName, RimPoints] = {rim.name: rim for rim in observations.rims}
    rims[RimName.FAR_END] = replace(rims[RimName.FAR_END], sd_px=PLACE_PX, shape_sd_px=SHAPE_PX)
    alone = replace(observations, rims=())
    fit = ShaftFit(solve(scene.theta[: -5 * len(rims)], alone), alone, None)
    reading, _ = lengths(Reading(Status.REFUSED), fit, Choice(rims=rims))
    assert isinstance(reading.joint, Joint)
    exposed = next(one for one in budgets(reading.joint) if one.quantity is LengthName.EXPOSED)
    return next(share.u95_mm for share in exposed.shares if share.source is Source.FAR_END)


def test_a_rim_is_placed_as_well_in_a_cropped_photo() -> None:
    """Just beyond the limit from which a photo counts as cut, an end is where it was just short of it.

    24 points of 12 px each, and 2 px for all of them together, place an end to hypot(2, 12/√24) = 3.2 px (the variance
    of a mean, GUM 4.2.3); points of three times 12 px would say 7.6 px.
    """
    whole, cut = (share_of_far_end_mm(limit * CROPPED_FROM_PX) for limit in (0.999, 1.001))
    assert cut == pytest.approx(whole, rel=0.02)
