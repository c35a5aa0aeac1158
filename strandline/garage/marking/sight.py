"""What the program saw in a photo, as far as a hand goes on from it: worked out once a photo, in a worker."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from strandline.read.hand_marks import Line, Point, StatedMarks
from strandline.read.inputs import ReadInputs, request_for

if TYPE_CHECKING:
    from calibration.find_card import CardSighting
    from calibration.focal import FocalPrior
    from calibration.pose import CardPose
    from vision.adjustment.solve import Solution
    from vision.geometry.cylinder import Cylinder
    from vision.reading import Joint
    from vision.request import Request

# Where the lines along the edges begin and end, as shares of the stretch between the outermost rims.
LINE_FROM, LINE_TO = 0.12, 0.88
# Gap between the card's margin and a shaft beside it, mm, where nothing else is known: as people lay it (card.md).
GAP_MM = 7.0
# The stretch of the card along which lines are first offered, mm from its seal end.
CARD_FROM_MM, CARD_TO_MM = 30.0, 140.0


@dataclass(frozen=True)
class Sight:
    """A photo as marks are set on it.

    Attributes
    ----------
    stored_size : tuple of two int
        Width and height of the stored picture, px.
    quarter_turns : int
        Clockwise, from the stored to the upright picture.
    focal : FocalPrior
    card : CardSighting or None
        None where it was not found.
    joint : Joint or None
        Of the program's reading, on the stored picture; None where it has no lengths.
    offered : StatedMarks
        Marks to begin with, upright px: the program's, and lines beside the card where it found no shaft.
    found_edges : bool
        The lines are edges that the program found, whether it trusted them or not.
    what, advice : str
        Why no mark can be measured; empty where it can.
    """

    stored_size: tuple[int, int]
    quarter_turns: int
    focal: FocalPrior
    card: CardSighting | None = None
    joint: Joint | None = None
    offered: StatedMarks = field(default_factory=StatedMarks)
    found_edges: bool = False
    what: str = ""
    advice: str = ""


@dataclass(frozen=True)
class SightJob:
    """Have a worker look at a photo that was kept.

    Attributes
    ----------
    kept : Path
    inputs : ReadInputs
    """

    kept: Path
    inputs: ReadInputs

    def run(self) -> Sight:
        """Do it."""
        from dataclasses import replace

        from calibration.focal import focal_px_prior
        from calibration.photo import load_photo
        from vision.read import read_traced
        from vision.reading import Reading
        from vision.request import detect_card

        photo = load_photo(self.kept)
        focal = focal_px_prior(photo, self.inputs.focal_35mm)
        blank = Sight(photo.stored.shape[1::-1], photo.quarter_turns, focal)
        card = detect_card(photo.stored)
        if isinstance(card, Reading):
            note = card.notes[0]
            return replace(
                blank, what=f"{note.detail[0].upper()}{note.detail[1:]}.", advice=note.reason.advice
            )
        request = request_for(self.inputs, focal, photo.quarter_turns)
        reading, trace = read_traced(photo.stored, request, card)
        solution = trace.final or (None if trace.seen is None else trace.seen.fit.solution)
        seen = replace(blank, card=card, joint=reading.joint, found_edges=solution is not None)
        return replace(seen, offered=_offered(seen, request, solution))


def _offered(sight: Sight, request: Request, solution: Solution | None) -> StatedMarks:
    """Offer what was found, and lines beside the card where no shaft was."""
    if solution is None:
        return StatedMarks(edges=_beside_card(sight, request))
    from vision.names import RimName

    rims = solution.rim_s_mm
    at = {name: (_upright(sight, _near_side(solution, s))[0],) for name, s in rims.items()}
    return StatedMarks(
        at.get(RimName.SEAL, ()),
        at.get(RimName.MARKER_NEAR, ()),
        at.get(RimName.MARKER_FAR, ()),
        at.get(RimName.FAR_END, ()),
        _edges(sight, solution, _stretch(solution)),
    )


def _near_side(solution: Solution, s_mm: float) -> Any:
    import numpy as np

    return solution.camera.project(solution.cylinder.surface(np.array([s_mm]), np.zeros(1)))


def _stretch(solution: Solution) -> tuple[float, float]:
    """Where lines begin and end along the axis, mm: between the rims, or along the card where none were found."""
    s = list(solution.rim_s_mm.values())
    low, high = (min(s), max(s)) if len(s) > 1 else (-50.0, 50.0)
    return low + LINE_FROM * (high - low), low + LINE_TO * (high - low)


def _edges(sight: Sight, solution: Solution, stretch_mm: tuple[float, float]) -> tuple[Line, ...]:
    return tuple(
        _upright(sight, solution.camera.project(_limb(solution.cylinder, side, stretch_mm)))
        for side in (1, -1)
    )


def _limb(cylinder: Cylinder, side: int, stretch_mm: tuple[float, float]) -> Any:
    import numpy as np

    return cylinder.surface(np.array(stretch_mm), np.full(2, side * cylinder.silhouette_phi()))


def _beside_card(sight: Sight, request: Request) -> tuple[Line, ...]:
    """Lines a shaft apart beside the card, on the side on which the picture has more room."""
    import numpy as np

    from calibration import card as the_card
    from calibration.pose import card_pose

    assert sight.card is not None
    declared = request.declared
    camera = request.camera(*sight.stored_size)
    pose = card_pose(sight.card, camera, declared.print_along, declared.print_across)
    radius, away = declared.diameter_mm / 2, the_card.BOARD_WIDTH_MM / 2 + 5.0 + GAP_MM

    def lines(side: int) -> tuple[np.ndarray, ...]:
        middle = the_card.BOARD_WIDTH_MM / 2 + side * (away + radius)
        return tuple(_on_card(camera, pose, x) for x in (middle - radius, middle + radius))

    width, height = sight.stored_size
    room = {side: _room(np.concatenate(lines(side)), width, height) for side in (-1, 1)}
    best = max(room, key=lambda side: room[side])
    return tuple(_upright(sight, line) for line in lines(best))


def _on_card(camera: Any, pose: CardPose, x_mm: float) -> Any:
    import numpy as np

    return camera.project(pose.to_cam(np.array([[x_mm, CARD_FROM_MM, 0.0], [x_mm, CARD_TO_MM, 0.0]])))


def _room(points_px: Any, width: int, height: int) -> float:
    """How far inside the picture the outermost of some points lies, px; negative outside."""
    x, y = points_px.T
    return float(min(x.min(), y.min(), (width - x).min(), (height - y).min()))


def _upright(sight: Sight, points_px: Any) -> tuple[Point, ...]:
    from calibration.upright import turned_px

    turned = turned_px(points_px, sight.quarter_turns, sight.stored_size)
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in turned)
