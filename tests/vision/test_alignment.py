"""Alignment of the views by silhouettes that contradict the diameter."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.special_photos import case
from vision.adjustment.solve import solve
from vision.geometry.views import ReaderFrame
from vision.read import read_traced
from vision.shaft import fit as fitting
from vision.shaft.edges import EdgeSearch, Side, SilhouettePoints
from vision.shaft.own_focal import focal_factor


class WideTube(EdgeSearch):
    """Finds the silhouettes of a tube that looks so many times too wide, whatever the view."""

    def __init__(self, frame: ReaderFrame, times: float) -> None:
        super().__init__(np.zeros((8, 8, 3), np.uint8), (0, 256), 2 * frame.cylinder.radius_mm)
        object.__setattr__(self, "seen", (frame, times))

    def sides(self, frame: ReaderFrame, fine: bool) -> list[Side]:
        """Project the tube's sides into the photo."""
        true, times = self.seen  # type: ignore[attr-defined]
        rows, out = np.arange(300.0, 700.0, 4.0), []
        for side in (1, -1):
            points_px = true.camera.project(true.points_cam(rows, np.full(len(rows), -side * times)))
            off = np.abs(frame.cylinder.axis_distance_mm(frame.camera.rays(points_px)))
            edge = SilhouettePoints(rows, off / frame.cylinder.radius_mm, np.full(len(rows), 0.003))
            out.append(Side(edge, points_px, 0.3, 2.0))
        return out


def fit_of(name: str) -> tuple[fitting.ShaftFit, ReaderFrame]:
    photo = case(name)
    _, trace = read_traced(photo.pixels, photo.request)
    assert trace.seen is not None
    return trace.seen.fit, trace.seen.frame


def test_the_focal_length_does_not_run_away_from_a_tube_seen_too_wide() -> None:
    fit, frame = fit_of("plain")
    vague = replace(fit.observations, focal_rel_sd=0.25, rims=())
    found, _, _ = fitting._coarse_alignment(WideTube(frame, 1.2), frame, fit.solution.theta, vague, 0.0)
    assert abs(np.log(found.camera.focal_px / frame.camera.focal_px)) < 2 * fitting.MOST_FOCAL_MOVE


@pytest.mark.parametrize("times", [0.9, 1.1])
def test_a_contradicted_diameter_says_nothing_of_the_focal_length(times: float) -> None:
    """Card off the centre line, print or diameter: the perspective is that of the focal length stated.

    With the card held level, a tenth of the width passed for 0.23 and 0.22 times the focal length.
    """
    fit, _ = fit_of("plain-tele")
    declared = fit.observations.declared
    declared = replace(declared, diameter_mm=times * declared.diameter_mm)
    observations = replace(fit.observations, declared=declared, focal_rel_sd=0.05)
    wrong = replace(fit, observations=observations, solution=solve(fit.solution.theta, observations))
    assert focal_factor(wrong) is None
