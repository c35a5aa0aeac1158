"""A band that the part networks see only faintly, believed where the photo shows a ring that stands out there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vision.geometry.views import READER_STEP_MM
from vision.networks.classes import Part, PartMap
from vision.rims.bow import arc_mm
from vision.rims.candidates import find_borders
from vision.rims.closed_ring import BESIDE_MM, GAP_MM, STRAP_MM, RingStrength, ring_strength
from vision.rims.orientation import bare_rows

# Least strength of a ring on the shaft and beyond its silhouettes. Of 23 bands on real photographs the weakest have 3.1
# and 5.1, 1.4 and 4.4; of all else that crosses those shafts and 22 without a band, between their ends, the strongest
# has 3.3 on the shaft, and rings of paint and of dirt 1.8 beyond (docs/measured.md, "Bands seen faintly").
LEAST_ON_SHAFT, LEAST_BEYOND = 4.0, 3.0
# Least probability of a marker along the ring, mean of the columns, to one of the networks: both bands that were missed
# have 0.2 and 0.7; between bands it is 0.00.
LEAST_FAINT = 0.1
# How much more often such a ring is seen at a band than elsewhere: at 20 of 23, and nowhere else on 45 shafts, each of
# which has room for ten or more.
LIKELIHOOD_RATIO = 400.0
# Share of the most that they see of it at which its edges lie: thin bands that they see faintly they see too narrow
# (half would make the two that were missed 1.0 and 2.0 mm wide, a twelfth 2.7 and 2.9; they are 2.5). Refinement moves
# the edges.
EDGE_SHARE = 0.2
# Least probability of bare shaft on either side of the ring, to every network, as beside any clear marker: beyond the
# end of one shaft without a band rings of its axle were a faint band between parts of the foot.
LEAST_SHAFT = 0.9
# Columns in which the networks' probabilities are looked at, radii, and lateral position up to which a ring is followed
# round the shaft; margin about its width, mm: the widths tried are a millimetre apart.
LOOKED_AT_U, LAST_U, MARGIN_MM = 0.85, 0.97, 0.5
# Share of a point covered by something in front from which it shows no band.
COVERED = 0.5


@dataclass(frozen=True)
class FaintBand:
    """A band that both photo and networks show, and where networks put it.

    Attributes
    ----------
    s_mm, width_mm : float
        Its middle along the axis, and about how wide it is.
    seen : ndarray of shape (rows, columns)
        Probability of a marker at each point of the view, the ring weighed; 0 off the ring.
    """

    s_mm: float
    width_mm: float
    seen: np.ndarray

    def drawn_in(self, parts: PartMap) -> PartMap:
        """Give the ring's points the probability of a marker that they have with the ring."""
        p = parts.probabilities
        band = p[Part.MARKER] + p[Part.LOCK]
        more = (self.seen > band) & (p[Part.IN_FRONT] < COVERED)
        out = np.where(more, p * ((1 - self.seen) / np.maximum(1 - band, 1e-6)), p)
        out[Part.MARKER] = np.where(more, self.seen, p[Part.MARKER])
        out[Part.LOCK] = np.where(more, 0.0, p[Part.LOCK])
        return replace(parts, probabilities=out.astype(p.dtype))


def find_faint_band(pixels: np.ndarray, looks: Sequence[PartMap]) -> FaintBand | None:
    """Find a band that networks see faintly at a ring that the photo shows.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    looks : sequence of PartMap
        Of one view, by each network; the first names the bare shaft.

    Returns
    -------
    FaintBand or None
        The clearest ring at which a network sees a marker.
    """
    first = looks[0]
    frame, bare = first.frame, bare_rows(first)
    if bare is None:
        return None
    ends, _ = frame.cylinder.unroll(frame.points_cam(np.array(bare, float), np.zeros(2)))
    bow = find_borders(first).bow
    rings = ring_strength(pixels, frame, (float(ends[0]), float(ends[1])), bow)
    if rings is None:
        return None
    faint = np.max([p.probabilities[Part.MARKER] + p.probabilities[Part.LOCK] for p in looks], axis=0)
    s_mm = _unrolled(first, bow)
    middle = np.abs(frame.u()) < LOOKED_AT_U
    for k in _clear_ones(rings):
        off_mm = np.abs(s_mm - rings.s_mm[k]) - 0.5 * rings.width_mm[k]
        of_ring = float(np.mean(faint[:, middle][off_mm[:, middle] < 0]))
        if of_ring < LEAST_FAINT or not _between_bare_shaft(looks, off_mm, middle):
            continue
        within = (off_mm < MARGIN_MM) & (np.abs(frame.u()) < 1 + STRAP_MM / frame.cylinder.radius_mm)
        profile, peak = _all_round(faint, s_mm, middle, within)
        probability = LIKELIHOOD_RATIO * of_ring / (1 + (LIKELIHOOD_RATIO - 1) * of_ring)
        seen = np.where(within, probability * np.minimum(0.5 * profile / (EDGE_SHARE * peak), 1.0), 0.0)
        return FaintBand(float(rings.s_mm[k]), float(rings.width_mm[k]), seen)
    return None


def _clear_ones(rings: RingStrength) -> list[int]:
    """Places of the rings that are as clear as bands, the clearest first."""
    clear = (rings.on_shaft > LEAST_ON_SHAFT) & (rings.beyond > LEAST_BEYOND)
    return [int(k) for k in np.argsort(-rings.on_shaft) if clear[k]]


def _between_bare_shaft(looks: Sequence[PartMap], off_mm: np.ndarray, middle: np.ndarray) -> bool:
    """Whether every network sees bare shaft on both sides of a ring, where the photo was compared with it."""
    beside = (off_mm > GAP_MM) & (off_mm < GAP_MM + BESIDE_MM)
    rows = np.arange(len(off_mm))[:, None]
    before = beside & (rows < np.argmin(off_mm, axis=0))
    return all(
        float(parts.probabilities[Part.SHAFT][:, middle][side[:, middle]].mean()) > LEAST_SHAFT
        for parts in looks
        for side in (before, beside & ~before)
    )


def _all_round(
    faint: np.ndarray, s_mm: np.ndarray, middle: np.ndarray, within: np.ndarray
) -> tuple[np.ndarray, float]:
    """Give each point the mean of the middle columns at its place along the axis, and the largest within the ring.

    The ring is closed and reaches beyond the silhouettes, near which the networks see it least.
    """
    step = np.rint((s_mm - s_mm.min()) / READER_STEP_MM).astype(int)
    count = np.bincount(step[:, middle].ravel(), minlength=int(step.max()) + 1)
    total = np.bincount(step[:, middle].ravel(), faint[:, middle].ravel(), minlength=len(count))
    profile = (total / np.maximum(count, 1))[step]
    return profile, float(profile[within].max())


def _unrolled(parts: PartMap, bow: float) -> np.ndarray:
    """Position along the axis of each point of the view, once unrolled on the shaft, shape (rows, columns)."""
    frame = parts.frame
    u = np.clip(frame.u(), -LAST_U, LAST_U)
    last = parts.probabilities.shape[1] - 1
    low_mm, per_row_mm = frame.surface_along_columns((0.0, last), u)
    s_mm = low_mm + np.arange(last + 1)[:, None] * per_row_mm
    return np.asarray(s_mm - arc_mm(bow, u, frame.cylinder.radius_mm))
