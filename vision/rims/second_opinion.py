"""A second part segmentation, trained on other scenes, independent of the first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from vision.geometry.sampling import median_colour
from vision.geometry.views import READER_STEP_MM, ReaderFrame, reader_positions, rows_covering, sampled_rows
from vision.networks.classes import Part, PartMap, over_view
from vision.networks.run import (
    FIRST_PARTS,
    OTHER_PARTS,
    ROWS_MULTIPLE,
    other_part_probabilities,
    part_probabilities,
)
from vision.networks.transitions import find_transitions
from vision.rims.candidates import RimCandidate, without_false_marker_on_lip
from vision.rims.orientation import Ends, against_arrow, laid_right, looks_of_ends, named_by_the_arrow

# Rows to either side of the rim that the network is shown (32 mm): enough for a clamp and some of the shaft, and a
# quarter of the time of the whole view.
SHOWN_ROWS = 128
# Rows to either side in which it may see the rim elsewhere (6 mm): twice as far as clamps beside polished tubes have
# misled any network. Of those, rows whose shares enter the position.
SEARCH_ROWS, NEAR_ROWS = 24, 12
# Least mean share of the right class on either side of the rim, and least share of the columns: less is no rim.
LEAST_SHARE, LEAST_COLUMNS = 0.5, 0.5
# Share of the transition width of four answers together that counts: disagreement widens it, their mean errs by less.
# Of 14 vague far ends of photographs, errors over u95 were 0.36 (root mean square) without it, where 0.5 is right.
WIDTH_FACTOR = 0.85
# Least mean probability of a seal at the end that the card's arrow points away from: both ends are then looked at.
CLEAR_SEAL = 0.7
# What lies farther from the axis than this, radii, is beside the shaft and its rims' blur.
BESIDE_U = 1.15
# Margin about the card's outline, share of its size: its printed edge's blur.
CARD_MARGIN = 0.02


@dataclass(frozen=True)
class SeenEnd:
    """Where a network sees the shaft end.

    Attributes
    ----------
    s_mm : float
        Position along the axis.
    transition_width_mm : float
        Width of the class transition, as in `vision.rims.candidates.RimCandidate`.
    """

    s_mm: float
    transition_width_mm: float


@dataclass(frozen=True)
class SecondOpinion:
    """Looks at rims with the other part segmentation.

    Attributes
    ----------
    view : ndarray of uint8, shape (rows, columns, 3)
        The view along the shaft.
    frame : ReaderFrame
        Its position in space.
    diameter_mm : float
    card_px : ndarray of shape (4, 2), optional
        The card's outline in the photo.
    network : str
        One of `vision.networks.run.OTHER_PARTS`.
    first : str
        One of `vision.networks.run.FIRST_PARTS`: whose answers to the mirror image it is combined with.
    """

    view: np.ndarray
    frame: ReaderFrame
    diameter_mm: float
    card_px: np.ndarray | None = None
    network: str = OTHER_PARTS[0]
    first: str = FIRST_PARTS[0]
    _shown: dict[tuple[int, int], np.ndarray] = field(default_factory=dict, repr=False, compare=False)
    _by_first: dict[tuple[int, int], np.ndarray] = field(default_factory=dict, repr=False, compare=False)
    _looks: dict[str, Ends] = field(default_factory=dict, repr=False, compare=False)

    def by_network(self, network: str) -> SecondOpinion:
        """Look at the same view with another of `vision.networks.run.OTHER_PARTS`."""
        return replace(self, network=network, _shown={})

    def beside(self, first: str) -> SecondOpinion:
        """Stand beside another of `vision.networks.run.FIRST_PARTS`."""
        return replace(self, first=first, _by_first={})

    @cached_property
    def alone(self) -> np.ndarray:
        """Classes of the whole view by this network alone: probabilities of shape (7, rows, columns)."""
        rows = self._rows()
        mirrored = self._asked(self._mirrored(rows))[:, :, ::-1]
        return over_view(0.5 * (self._classified(rows) + mirrored), rows, len(self.view))

    def laid_right(self, probabilities: np.ndarray, standing: float = 1.0) -> float:
        """Probability that the card's arrow points to the seal, by the looks of both ends to the networks.

        Whichever network this is, the second is asked, and where its looks speak against the arrow the third as well.

        Parameters
        ----------
        probabilities : ndarray of shape (7, rows, columns)
            Of the network that knows the side of the card.
        standing : float
            Odds for it as the photo stands, see `vision.rims.standing`.
        """
        sided = looks_of_ends(PartMap(probabilities, self.frame))
        sideless = self._looks_without_card(OTHER_PARTS[0])
        further = self._looks_without_card(OTHER_PARTS[1]) if self.speaks_against_arrow() else None
        return laid_right(sided, sideless, standing, further, self.first)

    def sees_any_seal(self) -> bool:
        """Whether either network that does not know the side takes the arrow's end for a seal rather than a far end."""
        looks = (self._looks_without_card(network).towards for network in OTHER_PARTS)
        return any(one is None or one.seal > one.far_end for one in looks)

    def speaks_against_arrow(self) -> bool:
        """Whether the second network's looks of both ends, without the card, speak against its arrow."""
        return against_arrow(self._looks_without_card(OTHER_PARTS[0]))

    def _looks_without_card(self, network: str) -> Ends:
        """Ask a network for the looks of both ends, in the view in which the card is painted over."""
        if network not in self._looks:
            rows = self._rows()
            found = self.by_network(network)._classified_without_card(rows)
            self._looks[network] = looks_of_ends(PartMap(over_view(found, rows, len(self.view)), self.frame))
        return self._looks[network]

    def combined_with(self, first: PartMap, marker_row: float | None = None) -> PartMap:
        """Combine the first network's classes with this one's, and both with their answers to the mirror image.

        Of each network the mean of both answers, of these the geometric mean: what either excludes stays excluded.
        Each is first made to call what ends the shaft as the card's arrow says: of a gland that one calls a seal and
        the other a clamp nothing would remain.

        Parameters
        ----------
        first : PartMap
        marker_row : float, optional
            Where both see the marker: a band that either sees on the seal's lip is then first made part of the seal.
        """
        rows = self._rows()
        here = (slice(None), slice(*rows))
        one = first.probabilities.copy()
        one[here] = 0.5 * (one[here] + self._mirrored_by_first(rows))
        one, other = (named_by_the_arrow(PartMap(p, self.frame)) for p in (one, self.alone))
        if marker_row is not None:
            one, other = (
                without_false_marker_on_lip(PartMap(p, self.frame), marker_row).probabilities
                for p in (one, other)
            )
        out = one.copy()
        both = np.sqrt(one[here] * other[here])
        out[here] = both / np.maximum(both.sum(axis=0, keepdims=True), 1e-6)
        return PartMap(out, self.frame, WIDTH_FACTOR)

    def far_end(self, rim: RimCandidate) -> SeenEnd | None:
        """Find the far end near a rim.

        What ends the shaft may be taken for a seal as well as for a far end: only where it ends is asked for.

        Returns
        -------
        SeenEnd or None
            None where no end of the shaft is seen there.
        """
        seen = self._near(rim)
        shaft, ends = seen[Part.SHAFT], seen[Part.FAR_END] + seen[Part.SEAL]
        found = find_transitions(shaft, ends, NEAR_ROWS)
        before = np.arange(shaft.shape[1])[None, :] < found.split[:, None]
        clear = np.minimum(_mean_where(shaft, before), _mean_where(ends, ~before)) > LEAST_SHARE
        if clear.mean() < LEAST_COLUMNS:
            return None
        columns, starts = self._place(rim)
        s_mm, _ = self.frame.cylinder.unroll(
            self.frame.points_cam((starts + found.position - 0.5)[clear], self.frame.u()[columns][clear])
        )
        width_mm = READER_STEP_MM * float(np.median(found.width[clear]))
        return SeenEnd(float(np.median(s_mm)), width_mm)

    def sees_a_seal(self, rim: RimCandidate) -> bool:
        """Whether what ends the shaft is clearly a seal to this network, which knows nothing of the card's arrow."""
        seen = self._near(rim)[:, :, SEARCH_ROWS:]
        return bool(np.median(_mean_where(seen[Part.SEAL], np.ones(seen.shape[1:], bool))) > CLEAR_SEAL)

    def sees_a_far_end(self, rim: RimCandidate) -> bool:
        """Whether what the shaft comes out of is clearly a far end to this network."""
        seen = self._near(rim, self._classified_without_card)[:, :, :SEARCH_ROWS]
        return bool(np.median(_mean_where(seen[Part.FAR_END], np.ones(seen.shape[1:], bool))) > CLEAR_SEAL)

    def _rows(self) -> tuple[int, int]:
        """Rows of the view that were sampled."""
        return sampled_rows(self.view, ROWS_MULTIPLE)

    def _mirrored(self, rows: tuple[int, int]) -> np.ndarray:
        """Take some rows of the view, columns in the opposite order."""
        return np.ascontiguousarray(self.view[slice(*rows), ::-1])

    def _mirrored_by_first(self, rows: tuple[int, int]) -> np.ndarray:
        """Classes of some rows by the first network, from the mirror image: whichever network is the second."""
        if rows not in self._by_first:
            s_mm = np.asarray(self.frame.s_mm(np.arange(*rows)))
            found = part_probabilities(self._mirrored(rows), self.diameter_mm, s_mm, self.first)
            self._by_first[rows] = found[:, :, ::-1]
        return self._by_first[rows]

    def _asked(self, view: np.ndarray) -> np.ndarray:
        return other_part_probabilities(view, self.diameter_mm, self.network)

    def _classified(self, rows: tuple[int, int]) -> np.ndarray:
        """Classify some rows of the view."""
        if rows not in self._shown:
            self._shown[rows] = self._asked(self.view[slice(*rows)])
        return self._shown[rows]

    def _classified_without_card(self, rows: tuple[int, int]) -> np.ndarray:
        """Classify some rows of the view in which the card is painted over.

        Its squares at the view's edge show which way its arrow points, and in training that was where the seal is: on
        real photographs both networks follow them.
        """
        return self._asked(self._without_card[slice(*rows)])

    @cached_property
    def _without_card(self) -> np.ndarray:
        """The view with the card in the colour of what else lies beside the shaft."""
        if self.card_px is None:
            return self.view
        rows, u = self._rows(), self.frame.u()
        on_card = np.zeros(self.view.shape[:2], bool)
        on_card[slice(*rows)] = _inside(reader_positions(self.frame, rows), self.card_px)
        red, green, blue = np.moveaxis(self.view, 2, 0)
        beside = ~on_card & (np.abs(u) > BESIDE_U) & ((red | green | blue) > 0)
        if not on_card.any() or not beside.any():
            return self.view
        out = self.view.copy()
        out[on_card] = median_colour(self.view[beside])
        return out

    def _place(self, rim: RimCandidate) -> tuple[np.ndarray, np.ndarray]:
        """Columns that show a rim, and the row in each at which the rows about it begin."""
        columns = np.unique(np.argmin(np.abs(self.frame.u()[:, None] - rim.u[None, :]), axis=0))
        starts = np.interp(self.frame.u()[columns], *_sorted(rim.u, rim.rows)) - SEARCH_ROWS
        return columns, np.rint(starts).astype(int)

    def _near(
        self, rim: RimCandidate, classified: Callable[[tuple[int, int]], np.ndarray] | None = None
    ) -> np.ndarray:
        """Classify the rows about a rim: probabilities of shape (7, columns of the rim, 2 `SEARCH_ROWS`)."""
        row = float(np.median(rim.rows))
        rows = rows_covering((row - SHOWN_ROWS, row + SHOWN_ROWS), len(self.view), ROWS_MULTIPLE)
        p = (classified or self._classified)(rows)
        columns, starts = self._place(rim)
        at = starts[:, None] - rows[0] + np.arange(2 * SEARCH_ROWS)[None, :]
        return np.asarray(p[:, np.clip(at, 0, p.shape[1] - 1), columns[:, None]])


def _sorted(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    order = np.argsort(x)
    return x[order], y[order]


def _mean_where(values: np.ndarray, where: np.ndarray) -> np.ndarray:
    """Mean along the lines over the points chosen; 0 where there are none."""
    return np.asarray((values * where).sum(axis=1) / np.maximum(where.sum(axis=1), 1))


def _inside(points_px: np.ndarray, outline_px: np.ndarray) -> np.ndarray:
    """Whether points, shape (..., 2), lie in a convex outline, widened by `CARD_MARGIN`."""
    middle = outline_px.mean(axis=0)
    corners = middle + (1 + CARD_MARGIN) * (outline_px - middle)
    sides = np.roll(corners, -1, axis=0) - corners
    left = np.ones(points_px.shape[:-1], bool)
    right = left.copy()
    x, y = points_px[..., 0], points_px[..., 1]
    for (x0, y0), (dx, dy) in zip(corners, sides, strict=True):
        turn = dx * (y - y0) - dy * (x - x0)
        left &= turn > 0
        right &= turn < 0
    return left | right
