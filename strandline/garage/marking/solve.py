"""From marks to lengths, and to what a page draws between them; a few hundredths of a second."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from strandline.garage.marking.sight import Sight
from strandline.read.hand_marks import Line, StatedMarks
from strandline.read.inputs import ReadInputs, hand_marks, request_for

if TYPE_CHECKING:
    import numpy as np

    from vision.adjustment.solve import Solution
    from vision.reading import Reading

# Points of the line on which marks slide, and how far it goes on beyond the marks, mm.
RAIL_POINTS, RAIL_BEYOND_MM = 61, 80.0
CURVE_POINTS = 13
RIMS = ("seal", "marker", "marker_end", "far")


@dataclass(frozen=True)
class Placed:
    """Marks on a page.

    Attributes
    ----------
    marks : StatedMarks
        All that the page shows, upright px.
    set_by_hand : frozenset of str
        Names of those that the hand set: rims, and "edges". Others are the program's, where it saw them, or wait to be
        set.
    left_out : frozenset of str
        Rims that the hand took away.
    """

    marks: StatedMarks
    set_by_hand: frozenset[str] = frozenset()
    left_out: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Measured:
    """What marks measure, and the lines between them, upright px.

    Attributes
    ----------
    reading : Reading
    rail : tuple of points
        On the shaft's near side along its axis, from the seal's side on; empty where no shaft is placed.
    rail_mm : tuple of float
        Their places along the axis.
    sides : tuple of lines
        The shaft's silhouettes.
    curves : dict of str to line
        Round the shaft at each mark.
    waits_for : tuple of str
        What has still to be set.
    """

    reading: Reading
    rail: Line = ()
    rail_mm: tuple[float, ...] = ()
    sides: tuple[Line, ...] = ()
    curves: dict[str, Line] | None = None
    waits_for: tuple[str, ...] = ()


def measure(sight: Sight, inputs: ReadInputs, placed: Placed) -> Measured:
    """Measure what was marked.

    Parameters
    ----------
    sight : Sight
        With a card.
    inputs : ReadInputs
    placed : Placed
    """
    from calibration.upright import turned_size
    from vision.read_by_hand import measured, shaft_by_hand
    from vision.reading import Joint, Reading, Status
    from vision.turned import marks_turned, reading_turned

    assert sight.card is not None
    request = request_for(inputs, sight.focal, sight.quarter_turns)
    size, turns = sight.stored_size, sight.quarter_turns
    by_hand = _of_hand(placed, sight)
    seen = sight.joint
    if seen is not None:
        kept = [rim for rim in seen.observations.rims if _field(rim.name) not in placed.left_out]
        seen = Joint(seen.solution, replace(seen.observations, rims=tuple(kept)))
    marks = marks_turned(hand_marks(by_hand), -turns, turned_size(size, turns))
    shaft = shaft_by_hand(size, request, marks, sight.card, seen)
    if isinstance(shaft, Reading):
        return Measured(shaft)
    waits = _waits_for(placed, sight)
    found = measured(shaft, request)
    solution = found.solution or shaft.fit.solution
    reading = reading_turned(found.reading, turns, size)
    if "edges" in waits:
        reading = replace(reading, status=Status.REFUSED, exposed=None, marker=None, remaining=None)
    return _with_lines(Measured(reading, waits_for=waits), placed.marks, solution, sight)


def _of_hand(placed: Placed, sight: Sight) -> StatedMarks:
    """Choose the marks that count as the hand's: those it set, and lines that place the shaft until it has."""
    seal, near, end, far = (
        getattr(placed.marks, name) if name in placed.set_by_hand else () for name in RIMS
    )
    use_lines = "edges" in placed.set_by_hand or sight.joint is None
    lines = placed.marks.edges if use_lines else ()
    return StatedMarks(seal, near, end, far, lines, placed.marks.sd_px)


def _waits_for(placed: Placed, sight: Sight) -> tuple[str, ...]:
    """Name what neither the program saw nor the hand has set."""
    seen = (
        set()
        if sight.joint is None
        else {_field(rim.name) for rim in sight.joint.observations.rims} | {"edges"}
    )
    wanted = ("edges", "seal", "marker", "far")
    return tuple(
        name for name in wanted if name not in placed.set_by_hand | seen and name not in placed.left_out
    )


def _field(name: str) -> str:
    """Name the field of a rim in `StatedMarks`."""
    return {"marker end": "marker_end", "far end": "far"}.get(str(name), str(name))


def _with_lines(measured: Measured, marks: StatedMarks, solution: Solution, sight: Sight) -> Measured:
    import numpy as np

    from calibration.upright import turned_px, turned_size

    size, turns = sight.stored_size, sight.quarter_turns
    upright_size = turned_size(size, turns)
    cylinder, camera = solution.cylinder, solution.camera

    def line(points_cam: np.ndarray) -> Line:
        px = turned_px(camera.project(points_cam), turns, size)
        return tuple((round(float(x), 2), round(float(y), 2)) for x, y in px)

    def place(points: Line) -> float:
        px = turned_px(np.array(points), -turns, upright_size)
        s, _ = cylinder.unroll(camera.rays(px))
        return float(np.nanmean(s)) if np.any(np.isfinite(s)) else float("nan")

    at = {name: place(getattr(marks, name)) for name in RIMS if getattr(marks, name)}
    at = {name: s for name, s in at.items() if np.isfinite(s)}
    known = [
        *at.values(),
        *(place((point,)) for edge in marks.edges for point in _towards_middle(edge, marks.edges)),
    ]
    known = [s for s in known if np.isfinite(s)] or [0.0]
    s = np.linspace(min(known) - RAIL_BEYOND_MM, max(known) + RAIL_BEYOND_MM, RAIL_POINTS)
    limb = cylinder.silhouette_phi()
    phi = np.linspace(-1, 1, CURVE_POINTS) * limb
    return replace(
        measured,
        rail=line(cylinder.surface(s, np.zeros(RAIL_POINTS))),
        rail_mm=tuple(round(float(one), 3) for one in s),
        sides=tuple(line(cylinder.surface(s, np.full(RAIL_POINTS, side * limb))) for side in (1, -1)),
        curves={name: line(cylinder.surface(np.full(CURVE_POINTS, one), phi)) for name, one in at.items()},
    )


def _towards_middle(edge: Line, edges: tuple[Line, ...]) -> Any:
    """Points of an edge moved to the middle between both: lines of sight along the edge itself miss the shaft."""
    if len(edges) < 2:
        return edge
    other = edges[0] if edge is edges[1] else edges[1]
    nearer = [min(other, key=lambda b: (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) for a in edge]
    return tuple(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in zip(edge, nearer, strict=True))
