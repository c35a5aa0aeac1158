"""Reading with marks set by hand: rims, and lines along the shaft's edges where it is not found automatically."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calibration.camera import Camera
from calibration.errors import CalibrationError
from calibration.find_card import CardSighting
from calibration.pose import CardPose, card_pose
from vision.adjustment.aspect_mixture import with_aspect_prior
from vision.adjustment.bend_mixture import with_bend_prior
from vision.adjustment.observations import Observations, RimPoints, card_depth_sd_mm
from vision.adjustment.parameters import FIXED
from vision.adjustment.solve import Solution, initial_theta, solve
from vision.hand_edges import (
    HAND_COMMON_SD_PX,
    axis_start,
    on_card_plane,
    too_close,
    with_lines,
)
from vision.lengths.lengths import lengths
from vision.names import LengthName, RimName
from vision.reading import Joint, Note, Reading, ScaleCheck, Status
from vision.reasons import Reason
from vision.request import EDGE_POINTS_NEEDED, HandMarks, Request, with_geometry
from vision.rims.choose import Choice
from vision.rims.points import UNKNOWN_EDGE_HEIGHT_MM, UNKNOWN_EDGE_HEIGHT_SIGMA_MM
from vision.shaft.fit import ShaftFit, fit_shaft
from vision.shaft.reconcile import with_scale_mixture
from vision.shaft.scale_check import (
    DEPTH_LIMIT_SDS,
    DEPTH_SIGNIFICANCE,
    depth_remark,
    depth_side,
    scale_check,
    scale_conflict,
)

# Largest expanded uncertainty of a length read by hand, mm: the advice takes vaguer ones as none and asks for another
# reading (suspension/advice/situation.py). Who set the marks sees the uncertainty and may set them better.
HAND_U95_LIMIT_MM = 5.0
BACKWARDS = "The card's arrow points away from the seal; the marks say which end is which."


@dataclass(frozen=True)
class HandShaft:
    """The shaft between marks set by hand, before its lengths are solved.

    Attributes
    ----------
    known : Reading
        What is known of the card.
    fit : ShaftFit
        Without rims where the shaft has edges.
    rims : tuple of RimPoints
    has_edges : bool
        Lines along its edges are given, or edges were found in the photo.
    """

    known: Reading
    fit: ShaftFit
    rims: tuple[RimPoints, ...]
    has_edges: bool


@dataclass(frozen=True)
class HandReading:
    """A reading by hand and the solution behind it; None where the marks do not determine the shaft."""

    reading: Reading
    solution: Solution | None = None


def read_by_hand(pixels: np.ndarray, request: Request, marks: HandMarks, sighting: CardSighting) -> Reading:
    """Read a photo from marks set by hand; edges are looked for in the photo where none are drawn."""
    shaft = shaft_by_hand(pixels.shape[1::-1], request, marks, sighting)
    if isinstance(shaft, Reading):
        return shaft
    return measured(found_edges(pixels, shaft), request).reading


def shaft_by_hand(
    size: tuple[int, int],
    request: Request,
    marks: HandMarks,
    sighting: CardSighting,
    seen: Joint | None = None,
) -> HandShaft | Reading:
    """Place the shaft from marks alone, without the photo.

    Parameters
    ----------
    size : tuple of two int
        Width and height of the stored picture, px.
    request : Request
    marks : HandMarks
    sighting : CardSighting
    seen : Joint, optional
        What the program saw in this photo: it stands for edges and rims that the hand did not set.

    Returns
    -------
    HandShaft or Reading
        A refused reading where the marks do not determine a shaft.
    """
    d = request.declared
    known = Reading(Status.REFUSED, card=sighting.number)
    camera = request.camera(*size)
    try:
        pose = card_pose(sighting, camera, d.print_along, d.print_across)
    except CalibrationError as error:
        return replace(known, notes=(Note(Reason.CARD_HIDDEN, None, error.message),))
    rims = _rims(marks, seen)
    points = {rim.name: rim.points_px for rim in rims}
    turned = _against_arrow(points, camera, pose)
    if turned:
        sighting, known = sighting.turned_round(), replace(known, remarks=(BACKWARDS,))
        pose = card_pose(sighting, camera, d.print_along, d.print_across)
    if not marks.edges_px and seen is not None and _same_way(seen, sighting):
        observations = replace(seen.observations, rims=(), axis_px=np.zeros((0, 2)))
        fit = ShaftFit(solve(seen.solution.theta[:FIXED], observations), observations)
        return HandShaft(known, fit, rims, True)
    lines_mm = tuple(on_card_plane(line, camera, pose) for line in marks.edges_px)
    middles = [p.mean(axis=0) for p in points.values()]
    rims_mm = on_card_plane(np.array(middles), camera, pose) if middles else np.zeros((0, 2))
    start = axis_start(lines_mm, rims_mm, d.diameter_mm)
    if start is None:
        return replace(known, notes=(Note(Reason.NO_SHAFT, None, "two rims or two edges are needed"),))
    if too_close(lines_mm, d.diameter_mm):
        text = "the two lines lie too close together to be both edges of this shaft"
        return replace(known, notes=(Note(Reason.SHAFT_EDGES_UNCLEAR, None, text),))
    nothing = np.zeros((0, 2))
    observations = Observations(
        sighting, camera, request.focal_rel_sd, d, nothing, nothing,
        centre_sd_px=request.centre_sd_px, card_depth_sd_mm=card_depth_sd_mm(start.x_mm),
        unequal_share=request.unequal_share,
    )  # fmt: skip
    if marks.edges_px:
        observations = with_lines(observations, marks.edges_px, start, pose, marks.sd_px)
    else:
        observations = replace(observations, rims=rims, axis_px=np.concatenate([*points.values()]))
    theta, observations = with_bend_prior(
        initial_theta(pose, start.x_mm, start.slope, observations), observations
    )
    observations = with_aspect_prior(theta, observations)
    return HandShaft(known, ShaftFit(solve(theta, observations), observations), rims, bool(marks.edges_px))


def found_edges(pixels: np.ndarray, shaft: HandShaft) -> HandShaft:
    """Look for both silhouettes in the photo where none are drawn; the drawn ones are not moved.

    Silhouettes found near drawn lines made real photographs worse (docs/measured.md, "Marks by hand").
    """
    if shaft.has_edges:
        return shaft
    observations, start = shaft.fit.observations, shaft.fit.solution
    bare = replace(observations, rims=(), axis_px=np.zeros((0, 2)))
    middle = float(np.mean(list(start.rim_s_mm.values())))
    found = fit_shaft(pixels, start.theta[:FIXED], bare, middle)
    if found is None:
        return shaft
    seen = found.observations
    if len(seen.left_px) + len(seen.right_px) < EDGE_POINTS_NEEDED:
        return shaft
    if scale_conflict(scale_check(found), seen.card_depth_sd_mm):
        return shaft  # edges of something else
    return replace(shaft, fit=found, has_edges=True)


def measured(shaft: HandShaft, request: Request) -> HandReading:
    """Solve for the lengths, and refuse where edges and card contradict each other."""
    fit, known = shaft.fit, shaft.known
    if shaft.has_edges:
        scale = scale_check(fit)
        known = replace(known, scale=scale)
        if _apart(scale, fit.observations.card_depth_sd_mm, DEPTH_LIMIT_SDS):
            text = (
                f"card and edges agree only if the card lies {abs(scale.depth_gap_mm):.0f} mm "
                f"{depth_side(scale)} the shaft's centre line"
            )
            known = replace(known, notes=(Note(Reason.SCALE_CONFLICT, None, text),))
            return HandReading(with_geometry(known, fit.solution, request), fit.solution)
        remark = depth_remark(scale)
        known = replace(known, remarks=(*known.remarks, *([remark] if remark else [])))
        if _apart(scale, fit.observations.card_depth_sd_mm, DEPTH_SIGNIFICANCE):
            fit = with_scale_mixture(fit, scale)
    names = [rim.name for rim in shaft.rims]
    if len(names) < 2:
        known = replace(known, notes=(Note(Reason.NO_SHAFT, None, "at least two rims are needed"),))
        return HandReading(with_geometry(known, fit.solution, request), fit.solution)
    choice = Choice(
        rims={rim.name: rim for rim in shaft.rims},
        shares=dict.fromkeys(names, 1.0),
        notes=_missing(names),
    )
    reading, final = lengths(known, fit, choice, HAND_U95_LIMIT_MM)
    return HandReading(_in_order(with_geometry(reading, final, request)), final)


def _apart(scale: ScaleCheck, card_depth_sd_mm: float, sds: float) -> bool:
    """Whether edges and card differ by more than both leave open: a hand's lines leave much open."""
    return abs(scale.depth_gap_mm) > sds * float(np.hypot(scale.depth_gap_sd_mm, card_depth_sd_mm))


def _same_way(seen: Joint, sighting: CardSighting) -> bool:
    """Whether the program saw silhouettes, and took the card the same way round."""
    before = seen.observations
    has_edges = len(before.left_px) + len(before.right_px) >= EDGE_POINTS_NEEDED
    return has_edges and bool(np.array_equal(before.sighting.corner_ids, sighting.corner_ids))


def _rims(marks: HandMarks, seen: Joint | None) -> tuple[RimPoints, ...]:
    """Collect the rims set by hand, and those that the program saw and the hand left as they are."""
    rims = {} if seen is None else {rim.name: rim for rim in seen.observations.rims}
    rims |= {name: _rim(name, points, marks.sd_px) for name, points in marks.rims().items()}
    return tuple(rims[name] for name in RimName if name in rims)


def _rim(name: RimName, points_px: np.ndarray, sd_px: float) -> RimPoints:
    """Take points set by hand on a rim: each errs by itself, and all of them as where a hand sees the edge."""
    return RimPoints(
        name,
        points_px,
        UNKNOWN_EDGE_HEIGHT_MM if name.on_marker else 0.0,
        UNKNOWN_EDGE_HEIGHT_SIGMA_MM if name.on_marker else 0.0,
        sd_px=HAND_COMMON_SD_PX,
        shape_sd_px=sd_px,
        tilts=name.on_marker,
    )


def _against_arrow(points: dict[RimName, np.ndarray], camera: Camera, pose: CardPose) -> bool:
    """Whether the rims lie along the card in reversed order: its arrow points away from the seal."""
    order = [name for name in RimName if name in points]
    if len(order) < 2:
        return False
    ends = np.array([points[order[0]].mean(axis=0), points[order[-1]].mean(axis=0)])
    y_mm = on_card_plane(ends, camera, pose)[:, 1]
    return bool(y_mm[1] < y_mm[0])


def _in_order(reading: Reading) -> Reading:
    """Refuse lengths between rims that do not follow each other as on a shaft."""
    found = [reading.length(name) for name in LengthName]
    if all(length is None or length.value_mm > 0 for length in found):
        return reading
    note = Note(Reason.MARKER_UNCLEAR, None, "the marks do not follow each other: seal, marker, far end")
    return replace(
        reading,
        status=Status.REFUSED,
        exposed=None,
        marker=None,
        remaining=None,
        notes=(note, *reading.notes),
    )


def _missing(names: list[RimName]) -> tuple[Note, ...]:
    why = {
        RimName.SEAL: (Reason.SEAL_HIDDEN, LengthName.EXPOSED),
        RimName.MARKER_NEAR: (Reason.NO_MARKER, LengthName.MARKER),
        RimName.FAR_END: (Reason.FAR_END_HIDDEN, LengthName.EXPOSED),
    }
    return tuple(Note(*why[name], "not set by hand") for name in why if name not in names)
