"""The reading of one photo, from pixels to lengths: the order of the steps and what stops them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calibration import card
from calibration.camera import Camera
from calibration.errors import CalibrationError
from calibration.find_card import CardError, CardSighting, find_card
from calibration.pose import card_pose
from vision.choose_rims import Choice, choose
from vision.evidence import card_depth_sd_mm
from vision.find_shaft import ShaftGuess, ShaftNotFound, find_shaft
from vision.fit_shaft import ShaftFit, fit_shaft
from vision.lengths import lengths
from vision.networks import ROWS_MULTIPLE, classes_along
from vision.parts import Part
from vision.reading import CameraPose, Layout, Note, Reading, Status
from vision.reasons import Reason
from vision.residuals import FIXED
from vision.rim_points import EITHER_MM, EITHER_SD_MM
from vision.scale import focal_factor, scale_check, scale_conflict
from vision.solve import (
    S_ORIGIN_ON_CARD_MM,
    Declared,
    Evidence,
    RimPoints,
    Solution,
    solve,
    start_theta,
)
from vision.views import (
    READER_COLUMNS,
    READER_ROWS,
    READER_STEP_MM,
    ReaderFrame,
    finder_view,
    reader_view,
)

_CARD_REASONS = {
    "none": Reason.NO_CARD,
    "hidden": Reason.CARD_HIDDEN,
    "several": Reason.SEVERAL_CARDS,
    "blurred": Reason.BLURRED,
    "small": Reason.TOO_SMALL,
}
# Corners that miss a flat card by more than this, mm on the card (root mean square): it is curled. Flat cards
# in sharp and blurred samples alike stay under 0.04 mm; a sagitta of 2 mm over the card's length gives 0.15.
FLATNESS_LIMIT_MM = 0.08
# A lens that distorts by more than this many times what phones' lenses do is none: a bent card looks so.
K1_LIMIT = 3.0
# Silhouette points needed in all, one a millimetre: fewer leave the axis to the card alone.
EDGE_POINTS_NEEDED = 5
# How far beyond the exposed shaft the networks look, mm: where coils hide much of it the first look errs by a coil or
# two, and the networks want to see what follows (a bumper and its perch take some 30 mm). With 50 mm all photos
# read as with the whole view; with 20 mm a third of the plain ones lost their edges.
BEYOND_SHAFT_MM = 50.0
# A point set by hand on an enlarged photo, px.
HAND_SD_PX = 1.5


@dataclass(frozen=True)
class Request:
    """What the person states about the photo.

    Attributes
    ----------
    declared : Declared
    layout : Layout
    focal_px, focal_rel_sd : float
        Prior of the focal length.
    focal_source : str
        "exif", "stated" or "assumed".
    marker_width_mm : float or None
    marker_color : str or None
        Only told apart in words; the reading does not go by colour.
    centre_sd_px : float
        How well the principal point is known: an off-centre crop moves it.
    """

    declared: Declared
    layout: Layout
    focal_px: float
    focal_rel_sd: float
    focal_source: str = "exif"
    marker_width_mm: float | None = None
    marker_color: str | None = None
    centre_sd_px: float = 5.0


@dataclass(frozen=True)
class HandRims:
    """Rims set by hand, points of the upright photo, px; each an array of shape (n, 2) or None."""

    seal_px: np.ndarray | None = None
    marker_px: np.ndarray | None = None
    far_px: np.ndarray | None = None


@dataclass(frozen=True)
class Trace:
    """What was seen on the way, for looking into a reading."""

    guess: ShaftGuess | None = None
    frame: ReaderFrame | None = None
    view: np.ndarray | None = None
    classes: np.ndarray | None = None
    fit: ShaftFit | None = None
    choice: Choice | None = None
    final: Solution | None = None


class _Refused(Exception):
    """Leaves the pipeline with a reason."""

    def __init__(self, reason: Reason, detail: str) -> None:
        super().__init__(detail)
        self.note = Note(reason, None, detail)


def read(pixels: np.ndarray, request: Request, hand: HandRims | None = None) -> Reading:
    """Read one photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
        RGB, upright.
    request : Request
    hand : HandRims, optional
        Rims set by hand: the shaft and its rims are then not looked for.

    Returns
    -------
    Reading
        Never raises for what the photo shows: what cannot be read is a reason in it.
    """
    return read_traced(pixels, request)[0] if hand is None else _read_by_hand(pixels, request, hand)


def read_traced(pixels: np.ndarray, request: Request) -> tuple[Reading, Trace]:
    """As `read`, with what was seen on the way."""
    import cv2

    try:
        sighting = find_card(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY))
    except CardError as e:
        return Reading(Status.REFUSED, (Note(_CARD_REASONS[e.kind], None, e.message),)), Trace()
    known = Reading(Status.REFUSED, card=sighting.number)
    trace = Trace()
    try:
        trace = _look(pixels, request, sighting)
        assert trace.fit is not None
        known = _with_geometry(known, trace.fit.solution, request)
        known = replace(known, scale=scale_check(trace.fit))
        _check(trace, request, sighting, known)
        assert trace.frame is not None and trace.classes is not None
        choice = choose(
            trace.classes, trace.frame, trace.fit.solution, request.layout, request.marker_width_mm
        )
        trace = replace(trace, choice=choice)
        if choice.refusal is not None:
            return replace(known, notes=(choice.refusal,)), trace
        assert trace.fit is not None
        reading, final = lengths(known, trace.fit, choice)
        return _with_geometry(reading, final, request), replace(trace, final=final)
    except _Refused as e:
        return replace(known, notes=(e.note,)), trace
    except ShaftNotFound as e:
        return replace(known, notes=(Note(e.reason, None, e.message),)), trace
    except CalibrationError as e:
        return replace(known, notes=(Note(Reason.CARD_HIDDEN, None, e.message),)), trace


def _read_by_hand(pixels: np.ndarray, request: Request, hand: HandRims) -> Reading:
    """The same geometry with rims set by hand; the axis runs through them, level with the card."""
    import cv2

    try:
        sighting = find_card(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY))
    except CardError as e:
        return Reading(Status.REFUSED, (Note(_CARD_REASONS[e.kind], None, e.message),))
    d = request.declared
    camera = Camera.centred(request.focal_px, pixels.shape[1], pixels.shape[0])
    pose = card_pose(sighting, camera, d.print_along, d.print_across)
    named = {"seal": hand.seal_px, "marker": hand.marker_px, "far end": hand.far_px}
    points = {name: np.asarray(p, float) for name, p in named.items() if p is not None and len(p)}
    middles = np.array([p.mean(axis=0) for p in points.values()])
    known = Reading(Status.REFUSED, card=sighting.number)
    if len(middles) < 2:
        return replace(known, notes=(Note(Reason.NO_SHAFT, None, "two rims at least are needed"),))
    # Where the lines of sight meet the card's plane.
    rays = camera.rays(middles) @ pose.R_cam_card
    eye = -pose.R_cam_card.T @ pose.t_cam_card_mm
    at = eye + rays * (-eye[2] / rays[:, 2])[:, None]
    slope, x_mm = np.polyfit(at[:, 1] - 84.0, at[:, 0], 1)
    nothing = np.zeros((0, 2))
    rims = tuple(
        RimPoints(
            name,
            p,
            EITHER_MM if name == "marker" else 0.0,
            EITHER_SD_MM,
            sd_px=HAND_SD_PX,
            tilts=name == "marker",
        )
        for name, p in points.items()
    )
    evidence = Evidence(
        sighting, camera, request.focal_rel_sd, d, nothing, nothing, rims,
        centre_sd_px=request.centre_sd_px, card_depth_sd_mm=card_depth_sd_mm(float(x_mm)),
        axis_px=np.concatenate([*points.values()]),
    )  # fmt: skip
    theta = start_theta(pose, float(x_mm), float(slope), evidence)
    fit = _edges_by_hand(pixels, theta, evidence)
    by_name = {r.name: r for r in rims}
    choice = Choice(
        seal=by_name.get("seal"),
        marker=by_name.get("marker"),
        far=by_name.get("far end"),
        shares=dict.fromkeys(points, 1.0),
        notes=_missing(points),
    )
    reading, final = lengths(known, fit, choice)
    return _with_geometry(reading, final, request)


def _edges_by_hand(pixels: np.ndarray, theta: np.ndarray, evidence: Evidence) -> ShaftFit:
    """The shaft between rims set by hand: by its silhouettes where they can be seen, else by the rims' middles."""
    start = solve(theta, evidence)
    bare = replace(evidence, rims=(), axis_px=np.zeros((0, 2)))
    middle = float(np.mean(list(start.rim_s_mm.values())))
    found = fit_shaft(pixels, start.theta[:FIXED], bare, middle)
    if found is None or len(found.evidence.left_px) + len(found.evidence.right_px) < EDGE_POINTS_NEEDED:
        return ShaftFit(start, evidence)
    return replace(found, evidence=replace(found.evidence, rims=evidence.rims))


def _missing(points: dict[str, np.ndarray]) -> tuple[Note, ...]:
    why = {
        "seal": (Reason.SEAL_HIDDEN, "exposed_mm"),
        "marker": (Reason.NO_MARKER, "marker_mm"),
        "far end": (Reason.FAR_END_HIDDEN, "exposed_mm"),
    }
    return tuple(Note(*why[name], "not set by hand") for name in why if name not in points)


def _look(pixels: np.ndarray, request: Request, sighting: CardSighting) -> Trace:
    """Card pose, shaft, view along it, silhouettes."""
    d = request.declared
    camera = Camera.centred(request.focal_px, pixels.shape[1], pixels.shape[0])
    pose = card_pose(sighting, camera, d.print_along, d.print_across)
    guess = find_shaft(finder_view(pixels, camera, pose), d.diameter_mm)
    nothing = np.zeros((0, 2))
    evidence = Evidence(
        sighting, camera, request.focal_rel_sd, d, nothing, nothing,
        centre_sd_px=request.centre_sd_px, card_depth_sd_mm=card_depth_sd_mm(guess.x_mm),
    )  # fmt: skip
    theta = start_theta(pose, guess.x_mm, guess.slope, evidence)
    low, high = (y - S_ORIGIN_ON_CARD_MM for y in (guess.y_low_mm, guess.y_high_mm))
    fit = fit_shaft(
        pixels, theta, evidence, 0.5 * (low + high), (low - BEYOND_SHAFT_MM, high + BEYOND_SHAFT_MM)
    )
    if fit is None:
        raise _Refused(Reason.NO_SHAFT, "no bare shaft was seen beside the card")
    assert fit.frame is not None
    rows = _rows_in_question(fit.frame, guess, request.layout)
    view = np.zeros((READER_ROWS, READER_COLUMNS, 3), np.uint8)
    view[slice(*rows)] = reader_view(pixels, fit.frame, rows)
    classes = np.zeros((len(Part), READER_ROWS, READER_COLUMNS), np.float32)
    classes[Part.ELSE] = 1.0
    classes[:, slice(*rows)] = classes_along(view[slice(*rows)], d.diameter_mm)
    return Trace(guess=guess, frame=fit.frame, view=view, classes=classes, fit=fit)


def _rows_in_question(frame: ReaderFrame, guess: ShaftGuess, layout: Layout) -> tuple[int, int]:
    """First row of the reader view that has to be looked at, and the one after the last.

    Beside a fork or a foot the whole view is: where a gaiter is taken for a clamp, its length tells.
    """
    if layout is not Layout.SHOCK:
        return 0, READER_ROWS
    y_mm = np.array([guess.y_low_mm - BEYOND_SHAFT_MM, guess.y_high_mm + BEYOND_SHAFT_MM])
    low, high = (y_mm - S_ORIGIN_ON_CARD_MM - frame.s0_mm) / (READER_STEP_MM * ROWS_MULTIPLE)
    first, last = (
        int(np.clip(row, 0, READER_ROWS // ROWS_MULTIPLE)) for row in (np.floor(low), np.ceil(high))
    )
    return (first * ROWS_MULTIPLE, last * ROWS_MULTIPLE) if last > first else (0, READER_ROWS)


def _check(trace: Trace, request: Request, sighting: CardSighting, known: Reading) -> None:
    """Refuse where card, shaft and lens do not fit together."""
    assert trace.fit is not None and known.scale is not None
    solution = trace.fit.solution
    if solution.corner_rms_px / sighting.px_per_mm > FLATNESS_LIMIT_MM:
        off = solution.corner_rms_px / sighting.px_per_mm
        raise _Refused(Reason.CARD_NOT_FLAT, f"the card's corners miss a flat card by {off:.2f} mm")
    if len(trace.fit.evidence.left_px) + len(trace.fit.evidence.right_px) < EDGE_POINTS_NEEDED:
        raise _Refused(Reason.SHAFT_EDGES_UNCLEAR, "too little of the shaft's edges can be seen")
    if abs(solution.camera.k1) > K1_LIMIT * trace.fit.evidence.k1_sd:
        raise _Refused(
            Reason.CARD_NOT_FLAT,
            "the card's corners would fit a flat card only through a lens that bends lines",
        )
    factor = focal_factor(trace.fit)
    if factor is not None:
        raise _Refused(
            Reason.FOCAL_LENGTH_DOUBTFUL,
            f"card and shaft look as through a lens {factor:.2f} times as long as stated",
        )
    if scale_conflict(known.scale):
        raise _Refused(
            Reason.SCALE_CONFLICT,
            f"card and diameter agree only if the card lies {abs(known.scale.depth_gap_mm):.0f} mm "
            f"{'behind' if known.scale.depth_gap_mm < 0 else 'before'} the shaft's middle",
        )


def _with_geometry(reading: Reading, solution: Solution, request: Request) -> Reading:
    """Add what the overlay and the record need of a solve."""
    outline = card.outline_mm() * np.array([request.declared.print_across, request.declared.print_along])
    corners_cam = solution.pose.to_cam(np.c_[outline, np.zeros(4)])
    pose = CameraPose(
        solution.camera.focal_px, request.focal_source, solution.pose.R_cam_card, solution.pose.t_cam_card_mm
    )
    return replace(reading, pose=pose, card_outline_px=solution.camera.project(corners_cam))
