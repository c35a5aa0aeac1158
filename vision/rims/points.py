"""Points of the chosen rims in the photo, with the standard uncertainty of the edge observed there.

Its models: `vision.rims.sigma`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.adjustment.observations import RIM_SD_PX, RimPoints
from vision.geometry.views import ReaderFrame
from vision.names import RimName
from vision.networks.classes import Part, PartMap
from vision.reading import Layout
from vision.rims.candidates import RimCandidate
from vision.rims.hidden_edge import HiddenEdge
from vision.rims.refine import RefinedRim, RimKind, RimTarget
from vision.rims.second_opinion import SeenEnd
from vision.rims.sigma import (
    FAR_END_SIGMA,
    FEW_COLUMNS,
    MARKER_SIGMA,
    SEAL_SIGMA,
    SHAPE_SIGMA,
    RefinedLook,
    RimSigmaModel,
    refined_sigma_mm,
    segmented_sigma_mm,
)
from vision.rims.wall import facing_wall_mm

# Height of a marker's outer edge above the shaft, mm: straps 1.0 to 1.45, O-rings 1 to 2 (their section's middle).
EDGE_HEIGHT_MM, EDGE_HEIGHT_SIGMA_MM = 1.3, 0.35
# The same where either the outer or the lower edge may be the visible one.
UNKNOWN_EDGE_HEIGHT_MM, UNKNOWN_EDGE_HEIGHT_SIGMA_MM = 0.65, 0.65
# Seals are taken to end nearer to the far end than refined, mm: midway between the 0.15 mm (standard error 0.02) by
# which the marker lengths of 61 path-traced photographs are too long, whatever their lip, marker, scale, diameter and
# view, and the 0.05 mm by which those of 23 photographs of our own are too short. Half of the disagreement is sigma's
# floor.
SEAL_BIAS_MM = 0.05
# Transition width of the segmentation, mm, above which an end is vague: both networks are then asked, and of a
# marker's edge the segmentation's sigma is kept if it is the larger one.
VAGUE_SEGMENTATION_MM = 2.0
# Most that the points of a rim, whose sigma is that of its shape, may contribute to the sigma of the whole: a quarter
# of the variance.
POINTS_SIGMA_SHARE = 0.5
# Weight of the segmentation's position beside the refined one; the likelihood of far ends is flat from 0.15 to 0.5.
# Where two segmentations see the far end, each keeps its weight against the refined position: 0.4 together.
SEGMENTATION_WEIGHT = {RimKind.SEAL: 0.0, RimKind.MARKER: 0.0, RimKind.FAR_END: 0.25}
# Tangent of the viewing angle up to which a far end seen from behind is seen as one from the front: a wall of 5 ± 6 mm
# (`vision.rims.wall`) hides 0.1 ± 0.1 mm of the shaft there, no more than the refinement's own sigma.
SQUARE_ON_SLANT = 0.02
# Depth of a clamp's underside, mm (no source).
CLAMP_DEPTH_MM = 12.0
# An underside that shows less than this, mm, may go unnoticed in its own shadow (no source).
THIN_STRIP_MM = 1.5
# Height of a step read off the view's columns: half a column or a twentieth of a radius, and mm; where its width cannot
# be read, this share of the radius is both its height and its sigma.
STEP_HEIGHT_SIGMA_SHARE, STEP_HEIGHT_SIGMA_MM = 0.08, 0.2
UNKNOWN_STEP_SHARE = 0.3
# Rows beside a border in which the width of a part is read.
STEP_ROWS = (2, 7)
# The same beyond the last row of an edge seen from behind: it is an arc, within which a part is no wider than the
# shaft, and goes on from 0.9 radii, the last column used, to the silhouettes.
BEYOND_ROWS = (4, 12)


def refinement_candidate(
    points: RimPoints | None, c: RimCandidate | None, frame: ReaderFrame
) -> RimTarget | None:
    """Select a rim for refinement; None where the segmentation's is kept.

    A clamp seen from behind hides its own edge: the segmentation's edge, its height and that height's uncertainty stay.
    Not where the view is so nearly square that it hides next to nothing.
    """
    if points is None or c is None:
        return None
    kind = {RimName.SEAL: RimKind.SEAL, RimName.FAR_END: RimKind.FAR_END}.get(points.name, RimKind.MARKER)
    if kind is RimKind.FAR_END and frame.cylinder.slant(c.s_mm) > SQUARE_ON_SLANT:
        return None
    return RimTarget(c, kind, points.name.shaft_follows)


def refined_rim_points(
    points: RimPoints,
    target: RimTarget,
    refined: RefinedRim,
    frame: ReaderFrame,
    other: SeenEnd | None = None,
) -> RimPoints:
    """Move a rim to its refined position.

    `other` is where another network sees it: the farther of both segmentations from the refined position counts
    for sigma, and the mean of their transition widths; the mean of both for the position.

    Its shape stays that of the segmentation: where the shaft is not quite where the patch was laid, a refined shape
    would be straightened by the patch and confirm the shaft's position by itself.
    """
    seen_mm = [target.rim.s_mm] if other is None else [target.rim.s_mm, other.s_mm]
    apart_mm = max(abs(s_mm - refined.s_mm) for s_mm in seen_mm)
    mean_mm = float(np.mean(seen_mm))
    each, count = SEGMENTATION_WEIGHT[target.kind], len(seen_mm)
    weight = count * each / (1 - each + count * each)
    bias_mm = SEAL_BIAS_MM if target.kind is RimKind.SEAL else 0.0
    moved_mm = refined.s_mm + weight * (mean_mm - refined.s_mm) + bias_mm - target.rim.s_mm
    s_mm, phi = frame.cylinder.unroll(frame.points_cam(target.rim.rows, target.rim.u))
    place_mm = target.rim.s_mm + moved_mm
    seen_wide_mm = [target.rim.transition_width_mm] + ([other.transition_width_mm] if other else [])
    look = RefinedLook(
        target.kind,
        frame.cylinder.slant(place_mm),
        len(target.rim.rows),
        refined_mm=refined.transition_width_mm,
        segmented_mm=float(np.mean(seen_wide_mm)),
        apart_mm=apart_mm,
        arc_mm=target.rim.arc_sd_mm,
    )
    sd_px = _with_own_px(refined_sigma_mm(look), place_mm, frame)
    # Remove the part of the variance already contributed by the individual points, which are the segmentation's; but
    # they may contribute no more than POINTS_SIGMA_SHARE.
    of_points_px = points.shape_sd_px / len(points.points_px) ** 0.5
    mean_weight = max(1.0, of_points_px / (POINTS_SIGMA_SHARE * sd_px))
    sd_px = float(np.sqrt(sd_px**2 - (of_points_px / mean_weight) ** 2))
    if target.kind is RimKind.MARKER and target.rim.transition_width_mm > VAGUE_SEGMENTATION_MM:
        sd_px = max(sd_px, points.sd_px)
    return replace(
        points,
        points_px=frame.camera.project(frame.cylinder.surface(s_mm + moved_mm, phi)),
        # What a far end seen from behind hides is not in the patch.
        height_mm=points.height_mm if target.kind is RimKind.FAR_END else 0.0,
        height_sd_mm=points.height_sd_mm if target.kind is RimKind.FAR_END else 0.0,
        sd_px=sd_px,
        mean_weight=mean_weight,
    )


def seal_points(c: RimCandidate | None, parts: PartMap) -> RimPoints | None:
    """Project the seal's rim into the photo."""
    if c is None:
        return None
    frame = parts.frame
    seal = RimPoints(
        RimName.SEAL,
        _points_px(c, frame),
        sd_px=_sd_px(c, frame, SEAL_SIGMA),
        shape_sd_px=_shape_sd_px(c, frame),
    )
    if frame.cylinder.camera_s_mm() >= c.s_mm:
        # Seen from the shaft's side: the lip's face is in view up to its contact with the shaft.
        return seal
    # Seen from behind: the lip's outer edge hides its contact with the shaft.
    row = int(np.median(c.rows))
    first, last = STEP_ROWS[0] - 1, STEP_ROWS[1] - 1
    height, sd = _step_mm(parts, Part.SEAL, slice(max(row - last, 0), max(row - first, 1)))
    return replace(seal, height_mm=height, height_sd_mm=sd)


def far_points(c: RimCandidate | None, parts: PartMap, layout: Layout) -> RimPoints | None:
    """Project the far end's rim into the photo: a bumper's face, a clamp, an axle foot."""
    if c is None:
        return None
    frame, camera_s = parts.frame, parts.frame.cylinder.camera_s_mm()
    sd_px, points_px, shape_sd_px = (
        _sd_px(c, frame, FAR_END_SIGMA),
        _points_px(c, frame),
        _shape_sd_px(c, frame),
    )
    if camera_s <= c.s_mm:
        # Of a clamp's underside, seen at a slant, only a thin dark strip may show: the visible edge may then be the
        # underside's own front edge.
        room = frame.cylinder.camera_distance_mm() - frame.cylinder.radius_mm - CLAMP_DEPTH_MM
        strip_mm = (c.s_mm - camera_s) * CLAMP_DEPTH_MM / max(room, CLAMP_DEPTH_MM)
        thin = layout is not Layout.SHOCK and strip_mm < THIN_STRIP_MM
        strip_px = strip_mm * frame.cylinder.px_per_mm(frame.camera, c.s_mm) if thin else 0.0
        sd_px = float(np.hypot(sd_px, 0.5 * strip_px))
        return RimPoints(RimName.FAR_END, points_px, sd_px=sd_px, shape_sd_px=shape_sd_px)
    if layout is Layout.SHOCK:
        last = int(np.max(c.rows))
        height, sd = _step_mm(parts, Part.FAR_END, slice(last + BEYOND_ROWS[0], last + BEYOND_ROWS[1]))
    else:
        height, sd = facing_wall_mm(parts, c)
    return RimPoints(RimName.FAR_END, points_px, height, sd, sd_px, shape_sd_px=shape_sd_px)


def marker_points(
    name: RimName, c: RimCandidate | None, frame: ReaderFrame, hidden: HiddenEdge | None = None
) -> RimPoints | None:
    """Project one edge of the marker's band, which stands above the shaft, into the photo.

    Parameters
    ----------
    name : RimName
    c : RimCandidate or None
    frame : ReaderFrame
    hidden : HiddenEdge, optional
        Set where the near edge is derived from the visible far one.
    """
    if c is None:
        return None
    seal_side_seen = name is RimName.MARKER_NEAR and hidden is None
    # From behind an edge the band's outer corner is seen; from the front either a strap's line of contact or a ring's
    # rounded flank.
    behind = (frame.cylinder.camera_s_mm() > c.s_mm) == seal_side_seen
    height, sd = (
        (EDGE_HEIGHT_MM, EDGE_HEIGHT_SIGMA_MM)
        if behind
        else (UNKNOWN_EDGE_HEIGHT_MM, UNKNOWN_EDGE_HEIGHT_SIGMA_MM)
    )
    sd_px = _sd_px(c, frame, MARKER_SIGMA, hidden.sd_mm if hidden else 0.0)
    shape_sd_px = _shape_sd_px(c, frame)
    return RimPoints(name, _points_px(c, frame), height, sd, sd_px, tilts=True, shape_sd_px=shape_sd_px)


def _points_px(c: RimCandidate, frame: ReaderFrame) -> np.ndarray:
    return frame.camera.project(frame.points_cam(c.rows, c.u))


def _with_own_px(sd_mm: float, s_mm: float, frame: ReaderFrame) -> float:
    """Convert a sigma along the shaft at this place to px, and add that of any edge in quadrature."""
    return float(np.hypot(RIM_SD_PX, sd_mm * frame.cylinder.px_per_mm(frame.camera, s_mm)))


def _sd_px(c: RimCandidate, frame: ReaderFrame, model: RimSigmaModel, more_mm: float = 0.0) -> float:
    """Evaluate the sigma of a segmented rim as a whole, px."""
    slant = frame.cylinder.slant(c.s_mm)
    more_mm = float(np.hypot(more_mm, c.arc_sd_mm))
    sd_mm = segmented_sigma_mm(model, c.transition_width_mm, slant, len(c.rows), more_mm)
    return _with_own_px(sd_mm, c.s_mm, frame)


def _shape_sd_px(c: RimCandidate, frame: ReaderFrame) -> float:
    """Evaluate the sigma of one of its points, px, with respect to the rim's shape."""
    parts_mm = SHAPE_SIGMA.parts_mm(c.transition_width_mm, frame.cylinder.slant(c.s_mm), FEW_COLUMNS)
    return float(np.linalg.norm(parts_mm) * frame.cylinder.px_per_mm(frame.camera, c.s_mm))


def _step_mm(parts: PartMap, part: Part, rows: slice) -> tuple[float, float]:
    """Height of a part's edge above the shaft, read from its width, and its sigma, mm."""
    radius = parts.frame.cylinder.radius_mm
    u = parts.half_width_u(part, rows)
    if u is None:
        return UNKNOWN_STEP_SHARE * radius, UNKNOWN_STEP_SHARE * radius
    return max(u - 1.0, 0.0) * radius, STEP_HEIGHT_SIGMA_SHARE * radius + STEP_HEIGHT_SIGMA_MM
