"""Ends that the photo's edge cuts off are no ends: rendered photos whose truth is known, cut there."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.made_frame import FRAME
from tests.helpers.special_photos import PHOTOS, WRONG_MM, case
from vision.adjustment.observations import RimPoints
from vision.names import RimName
from vision.reading import Reading
from vision.reasons import Reason
from vision.rims.cut_off import cut_off


def cut(name: str, share: float) -> Reading:
    """Read a photo, its far end below its seal, cut square across the shaft: so much of the exposed length is left."""
    photo = case(name)
    truth = json.loads((PHOTOS / f"{name}.json").read_text())
    seal, far = (float(np.mean(np.array(truth[f"{one}_rim_px"])[:, 1])) for one in ("seal", "far"))
    pixels = np.ascontiguousarray(photo.pixels[: round(seal + share * (far - seal))])
    return replace(photo, pixels=pixels).read()


@pytest.mark.parametrize("name, share", [("plain", 0.7), ("plain", 0.9), ("slightly-curled-card", 0.7)])
def test_no_length_ends_at_the_photos_edge(name: str, share: float) -> None:
    """Before, these were read 11 to 32 mm short, at u95 of 2.0 to 2.6 mm."""
    reading = cut(name, share)
    assert reading.reason is Reason.FAR_END_HIDDEN and "in the photo" in reading.notes[0].detail
    assert reading.exposed is None and reading.remaining is None and reading.marker is not None
    truth = json.loads((PHOTOS / f"{name}.json").read_text())
    assert abs(reading.marker.value_mm - truth["marker_mm"]) < WRONG_MM


@pytest.mark.parametrize("name, outwards", [(RimName.SEAL, -1.0), (RimName.FAR_END, 1.0)])
def test_two_millimetres_beyond_an_end_must_show(name: RimName, outwards: float) -> None:
    """The made-up photo of 4,000 rows ends 253 mm from its middle, on the facing line, 380 mm away through 3,000 px."""
    phi = np.linspace(-0.5, 0.5, 20)
    px_per_mm = 3000.0 / 380.0
    ends_mm = 2000.0 / px_per_mm
    for short_mm, lost in ((1.0, (name,)), (8.0, ())):
        s_mm = np.full(20, outwards * (ends_mm - short_mm))
        seen = RimPoints(name, FRAME.camera.project(FRAME.cylinder.surface(s_mm, phi)))
        assert cut_off({name: seen}, FRAME, (3000, 4000)) == lost
