"""From what each point of the reader view shows to rims: seal, the marker's two edges, far end."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from vision.geometry.views import READER_STEP_MM, ReaderFrame
from vision.networks.classes import Part

# Columns in use: beyond 0.9 radii the surface turns away and 0.1 px of silhouette is a millimetre along a rim.
USED_U = 0.9
# A run of one class shorter than this is speckle: no part in question is so short (rows of 0.25 mm).
SHORTEST_ROWS = 3
# Rows on either side of a border in which the network's doubt is summed up: 3 mm. Doubtful ones reach farther, and are
# then doubted for 6 mm of it.
TRANSITION_ROWS = 12
# Share of the part that follows, where neither part is seen: all beyond the border, none before it.
_BEYOND = (np.arange(-TRANSITION_ROWS, TRANSITION_ROWS + 1) > 0).astype(np.float32)
# What follows a band on the seal, rows: its blurred end.
BEHIND_BAND_ROWS = 10
# Between a lip and the true marker, rows: closer bands may be the marker itself, pushed onto the seal (6 mm).
LIP_APART_ROWS = 24
# Columns that agree on one rim lie within this of each other once unrolled, mm: a tie's tilt of 2 degrees on
# a 45 mm tube is 0.8 mm either way.
SAME_RIM_MM = 1.2
# A rim needs at least this share of the used columns: two or three columns of a thin shaft between coils.
LEAST_SHARE = 0.12


@dataclass(frozen=True)
class RimCandidate:
    """One rim as the columns agree on it.

    Attributes
    ----------
    rows : ndarray of shape (n,)
        Fractional row of the border in each column that shows it.
    u : ndarray of shape (n,)
        Lateral place of those columns, radii.
    s_mm : float
        Rough position along the axis (unrolled on the shaft).
    share : float
        Share of the used columns that show it.
    clarity : float
        Median of the class probabilities on either side of the border, 0 to 1.
    transition_width_mm : float
        Length along the shaft over which the network is undecided between the two parts: the integral of 4 p (1 - p), p
        being the share of the part that follows, median of the columns. A border as sharp as rows are has 0.25 mm, one
        that rises evenly over a length two thirds of it.
    """

    rows: np.ndarray
    u: np.ndarray
    s_mm: float
    share: float
    clarity: float
    transition_width_mm: float

    @property
    def weight(self) -> float:
        """How well it is seen: share times clarity."""
        return self.share * self.clarity


# Borders with anything else are no rims.
_ON_THE_SHAFT = {Part.SHAFT, Part.SEAL, Part.MARKER, Part.FAR_END}


@dataclass(frozen=True)
class Border:
    """One border between two parts in one column."""

    row: float
    column: int
    before: Part
    after: Part
    clarity: float
    shares: np.ndarray
    """Of the part that follows, against both, in the rows around, shape (2 `TRANSITION_ROWS` + 1,)."""
    s_mm: float
    """Where it lies along the axis, once unrolled on the shaft."""


def most_likely(classes: np.ndarray) -> np.ndarray:
    """The likeliest class of each point, shape (rows, columns): argmax over the classes, in a seventh of its time."""
    best = np.zeros(classes.shape[1:], np.uint8)
    highest = classes[0].copy()
    for k in range(1, len(classes)):
        higher = classes[k] > highest
        best[higher] = k
        np.copyto(highest, classes[k], where=higher)
    return best


def borders(classes: np.ndarray, frame: ReaderFrame, best: np.ndarray | None = None) -> list[Border]:
    """All borders between shaft, seal, marker and far end along the used columns.

    Parameters
    ----------
    classes : ndarray of shape (7, rows, columns)
        Class probabilities of the reader view.
    frame : ReaderFrame
    best : ndarray of shape (rows, columns), optional
        What `most_likely` says of them, where that is known.
    """
    found: list[tuple[float, int, Part, Part, float, np.ndarray]] = []
    best = most_likely(classes) if best is None else best
    for column in np.flatnonzero(np.abs(frame.u()) < USED_U):
        runs = _runs(best[:, column])
        for (first, end, before), (start, last, after) in itertools.pairwise(runs):
            if start - end > 2 or before == after or not {before, after} <= _ON_THE_SHAFT:
                continue
            p = classes[:, :, column]
            low, high = max(end - 3, 0), min(start + 4, p.shape[1])
            d = np.log(p[after, low:high] + 1e-6) - np.log(p[before, low:high] + 1e-6)
            crossing = np.flatnonzero((d[:-1] < 0) & (d[1:] >= 0))
            if len(crossing) == 0:
                continue
            k = crossing[np.argmin(np.abs(crossing + low - 0.5 * (end + start)))]
            row = low + k - d[k] / (d[k + 1] - d[k])
            # Of the rows that show the parts: of a bumper between coils there may be no more than a few. But a band is
            # 2 mm wide at the least; a sliver of one before a coil may be the coil's shadow.
            from_row = end - 5 if before == Part.MARKER else max(end - 5, first)
            to_row = start + 6 if after == Part.MARKER else min(start + 6, last + 1)
            seen_before = p[before, max(from_row, 0) : max(end - 1, first + 1)]
            seen_after = p[after, min(start + 2, last) : to_row]
            clear = min(float(seen_before.mean()), float(seen_after.mean()))
            shares = _shares(p, before, after, round(row))
            found.append((float(row), int(column), Part(before), Part(after), clear, shares))
    if not found:
        return []
    # Places along the axis, all at once.
    rows, columns = np.array([one[0] for one in found]), [one[1] for one in found]
    s, _ = frame.cylinder.unroll(frame.points_cam(rows, frame.u()[columns]))
    return [Border(*one, float(s_mm)) for one, s_mm in zip(found, s, strict=True)]


def _shares(p: np.ndarray, before: int, after: int, row: int) -> np.ndarray:
    """Share of the part after a border against both parts, in the rows around it.

    Where a third one (a coil) is seen, nothing is undecided between these two.
    """
    low, high = row - TRANSITION_ROWS, row + TRANSITION_ROWS + 1
    if low >= 0 and high <= p.shape[1]:
        first, second = p[before, low:high], p[after, low:high]
    else:
        rows = np.clip(np.arange(low, high), 0, p.shape[1] - 1)
        first, second = p[before, rows], p[after, rows]
    both = first + second
    return np.where(both < 0.5, _BEYOND, second / np.maximum(both, 1e-6))


def without_false_marker_on_lip(
    classes: np.ndarray, frame: ReaderFrame, far_from_row: float, best: np.ndarray | None = None
) -> np.ndarray:
    """Classes in which a band that follows the seal without bare shaft between is part of the seal.

    There is one marker on a shaft. Where it is seen clearly elsewhere, what the network takes for another,
    right on the seal, is the wiper's lip.

    Parameters
    ----------
    classes : ndarray of shape (7, rows, columns)
    far_from_row : float
        Row of the marker's seal-side edge; bands that reach it stay as they are.
    best : ndarray of shape (rows, columns), optional
        As in `borders`.

    Returns
    -------
    ndarray
        The very same where there is no such band.
    """
    out = classes
    best = most_likely(classes) if best is None else best
    for column in np.flatnonzero(np.abs(frame.u()) < USED_U):
        runs = _runs(best[:, column])
        seals = [k for k, r in enumerate(runs) if r[2] == Part.SEAL]
        if not seals:
            continue
        for start, end, part in runs[seals[0] + 1 :]:
            if part == Part.SEAL:
                continue
            if part not in (Part.MARKER, Part.LOCK) or end > far_from_row - LIP_APART_ROWS:
                break
            if out is classes:
                out = classes.copy()
            rows = slice(start - 2, end + BEHIND_BAND_ROWS)
            for band in (Part.MARKER, Part.LOCK):
                out[Part.SEAL, rows, column] += out[band, rows, column]
                out[band, rows, column] = 0.0
    return out


def _runs(column: np.ndarray) -> list[tuple[int, int, int]]:
    """(first, last, class) of every run that is long enough; speckle between runs is dropped."""
    cuts = np.flatnonzero(np.diff(column)) + 1
    starts, ends = np.concatenate([[0], cuts]), np.concatenate([cuts, [len(column)]]) - 1
    merged: list[tuple[int, int, int]] = []
    for a, b in zip(starts, ends, strict=True):
        if b - a + 1 < SHORTEST_ROWS:
            continue
        if merged and merged[-1][2] == column[a] and a - merged[-1][1] <= SHORTEST_ROWS:
            merged[-1] = (merged[-1][0], int(b), int(column[a]))
        else:
            merged.append((int(a), int(b), int(column[a])))
    return merged


def candidates(
    found: list[Border], before: tuple[Part, ...], after: tuple[Part, ...], frame: ReaderFrame
) -> list[RimCandidate]:
    """Group borders of one kind into rims, the best supported first.

    Parameters
    ----------
    found : list of Border
    before, after : tuple of Part
        Kinds of border, towards the seal and towards the far end.
    frame : ReaderFrame
    """
    chosen = [b for b in found if b.before in before and b.after in after]
    used = int(np.sum(np.abs(frame.u()) < USED_U))
    out: list[RimCandidate] = []
    while chosen:
        u = frame.u()[[b.column for b in chosen]]
        rows, s = np.array([b.row for b in chosen]), np.array([b.s_mm for b in chosen])
        within = np.abs(s[:, None] - s[None, :]) <= SAME_RIM_MM
        seed = int(np.argmax(within.sum(axis=1)))
        group = np.flatnonzero(within[seed])
        columns = {chosen[k].column for k in group}
        share = len(columns) / used
        if share >= LEAST_SHARE:
            clarity = float(np.median([chosen[k].clarity for k in group]))
            shares = np.median([chosen[k].shares for k in group], axis=0)
            undecided = float(np.sum(4 * shares * (1 - shares))) * READER_STEP_MM
            out.append(
                RimCandidate(rows[group], u[group], float(np.median(s[group])), share, clarity, undecided)
            )
        keep = set(range(len(chosen))) - set(group.tolist())
        chosen = [chosen[k] for k in sorted(keep)]
    return sorted(out, key=lambda c: -c.weight)


def half_width_u(classes: np.ndarray, part: Part, rows: slice, frame: ReaderFrame) -> float | None:
    """Half the width, in radii, over which a part is seen in some rows; None where it is not or runs off the view."""
    ends = ends_u(classes, part, rows, frame)
    # Either side may be hidden: the wider one tells.
    return None if ends is None else max(-ends[0], ends[1])


def ends_u(
    classes: np.ndarray, part: Part, rows: slice | np.ndarray, frame: ReaderFrame
) -> tuple[float, float] | None:
    """Middles, in radii, of the outermost columns in which a part is seen in some rows; None where it hardly is."""
    seen = classes[part, rows].mean(axis=0)
    columns = np.flatnonzero(seen > 0.5)
    if len(columns) < 4:
        return None
    u = frame.u()
    return float(u[columns[0]]), float(u[columns[-1]])
