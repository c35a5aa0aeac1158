"""Where on the photo a reading failed: a place and a few words for each reason.

Frame: canvas px of the photo's part, x right, y down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vision.names import RimName
from vision.reading import Note
from vision.reasons import Reason

# Shares of the shaft's length from its seal end: there, or at the middle.
_AT = {
    Reason.SEAL_HIDDEN: 0.0,
    Reason.FAR_END_HIDDEN: 1.0,
    Reason.NO_MARKER: 0.5,
    Reason.MARKER_UNCLEAR: 0.5,
    Reason.SHAFT_EDGES_UNCLEAR: 0.5,
    Reason.SCALE_CONFLICT: 0.5,
    Reason.BADLY_LIT: 0.5,
    Reason.STATED_CONFLICT: 0.5,
}
_ON_CARD = frozenset((
    *(Reason.CARD_HIDDEN, Reason.CARD_NOT_FLAT, Reason.CARD_BACKWARDS),
    *(Reason.SEVERAL_CARDS, Reason.BLURRED, Reason.TOO_SMALL, Reason.FOCAL_LENGTH_DOUBTFUL),
    Reason.STRETCHED,
))  # fmt: skip
# Where no shaft was placed, what is wrong with it is beside the card, too.
_BESIDE_CARD = frozenset((Reason.NO_SHAFT, Reason.TWO_SHAFTS, Reason.SCALE_CONFLICT))
_RIM_OF = {
    Reason.SEAL_HIDDEN: RimName.SEAL,
    Reason.FAR_END_HIDDEN: RimName.FAR_END,
    Reason.MARKER_UNCLEAR: RimName.MARKER_NEAR,
}


@dataclass(frozen=True)
class FailedPlace:
    """A place that could not be read.

    Attributes
    ----------
    centre_px : ndarray of shape (2,)
    radius_px : float
    words : str
    """

    centre_px: np.ndarray
    radius_px: float
    words: str


def failed_places(
    notes: Sequence[Note], edges_px: Sequence[np.ndarray], card_px: np.ndarray | None, far_end: str
) -> list[FailedPlace]:
    """Find the places of the reasons that have one, each once.

    Parameters
    ----------
    notes : sequence of Note
    edges_px : sequence of two ndarrays of shape (n, 2), or empty
        Both silhouettes from the seal's end to the far end.
    card_px : ndarray of shape (4, 2) or None
    far_end : str
        Name of the far end.
    """
    words = {
        Reason.SEAL_HIDDEN: "seal not seen",
        Reason.FAR_END_HIDDEN: f"{far_end} not seen",
        Reason.NO_MARKER: "no marker seen",
        Reason.MARKER_UNCLEAR: "marker unclear",
        Reason.SHAFT_EDGES_UNCLEAR: "edges unclear",
        Reason.SCALE_CONFLICT: "diameter and card disagree",
        Reason.BADLY_LIT: "too dark or too bright",
        Reason.STATED_CONFLICT: "not as stated",
        Reason.SEVERAL_CARDS: "one of several cards",
        Reason.BLURRED: "blurred",
        Reason.TOO_SMALL: "too small",
        Reason.FOCAL_LENGTH_DOUBTFUL: "card and focal length disagree",
        Reason.STRETCHED: "shape changed",
        Reason.CARD_HIDDEN: "card covered",
        Reason.CARD_NOT_FLAT: "card not flat",
        Reason.CARD_BACKWARDS: "card the wrong way round",
        Reason.NO_SHAFT: "no shaft seen beside it",
        Reason.TWO_SHAFTS: "which shaft?",
    }
    found = []
    outlines_of: dict[Reason, tuple[np.ndarray, ...]] = {}
    for note in notes:
        outlines_of.setdefault(note.reason, note.outlines_px)
    for reason, outlines in outlines_of.items():
        place = None
        if reason in _AT and len(edges_px) == 2:
            place = _on_shaft(_AT[reason], edges_px)
        elif reason in _ON_CARD and card_px is not None:
            place = _on_card(card_px)
        elif reason in _BESIDE_CARD and card_px is not None:
            centre, radius = _on_card(card_px)
            place = centre, 1.6 * radius
        places = [*([] if place is None else [place]), *map(_on_card, outlines)]
        found += [FailedPlace(*one, words[reason]) for one in places]
    return found


def _on_shaft(share: float, edges_px: Sequence[np.ndarray]) -> tuple[np.ndarray, float]:
    one, other = (_at_share(edge, share) for edge in edges_px)
    return (one + other) / 2, max(8.0, 0.8 * float(np.linalg.norm(one - other)))


def _at_share(edge_px: np.ndarray, share: float) -> np.ndarray:
    rows = np.linspace(0.0, 1.0, len(edge_px))
    return np.array([np.interp(share, rows, edge_px[:, axis]) for axis in (0, 1)])


def _on_card(card_px: np.ndarray) -> tuple[np.ndarray, float]:
    sides = np.linalg.norm(np.diff(card_px[:3], axis=0), axis=1)
    return card_px.mean(axis=0), 0.5 * float(sides.min())
