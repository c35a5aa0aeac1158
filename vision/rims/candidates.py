"""Borders between the parts of the reader view, and the rims that they form."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, replace

import numpy as np

from vision.geometry.views import READER_STEP_MM
from vision.networks.classes import Part, PartMap
from vision.rims.bow import SAME_RIM_MM, arc_mm, arc_sd_mm, common_bow

# Columns in use: beyond 0.9 radii the surface turns away, and 0.1 px of silhouette is a millimetre along a rim.
USED_U = 0.9
# A run of one class shorter than this is speckle: no part in question is so short (rows of 0.25 mm).
MIN_RUN_ROWS = 3
# Rows on either side of a border over which its transition width is summed: 3 mm. Wider transitions count as 6 mm.
TRANSITION_ROWS = 12
# Half the length of a linear ramp, in transition widths; rows on either side of a border that clarity leaves out.
HALF_RAMP, CLEAR_FROM_ROW = 0.75, 2
# Share of the part after the border where neither part is seen: all beyond the border, none before it.
_SHARP_STEP = (np.arange(-TRANSITION_ROWS, TRANSITION_ROWS + 1) > 0).astype(np.float32)
# Sum of both parts' probabilities below which neither of them is seen.
MIN_BOTH_PARTS = 0.5
# Rows that belong to a band on the seal beyond its end: its blur.
BAND_BLUR_ROWS = 10
# Least distance between a lip and the true marker, rows: a closer band may be the marker itself, pushed onto the seal
# (6 mm).
MIN_LIP_DISTANCE_ROWS = 24
# Least share of the used columns that show a rim: two or three columns of a thin shaft between coils.
MIN_SHARE = 0.12
_ON_THE_SHAFT = {Part.SHAFT, Part.SEAL, Part.MARKER, Part.FAR_END}  # others border no rim


@dataclass(frozen=True)
class RimCandidate:
    """A rim on which several columns agree.

    Attributes
    ----------
    rows : ndarray of shape (n,)
        Fractional row of the border in each column that shows it.
    u : ndarray of shape (n,)
        Lateral position of those columns, radii.
    s_mm : float
        Approximate position along the axis (unrolled on the shaft).
    share : float
        Share of the used columns that show it.
    clarity : float
        Median of the class probabilities on either side of the border, 0 to 1.
    transition_width_mm : float
        Width of the class transition along the shaft, ∫4p(1−p) ds with p the share of the part that follows, median of
        the columns. A border as sharp as the rows has 0.25 mm, a linear ramp two thirds of its length.
    arc_sd_mm : float
        Standard deviation along the shaft of the arc that the pose does not explain: so far is it from being one place.
    """

    rows: np.ndarray
    u: np.ndarray
    s_mm: float
    share: float
    clarity: float
    transition_width_mm: float
    arc_sd_mm: float = 0.0

    @property
    def weight(self) -> float:
        """Share times clarity."""
        return self.share * self.clarity


@dataclass(frozen=True)
class Border:
    """One border between two parts in one column."""

    row: float
    column: int
    before: Part
    after: Part
    clarity: float
    after_share: np.ndarray
    """Share of the part that follows, of both, in the rows around, shape (2 `TRANSITION_ROWS` + 1,)."""
    s_mm: float
    """Position along the axis, once unrolled on the shaft."""


@dataclass(frozen=True)
class Borders:
    """All borders of one reader view.

    Attributes
    ----------
    parts : PartMap
        The classes that they part.
    all : tuple of Border
    bow : float
        Slant that the arcs of all rims ask for beyond that of the pose.
    """

    parts: PartMap
    all: tuple[Border, ...]
    bow: float = 0.0
    _grouped: dict[object, list[RimCandidate]] = field(default_factory=dict, repr=False, compare=False)

    def rims(self, before: tuple[Part, ...], after: tuple[Part, ...]) -> list[RimCandidate]:
        """Group borders of one kind into rims, the best supported first.

        Parameters
        ----------
        before, after : tuple of Part
            Parts on the side of the seal and of the far end.
        """
        if (kinds := (before, after)) not in self._grouped:
            self._grouped[kinds] = self._group(*kinds)
        return list(self._grouped[kinds])

    def _group(self, before: tuple[Part, ...], after: tuple[Part, ...]) -> list[RimCandidate]:
        lateral = self.parts.frame.u()
        left = [b for b in self.all if b.before in before and b.after in after]
        used = int(np.sum(np.abs(lateral) < USED_U))
        bow_sd_mm = arc_sd_mm(self.bow, self.parts.frame.cylinder.radius_mm)
        out: list[RimCandidate] = []
        while left:
            u = lateral[[b.column for b in left]]
            rows, s = np.array([b.row for b in left]), np.array([b.s_mm for b in left])
            within = np.abs(s[:, None] - s[None, :]) <= SAME_RIM_MM
            seed = int(np.argmax(within.sum(axis=1)))
            group = np.flatnonzero(within[seed])
            share = len({left[k].column for k in group}) / used
            if share >= MIN_SHARE:
                clarity = float(np.median([left[k].clarity for k in group]))
                p = np.median([left[k].after_share for k in group], axis=0)
                width = float(np.sum(4 * p * (1 - p))) * READER_STEP_MM * self.parts.width_factor
                s_mm = float(np.median(s[group]))
                out.append(RimCandidate(rows[group], u[group], s_mm, share, clarity, width, bow_sd_mm))
            keep = set(range(len(left))) - set(group.tolist())
            left = [left[k] for k in sorted(keep)]
        return sorted(out, key=lambda c: -c.weight)


def find_borders(parts: PartMap) -> Borders:
    """Find all borders between shaft, seal, marker and far end along the used columns.

    Parameters
    ----------
    parts : PartMap
    """
    frame, p = parts.frame, parts.probabilities
    pairs = [
        (column, run, following)
        for column in np.flatnonzero(np.abs(frame.u()) < USED_U).tolist()
        for run, following in itertools.pairwise(_runs(parts.likeliest[:, column]))
        if following[0] - run[1] <= 2 and run[2] != following[2] and {run[2], following[2]} <= _ON_THE_SHAFT
    ]
    if not pairs:
        return Borders(parts, ())
    # All borders at once: one by one they took three times as long.
    columns = np.array([column for column, _, _ in pairs])
    between = np.array([(run[1], following[0]) for _, run, following in pairs])
    kinds = np.array([(run[2], following[2]) for _, run, following in pairs])
    rows = _crossings(p, columns, between, kinds)
    kept = np.flatnonzero(np.isfinite(rows))
    if len(kept) == 0:
        return Borders(parts, ())
    rows, columns, kinds = rows[kept], columns[kept], kinds[kept]
    shares = _after_shares(p, columns, kinds, np.rint(rows).astype(int))
    widths = np.sum(4 * shares * (1 - shares), axis=1)
    clarity = [
        _clarity(p[:, :, pairs[k][0]], *pairs[k][1:], float(width))
        for k, width in zip(kept, widths, strict=True)
    ]
    u = frame.u()[columns]
    s, _ = frame.cylinder.unroll(frame.points_cam(rows, u))
    named = [(Part(before), Part(after)) for before, after in kinds.tolist()]
    bow = common_bow(named, s, u, frame.cylinder.radius_mm)
    s = s - arc_mm(bow, u, frame.cylinder.radius_mm)
    all_of_them = tuple(
        Border(row, column, before, after, clear, share, s_mm)
        for row, column, (before, after), clear, share, s_mm in zip(
            rows.tolist(), columns.tolist(), named, clarity, shares, s.tolist(), strict=True
        )
    )
    return Borders(parts, all_of_them, bow)


def without_false_marker_on_lip(parts: PartMap, far_from_row: float) -> PartMap:
    """Reassign a band that follows the seal without bare shaft between to the seal.

    There is one marker on a shaft. Where it is seen clearly elsewhere, a band right on the seal is the wiper's lip.

    Parameters
    ----------
    parts : PartMap
    far_from_row : float
        Row of the marker's seal-side edge; bands that reach it stay as they are.

    Returns
    -------
    PartMap
        The same object where there is no such band.
    """
    changed: np.ndarray | None = None
    for column in np.flatnonzero(np.abs(parts.frame.u()) < USED_U):
        runs = _runs(parts.likeliest[:, column])
        seals = [k for k, r in enumerate(runs) if r[2] == Part.SEAL]
        if not seals:
            continue
        for start, end, part in runs[seals[0] + 1 :]:
            if part == Part.SEAL:
                continue
            if part not in (Part.MARKER, Part.LOCK) or end > far_from_row - MIN_LIP_DISTANCE_ROWS:
                break
            if changed is None:
                changed = parts.probabilities.copy()
            rows = slice(start - 2, end + BAND_BLUR_ROWS)
            for band in (Part.MARKER, Part.LOCK):
                changed[Part.SEAL, rows, column] += changed[band, rows, column]
                changed[band, rows, column] = 0.0
    return parts if changed is None else replace(parts, probabilities=changed)


_Run = tuple[int, int, int]
"""First row, last row and class of a run of rows."""


def _runs(column: np.ndarray) -> list[_Run]:
    """Split a column of classes into runs that are long enough; speckle between runs is dropped."""
    cuts = np.flatnonzero(np.diff(column)) + 1
    starts, ends = np.concatenate([[0], cuts]), np.concatenate([cuts, [len(column)]]) - 1
    merged: list[_Run] = []
    for a, b in zip(starts, ends, strict=True):
        if b - a + 1 < MIN_RUN_ROWS:
            continue
        if merged and merged[-1][2] == column[a] and a - merged[-1][1] <= MIN_RUN_ROWS:
            merged[-1] = (merged[-1][0], int(b), int(column[a]))
        else:
            merged.append((int(a), int(b), int(column[a])))
    return merged


def _crossings(p: np.ndarray, columns: np.ndarray, between: np.ndarray, kinds: np.ndarray) -> np.ndarray:
    """Fractional rows at which two runs' classes are equally likely; NaN where they never are.

    Parameters
    ----------
    p : ndarray of shape (7, rows, columns)
    columns : ndarray of int, shape (n,)
    between, kinds : ndarray of int, shape (n, 2)
        Last row of the first run and first row of the second; their classes.
    """
    end, start = between[:, :1], between[:, 1:]
    rows = end - 3 + np.arange(9)
    inside = (rows >= 0) & (rows < np.minimum(start + 4, p.shape[1]))
    at = np.clip(rows, 0, p.shape[1] - 1)
    seen = np.log(p[kinds[:, :, None], at[:, None], columns[:, None, None]] + np.float32(1e-6))
    d = seen[:, 1] - seen[:, 0]
    crossing = inside[:, :-1] & inside[:, 1:] & (d[:, :-1] < 0) & (d[:, 1:] >= 0)
    off = np.where(crossing, np.abs(rows[:, :-1] - 0.5 * (end + start)), np.inf)
    each, k = np.arange(len(columns)), np.argmin(off, axis=1)
    here, next_one = d[each, k], d[each, k + 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        crossed = rows[each, k] - here / (next_one - here)
    return np.where(crossing.any(axis=1), crossed, np.nan)


def _clarity(p: np.ndarray, run: _Run, following: _Run, transition_rows: float) -> float:
    """Mean probability of the right class on the worse side of a border.

    Over the rows that show the parts: of a bumper between coils there may be no more than a few. But a band is 2 mm
    wide at the least; a sliver of one before a coil may be the coil's shadow. Where the transition is wide, over rows
    beyond it: that a network does not know where a part ends is what sigma is for; which part it is may be clear.
    """
    (first, end, before), (start, last, after) = run, following
    beyond = max(round(HALF_RAMP * transition_rows) - CLEAR_FROM_ROW, 0)
    back, on = beyond, beyond
    if before == Part.MARKER:
        from_row, back = end - 5, 0
    else:
        back = min(back, max(end - 5 - first, 0))
        from_row = max(end - 5 - back, first)
    if after == Part.MARKER:
        to_row, on = start + 6, 0
    else:
        on = min(on, max(last - start - 5, 0))
        to_row = min(start + 6 + on, last + 1)
    seen_before = p[before, max(from_row, 0) : max(end - 1 - back, first + 1)]
    seen_after = p[after, min(start + 2 + on, last) : to_row]
    return min(float(seen_before.sum()) / len(seen_before), float(seen_after.sum()) / len(seen_after))


def _after_shares(p: np.ndarray, columns: np.ndarray, kinds: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Share of the part after a border, of both parts, in the rows around it, shape (n, 2 `TRANSITION_ROWS` + 1).

    Where a third one (a coil) is seen, the transition between these two is sharp.
    """
    at = np.clip(rows[:, None] + np.arange(-TRANSITION_ROWS, TRANSITION_ROWS + 1), 0, p.shape[1] - 1)
    seen = p[kinds[:, :, None], at[:, None], columns[:, None, None]]
    both = seen[:, 0] + seen[:, 1]
    return np.where(both < MIN_BOTH_PARTS, _SHARP_STEP, seen[:, 1] / np.maximum(both, 1e-6))
