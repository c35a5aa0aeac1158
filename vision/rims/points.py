"""From a rim that was chosen to points in the photo, with what is not known of the edge seen there."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.adjustment.observations import RIM_SD_PX, RimPoints
from vision.geometry.views import ReaderFrame
from vision.networks.classes import Part
from vision.reading import Layout
from vision.rims.candidates import RimCandidate, half_width_u
from vision.rims.refine import RefinedRim, RimKind, RimTarget

# How far a marker's outer edge stands proud of the shaft, mm: straps 1.0 to 1.45, O-rings 1 to 2 (their
# section's middle); where the lower edge may be seen instead, half of that with as much doubt.
EDGE_HEIGHT_MM, EDGE_HEIGHT_SIGMA_MM = 1.3, 0.35
UNKNOWN_EDGE_HEIGHT_MM, UNKNOWN_EDGE_HEIGHT_SIGMA_MM = 0.65, 0.65


@dataclass(frozen=True)
class RimSigmaModel:
    """What a rim of one kind errs by, mm (sd), the root of the sum of squares of these.

    Attributes
    ----------
    floor_mm : float
    slant_mm : float
        Times a power of the tangent of the angle at which the rim is seen: the more of a lip's face is in view, the
        more easily one of its edges is taken for the other.
    transition_factor : float
        Times the stretch over which the network is undecided.
    slant_power : int
    """

    floor_mm: float
    slant_mm: float
    transition_factor: float
    slant_power: int = 2


# Fitted together to 1,585 seals, 2,680 edges of markers and 1,479 far ends of scenes kept out of training and to 18, 37
# and 19 of path-traced photographs, each of these counted five times (Student's t of 4 degrees of freedom, 1.4 times
# its scale: docs/measured.md). Of far ends the photographs ask for more at the least and for less of the undecided
# stretch; of seals at a slant for far more than scenes do, by one photograph whose dark lip stands off the shaft and,
# at a slant of half a radian, is 0.7 mm off: as much is allowed there, and with the fourth power little elsewhere.
SEAL_SIGMA = RimSigmaModel(0.05, 12.0, 0.36, slant_power=4)
MARKER_SIGMA = RimSigmaModel(0.08, 0.8, 0.21)
FAR_END_SIGMA = RimSigmaModel(0.14, 0.0, 0.34)
# Where the network is undecided over about so much or more, mm, the rim errs by more than in proportion: it may be
# another edge altogether. Fitted with the others: far ends 2.9, seals 2.6 (a gain of 8 and 10 in log likelihood); a
# little more is taken, for the most doubtful are refused anyway.
VAGUE_TRANSITION_MM = 3.1
# Rims looked at closely, in the same terms. Of the undecided stretch scenes kept out of training ask for 0.47, 0.38 and
# 0.47 and nothing else (431 seals, 705 edges of markers, 383 far ends: Student's t as above), lengths of photographs of
# our own for 0.63, 0.18 and 0.30 with something at the least (181, by what their budgets say of each source), path-
# traced photographs for 0.4 mm of seals at a slant of half a radian. With what is taken, and `RIM_SD_PX`, 98, 97 and 94
# of 100 of those rims lie within twice their doubt; `DISAGREEMENT_SHARE` of the distance between
# both looks adds to it.
REFINED_SIGMA = {
    RimKind.SEAL: RimSigmaModel(0.03, 5.0, 0.6, slant_power=4),
    RimKind.MARKER: RimSigmaModel(0.02, 0.0, 0.35),
    RimKind.FAR_END: RimSigmaModel(0.03, 0.0, 0.38),
}
DISAGREEMENT_SHARE = {RimKind.SEAL: 0.4, RimKind.MARKER: 0.28, RimKind.FAR_END: 0.34}
# Where the reader is undecided over more than this, mm, it may have taken another edge for the rim, and the patch lies
# round that: the reader's doubt stays, if it is the larger.
VAGUE_SEGMENTATION_MM = 2.0
# What the points of a rim, whose doubts are those of its shape, may add to what it errs by as a whole: half of that, a
# quarter of its variance. With the whole of theirs a far end that was seen to a tenth of a millimetre was doubted by
# 0.17.
POINTS_SIGMA_SHARE = 0.5
# What the reader's rim still says of the place. On scenes a close look is three times as good; polished clamps beside
# polished tubes of the other photographs misled either now and then, by 0.4 to 0.9 mm, and seldom both (of all
# photographs' far ends the likelihood is flat from 0.15 to 0.5).
SEGMENTATION_WEIGHT = {RimKind.SEAL: 0.0, RimKind.MARKER: 0.0, RimKind.FAR_END: 0.25}
# A rim's bow tells how steeply it is seen, and with that the focal length. The network bends it: 465 rims of 176 scenes
# kept out of training bow as if each of 24 points erred by 0.11 mm, 0.8 times the slant and 0.66 of the undecided
# stretch (fitted in the same way). Of the last two more is taken: where they are large, photographs of our own were
# read wrongly with less.
SHAPE_SIGMA = RimSigmaModel(0.11, 1.1, 0.8, slant_power=1)
# With fewer columns than this, rims err by this much at the least, mm.
FEW_COLUMNS, FEW_COLUMNS_SIGMA_MM = 8, 0.18
# A clamp or foot seen from behind its edge: its depth is not known to better than this, mm.
CLAMP_SD_MM = 12.0
# An underside that shows less than this, mm, may go unnoticed in its own shadow.
THIN_STRIP_MM = 1.5
# A step's outer radius read off the view's columns is good to half a column or a twentieth of a radius.
STEP_HEIGHT_SIGMA_SHARE = 0.08


def _px(c: RimCandidate, frame: ReaderFrame, *parts_mm: float) -> float:
    """The root of the sum of squares of some mm along the shaft, in px where the rim is."""
    return float(np.linalg.norm(parts_mm) * frame.cylinder.px_per_mm(frame.camera, c.s_mm))


def _sd_px(c: RimCandidate, frame: ReaderFrame, doubt: RimSigmaModel, more_mm: float = 0.0) -> float:
    """Standard uncertainty of a rim as a whole: the edge's own, and what its look tells."""
    floor_mm = doubt.floor_mm if len(c.rows) >= FEW_COLUMNS else FEW_COLUMNS_SIGMA_MM
    slant_mm = doubt.slant_mm * abs(frame.cylinder.slant(c.s_mm)) ** doubt.slant_power
    transition_width_mm = (
        doubt.transition_factor
        * c.transition_width_mm
        * np.hypot(1.0, (c.transition_width_mm / VAGUE_TRANSITION_MM) ** 2)
    )
    own_px = _px(c, frame, floor_mm, slant_mm, transition_width_mm, more_mm)
    return float(np.hypot(RIM_SD_PX, own_px))


def _shape_sd_px(c: RimCandidate, frame: ReaderFrame) -> float:
    """Standard uncertainty of one of its points, as far as the rim's shape is concerned."""
    slant_mm = SHAPE_SIGMA.slant_mm * abs(frame.cylinder.slant(c.s_mm)) ** SHAPE_SIGMA.slant_power
    return _px(
        c, frame, SHAPE_SIGMA.floor_mm, slant_mm, SHAPE_SIGMA.transition_factor * c.transition_width_mm
    )


def refinement_candidate(
    points: RimPoints | None, c: RimCandidate | None, camera_s: float
) -> RimTarget | None:
    """A rim to look closely at; None where the reader's is kept.

    A clamp seen from behind hides its own edge: the reader's edge, how far it stands off and how little is known of
    that stay.
    """
    if points is None or c is None:
        return None
    kind = {"seal": RimKind.SEAL, "far end": RimKind.FAR_END}.get(points.name, RimKind.MARKER)
    if kind is RimKind.FAR_END and camera_s > c.s_mm:
        return None
    return RimTarget(c, kind, shaft_follows=points.name in ("seal", "marker end"))


def refined_rim_points(
    points: RimPoints, seen: RimTarget, close: RefinedRim, frame: ReaderFrame
) -> RimPoints:
    """The same rim where a close look shows it.

    Its shape stays the reader's: where the shaft is not quite where the patch was laid, a close look straightens what
    bows, and would confirm the shaft's place by itself.
    """
    apart_mm = seen.rim.s_mm - close.s_mm
    moved_mm = (SEGMENTATION_WEIGHT[seen.kind] - 1) * apart_mm
    near = replace(seen.rim, s_mm=seen.rim.s_mm + moved_mm, transition_width_mm=close.transition_width_mm)
    s_mm, phi = frame.cylinder.unroll(frame.points_cam(seen.rim.rows, seen.rim.u))
    sd_px = _sd_px(near, frame, REFINED_SIGMA[seen.kind], DISAGREEMENT_SHARE[seen.kind] * apart_mm)
    # The points' own doubt, which is the reader's, moves their mean, too: but no more than this look leaves open.
    of_points_px = points.shape_sd_px / len(points.points_px) ** 0.5
    mean_weight = max(1.0, of_points_px / (POINTS_SIGMA_SHARE * sd_px))
    sd_px = float(np.sqrt(sd_px**2 - (of_points_px / mean_weight) ** 2))
    if seen.rim.transition_width_mm > VAGUE_SEGMENTATION_MM:
        sd_px = max(sd_px, points.sd_px)
    return replace(
        points,
        points_px=frame.camera.project(frame.cylinder.surface(s_mm + moved_mm, phi)),
        height_mm=0.0,
        height_sd_mm=0.0,
        sd_px=sd_px,
        mean_weight=mean_weight,
    )


def _points(c: RimCandidate, frame: ReaderFrame) -> np.ndarray:
    return frame.camera.project(frame.points_cam(c.rows, c.u))


def seal_points(
    c: RimCandidate | None, classes: np.ndarray, frame: ReaderFrame, camera_s: float
) -> RimPoints | None:
    """The seal's rim; seen from behind, the lip's outer edge hides where it meets the shaft."""
    if c is None:
        return None
    sd_px = _sd_px(c, frame, SEAL_SIGMA)
    shape_sd_px = _shape_sd_px(c, frame)
    if camera_s >= c.s_mm:
        # Seen from the shaft's side: the lip's face is in view up to where it meets the shaft.
        return RimPoints("seal", _points(c, frame), sd_px=sd_px, shape_sd_px=shape_sd_px)
    # Seen from behind: the lip's outer edge hides the line where it meets the shaft.
    row = int(np.median(c.rows))
    over, sd = _step_mm(classes, Part.SEAL, slice(max(row - 6, 0), max(row - 1, 1)), frame)
    return RimPoints("seal", _points(c, frame), over, sd, sd_px, shape_sd_px=shape_sd_px)


def far_points(
    c: RimCandidate | None, classes: np.ndarray, frame: ReaderFrame, camera_s: float, layout: Layout
) -> RimPoints | None:
    """The far end's rim: a bumper's face, a clamp, an axle foot."""
    if c is None:
        return None
    sd_px, shape_sd_px = _sd_px(c, frame, FAR_END_SIGMA), _shape_sd_px(c, frame)
    if camera_s <= c.s_mm:
        # Of a clamp's underside, seen at a slant, only a thin dark strip may show: the edge seen may then be the
        # underside's own front edge.
        room = frame.cylinder.camera_distance_mm() - frame.cylinder.radius_mm - CLAMP_SD_MM
        strip_mm = (c.s_mm - camera_s) * CLAMP_SD_MM / max(room, CLAMP_SD_MM)
        thin = layout is not Layout.SHOCK and strip_mm < THIN_STRIP_MM
        strip_px = strip_mm * frame.cylinder.px_per_mm(frame.camera, c.s_mm) if thin else 0.0
        sd_px = float(np.hypot(sd_px, 0.5 * strip_px))
        return RimPoints("far end", _points(c, frame), sd_px=sd_px, shape_sd_px=shape_sd_px)
    row = int(np.median(c.rows))
    over, sd = _step_mm(classes, Part.FAR_END, slice(row + 2, row + 7), frame)
    if layout is not Layout.SHOCK:
        over, sd = over + 0.5 * CLAMP_SD_MM, CLAMP_SD_MM
    return RimPoints("far end", _points(c, frame), over, sd, sd_px, shape_sd_px=shape_sd_px)


def _step_mm(classes: np.ndarray, part: Part, rows: slice, frame: ReaderFrame) -> tuple[float, float]:
    """How far a part's edge stands proud of the shaft, from its width, with its doubt, mm."""
    radius = frame.cylinder.radius_mm
    u = half_width_u(classes, part, rows, frame)
    if u is None:
        return 0.3 * radius, 0.3 * radius
    return max(u - 1.0, 0.0) * radius, STEP_HEIGHT_SIGMA_SHARE * radius + 0.2


def marker_points(
    name: str,
    c: RimCandidate | None,
    frame: ReaderFrame,
    camera_s: float,
    near_edge: bool,
    more_mm: float = 0.0,
) -> RimPoints | None:
    """One edge of the marker's band, which stands proud of the shaft.

    `near_edge` is whether the edge that was seen is the seal's side, `more_mm` what it is more doubtful by.
    """
    if c is None:
        return None
    # From behind an edge the band's outer corner is seen; from before it, a strap's line on the shaft or a
    # ring's rounded flank, and it is not known which.
    behind = (camera_s > c.s_mm) == near_edge
    over, sd = (
        (EDGE_HEIGHT_MM, EDGE_HEIGHT_SIGMA_MM)
        if behind
        else (UNKNOWN_EDGE_HEIGHT_MM, UNKNOWN_EDGE_HEIGHT_SIGMA_MM)
    )
    sd_px, shape_sd_px = _sd_px(c, frame, MARKER_SIGMA, more_mm), _shape_sd_px(c, frame)
    return RimPoints(name, _points(c, frame), over, sd, sd_px, tilts=True, shape_sd_px=shape_sd_px)
