"""Reading with rims set by hand, for shafts that are not found automatically."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.camera import Camera
from calibration.find_card import CardSighting
from calibration.pose import card_pose
from vision.adjustment.observations import S_ORIGIN_ON_CARD_MM, Observations, RimPoints, card_depth_sd_mm
from vision.adjustment.parameters import FIXED
from vision.adjustment.solve import initial_theta, solve
from vision.lengths.lengths import lengths
from vision.names import LengthName, RimName
from vision.reading import Note, Reading, Status
from vision.reasons import Reason
from vision.request import EDGE_POINTS_NEEDED, HandRims, Request, with_geometry
from vision.rims.choose import Choice
from vision.rims.points import UNKNOWN_EDGE_HEIGHT_MM, UNKNOWN_EDGE_HEIGHT_SIGMA_MM
from vision.shaft.fit import ShaftFit, fit_shaft

# Standard uncertainty of a point set by hand on an enlarged photo, px; assumed, no source.
HAND_SD_PX = 1.5


def read_by_hand(pixels: np.ndarray, request: Request, hand: HandRims, sighting: CardSighting) -> Reading:
    """Read a photo from rims set by hand; the axis starts through them, level with the card."""
    d = request.declared
    camera = Camera.centred(request.focal_px, pixels.shape[1], pixels.shape[0])
    pose = card_pose(sighting, camera, d.print_along, d.print_across)
    named = {
        RimName.SEAL: hand.seal_px,
        RimName.MARKER_NEAR: hand.marker_px,
        RimName.FAR_END: hand.far_px,
    }
    points = {name: np.asarray(p, float) for name, p in named.items() if p is not None and len(p)}
    middles = np.array([p.mean(axis=0) for p in points.values()])
    known = Reading(Status.REFUSED, card=sighting.number)
    if len(middles) < 2:
        return replace(known, notes=(Note(Reason.NO_SHAFT, None, "at least two rims are needed"),))
    # Intersections of the viewing rays with the card's plane.
    rays = camera.rays(middles) @ pose.R_cam_card
    eye = -pose.R_cam_card.T @ pose.t_cam_card_mm
    at = eye + rays * (-eye[2] / rays[:, 2])[:, None]
    slope, x_mm = np.polyfit(at[:, 1] - S_ORIGIN_ON_CARD_MM, at[:, 0], 1)
    nothing = np.zeros((0, 2))
    rims = tuple(
        RimPoints(
            name,
            p,
            UNKNOWN_EDGE_HEIGHT_MM if name.on_marker else 0.0,
            UNKNOWN_EDGE_HEIGHT_SIGMA_MM,
            sd_px=HAND_SD_PX,
            tilts=name.on_marker,
        )
        for name, p in points.items()
    )
    observations = Observations(
        sighting, camera, request.focal_rel_sd, d, nothing, nothing, rims,
        centre_sd_px=request.centre_sd_px, card_depth_sd_mm=card_depth_sd_mm(float(x_mm)),
        axis_px=np.concatenate([*points.values()]),
    )  # fmt: skip
    theta = initial_theta(pose, float(x_mm), float(slope), observations)
    fit = _edges_by_hand(pixels, theta, observations)
    choice = Choice(
        rims={rim.name: rim for rim in rims},
        shares=dict.fromkeys(points, 1.0),
        notes=_missing(points),
    )
    reading, final = lengths(known, fit, choice)
    return with_geometry(reading, final, request)


def _edges_by_hand(pixels: np.ndarray, theta: np.ndarray, observations: Observations) -> ShaftFit:
    """Fit the shaft between rims set by hand: to its silhouettes where visible, else to the rims' centres."""
    start = solve(theta, observations)
    bare = replace(observations, rims=(), axis_px=np.zeros((0, 2)))
    middle = float(np.mean(list(start.rim_s_mm.values())))
    found = fit_shaft(pixels, start.theta[:FIXED], bare, middle)
    if (
        found is None
        or len(found.observations.left_px) + len(found.observations.right_px) < EDGE_POINTS_NEEDED
    ):
        return ShaftFit(start, observations)
    return replace(found, observations=replace(found.observations, rims=observations.rims))


def _missing(points: dict[RimName, np.ndarray]) -> tuple[Note, ...]:
    why = {
        RimName.SEAL: (Reason.SEAL_HIDDEN, LengthName.EXPOSED),
        RimName.MARKER_NEAR: (Reason.NO_MARKER, LengthName.MARKER),
        RimName.FAR_END: (Reason.FAR_END_HIDDEN, LengthName.EXPOSED),
    }
    return tuple(Note(*why[name], "not set by hand") for name in why if name not in points)
