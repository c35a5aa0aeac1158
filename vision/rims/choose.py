"""Which of the borders in the reader view are the seal, the marker's edges and the far end."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from vision.adjustment.observations import RimPoints
from vision.adjustment.solve import Solution
from vision.geometry.views import READER_STEP_MM, ReaderFrame
from vision.networks.classes import Part
from vision.reading import Layout, Note
from vision.reasons import Reason
from vision.rims.candidates import (
    RimCandidate,
    borders,
    candidates,
    most_likely,
    without_false_marker_on_lip,
)
from vision.rims.choose_marker import (
    FEW_CLARITY,
    FEW_SHARE,
    band_limits_mm,
    choose_marker,
    clear_marker_row,
    touches,
    weight,
)
from vision.rims.points import (
    far_points,
    marker_points,
    refined_rim_points,
    refinement_candidate,
    seal_points,
)
from vision.rims.refine import RimRefiner

# Seal and far end must be seen this clearly (as `LEAST_CLARITY` of markers). Of seals and far ends of 2,112 scenes kept
# out of training of which clarity times share is less, one in 13 is wrong, of the others one in a hundred.
END_CLARITY = 0.7
# No lower clamp or axle foot is longer along the leg, mm (trade figures: 25 to 60), and the next clamp is farther
# away than this: what comes between is a gaiter.
LONGEST_CLAMP_MM, CLAMPS_APART_MM = 90.0, 120.0
# A card is laid backwards only where both ends say so, this many times as clearly as the right way round.
BACKWARDS_RATIO = 2.0
# A shaft ends once: where columns with this share of the far end's weight show it end so much earlier, mm, it is not
# known where. Of 110 photos one did: a polished clamp showed the shaft once more, and that was taken for it.
SECOND_END_SHARE, SECOND_END_MM = 0.2, 3.0


@dataclass(frozen=True)
class Choice:
    """The rims that count, or why not.

    Attributes
    ----------
    seal, marker, far : RimPoints or None
    marker_end : RimPoints or None
        The marker's edge away from the seal.
    unrefined : tuple of RimPoints
        All of these as the reader alone shows them, before a close look.
    shares : dict of str to float
        Share of the camera-facing columns that show each rim.
    near_hidden : bool
        The marker's seal-side edge is not seen: its other edge and its width tell where it is.
    notes : tuple of Note
    remarks : tuple of str
        What the person should know of lengths that are answered.
    refusal : Note or None
    """

    seal: RimPoints | None = None
    marker: RimPoints | None = None
    marker_end: RimPoints | None = None
    far: RimPoints | None = None
    unrefined: tuple[RimPoints, ...] = ()
    shares: dict[str, float] = field(default_factory=dict)
    touching: bool = False
    near_hidden: bool = False
    notes: tuple[Note, ...] = ()
    remarks: tuple[str, ...] = ()
    refusal: Note | None = None


def choose(
    classes: np.ndarray,
    frame: ReaderFrame,
    solution: Solution,
    layout: Layout,
    marker_width_mm: float | None,
    refiner: RimRefiner | None = None,
) -> Choice:
    """Choose the rims.

    Parameters
    ----------
    classes : ndarray of shape (7, rows, columns)
    frame : ReaderFrame
        Of the view that `classes` belongs to.
    solution : Solution
        The shaft after the silhouettes were fitted.
    layout : Layout
    marker_width_mm : float or None
        Stated width of the band.
    refiner : RimRefiner, optional
        To look closely at the rims chosen.
    """
    best = most_likely(classes)
    found = borders(classes, frame, best)
    clear = clear_marker_row(found, frame, marker_width_mm)
    if clear is not None:
        without_lip = without_false_marker_on_lip(classes, frame, clear, best)
        if without_lip is not classes:
            classes = without_lip
            best = most_likely(classes)
            found = borders(classes, frame, best)
    S, B, M, F = (Part.SEAL,), (Part.SHAFT,), (Part.MARKER,), (Part.FAR_END,)
    seal = _best(candidates(found, S, B + M, frame))
    ends = candidates(found, B + M, F, frame)
    far = _best(ends)
    gaiter = layout is not Layout.SHOCK and far is not None and _gaiter(classes, far, ends, frame)
    shaft_end = far
    two_ends = far is not None and _ends_earlier(far, ends)
    if gaiter or two_ends:
        far = None
    back_seal = _best(candidates(found, B + M, S, frame))
    back_far = _best(candidates(found, F, B + M, frame))
    forward = weight(seal) + weight(far)
    if back_seal and back_far and weight(back_seal) + weight(back_far) > BACKWARDS_RATIO * forward:
        note = Note(Reason.CARD_BACKWARDS, None, "the seal lies at the end that the arrow points away from")
        return Choice(refusal=note)
    notes: list[Note] = []
    marker = choose_marker(found, best, frame, marker_width_mm, seal, shaft_end)
    near, hidden = marker.near, marker.hidden
    shares = {"seal": _share(seal), "marker": _share(near), "far end": _share(far)}
    if marker.note is not None:
        notes.append(marker.note)
    if seal is None:
        notes.append(Note(Reason.SEAL_HIDDEN, "exposed_mm", "the seal's edge was not found"))
    if gaiter:
        notes.append(
            Note(
                Reason.FAR_END_HIDDEN,
                "exposed_mm",
                "what ends the bare shaft is no clamp: a gaiter? Set the rims by hand with --rims",
            )
        )
    elif two_ends:
        notes.append(
            Note(
                Reason.FAR_END_HIDDEN,
                "exposed_mm",
                f"the edge of the {layout.far_end} was found in two places",
            )
        )
    elif far is None:
        notes.append(
            Note(Reason.FAR_END_HIDDEN, "exposed_mm", f"the edge of the {layout.far_end} was not found")
        )
    camera_s = solution.cylinder.camera_s_mm()
    touching = bool(near and touches(best, frame, near))
    near_points = marker_points(
        "marker", near, frame, camera_s, hidden is None, hidden.sd_mm if hidden else 0.0
    )
    end_points = marker_points("marker end", marker.end, frame, camera_s, near_edge=False)

    rims = {
        "seal": (seal_points(seal, classes, frame, camera_s), seal),
        "marker": (near_points, None if hidden else near),
        "marker end": (end_points, marker.end),
        "far end": (far_points(far, classes, frame, camera_s, layout), far),
    }
    unrefined = {name: seen for name, (seen, _) in rims.items()}
    points = unrefined
    if refiner is not None:
        # A close look was taught to tell bare shaft from what ends it: between a marker and a far end that it touches
        # there is none.
        bare = {
            name: rim for name, rim in rims.items() if not (touching and name in ("marker end", "far end"))
        }
        points = {**unrefined, **_refined(bare, refiner, frame, camera_s, marker_width_mm)}
    return Choice(
        seal=points["seal"],
        marker=points["marker"],
        marker_end=points["marker end"],
        far=points["far end"],
        unrefined=tuple(seen for seen in unrefined.values() if seen is not None),
        shares=shares,
        touching=touching,
        near_hidden=hidden is not None,
        notes=tuple(notes),
        remarks=(hidden.remark,) if hidden else (),
    )


def _refined(
    rims: dict[str, tuple[RimPoints | None, RimCandidate | None]],
    refiner: RimRefiner,
    frame: ReaderFrame,
    camera_s: float,
    marker_width_mm: float | None,
) -> dict[str, RimPoints]:
    """The rims that a close look shows, of a marker's edges both or none, where together they make no band."""
    named = {name: rim for name, one in rims.items() if (rim := refinement_candidate(*one, camera_s))}
    close = {
        name: rim
        for name, rim in zip(named, refiner.refine(list(named.values())), strict=True)
        if rim is not None
    }
    if {"marker", "marker end"} <= set(close):
        low, high = band_limits_mm(marker_width_mm)
        if not low <= close["marker end"].s_mm - close["marker"].s_mm <= high:
            del close["marker"], close["marker end"]
    first = {name: points for name, (points, _) in rims.items() if points is not None}
    return {name: refined_rim_points(first[name], named[name], rim, frame) for name, rim in close.items()}


def _ends_earlier(far: RimCandidate, ends: list[RimCandidate]) -> bool:
    """Whether other columns show the shaft end well before its far end."""
    return any(c.s_mm < far.s_mm - SECOND_END_MM and c.weight > SECOND_END_SHARE * far.weight for c in ends)


def _gaiter(classes: np.ndarray, far: RimCandidate, ends: list[RimCandidate], frame: ReaderFrame) -> bool:
    """Whether what follows the bare shaft is too long for a clamp or a foot, or lets the shaft out once more."""
    if any(far.s_mm + 10.0 < c.s_mm < far.s_mm + CLAMPS_APART_MM and c.share > 0.5 for c in ends):
        return True
    middle = np.abs(frame.u()) < 0.5
    follows = classes[Part.FAR_END][:, middle].mean(axis=1)[int(np.median(far.rows)) + 2 :] > 0.5
    length = len(follows) if follows.all() else int(np.argmin(follows))
    return length * READER_STEP_MM > LONGEST_CLAMP_MM


def _best(group: list[RimCandidate]) -> RimCandidate | None:
    if not group or group[0].clarity < END_CLARITY:
        return None
    # Few columns must be all the surer: a coil's shadow fills two or three.
    return group[0] if group[0].clarity >= FEW_CLARITY or group[0].share >= FEW_SHARE else None


def _share(c: RimCandidate | None) -> float:
    return c.share if c else 0.0
