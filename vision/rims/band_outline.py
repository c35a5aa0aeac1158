"""Whether a band is painted on: the photo itself shows the background, unchanged, right beside the shaft there.

A network that knows bands round shafts sees paint, grease or a line stand out that do not. Straps are 1.0 to 1.45 mm
thick and O-rings more, some pixels in any photo that is read: between silhouette and that distance the picture has the
band's colours, or something lies in front of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vision.geometry.views import READER_STEP_MM, ReaderFrame
from vision.rims.candidates import RimCandidate

# Distance beyond the silhouettes, mm, that a band's colours reach on neither side if it is painted on: painted rings
# reach 0.05, the largest distance of right markers is 0.57 and more (docs/measured.md, "Spoilt photos").
FLUSH_MM = 0.3
# Least difference, code values (root of the sum of squares of R, G, B), of band, shaft and background from each other:
# less is noise, shade, or a black band before a black background, which show nothing.
LEAST_CODES = 30.0
# Where the band's own colours are looked at, and where what stands out beyond the silhouette is, mm outwards: blur and
# an error of the silhouette stay within the gap between both.
INSIDE_MM, OUTSIDE_MM = (-1.2, -0.4), (0.15, 2.5)
STEP_MM = 0.1
# The band's inner part, as a share of its width, and where shaft and background are compared with it, mm beyond its
# edges.
WITHIN, BESIDE_MM = (0.3, 0.7), (1.5, 4.0)
# A band of which only one edge is seen, mm (trade figures: 2.0 to 4.8).
ASSUMED_WIDTH_MM = 3.0
_ROWS = 9


@dataclass(frozen=True)
class BandOutline:
    """Judges bands by the photo beside the shaft.

    Attributes
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    frame : ReaderFrame
        Along the shaft.
    """

    pixels: np.ndarray
    frame: ReaderFrame

    def is_painted(self, start: RimCandidate, end: RimCandidate | None) -> bool:
        """Whether a band ends at the shaft's silhouettes, as clearly as the photo can show.

        Parameters
        ----------
        start, end : RimCandidate
            Its edges; the second may be missing.
        """
        first_mm = start.s_mm
        last_mm = first_mm + ASSUMED_WIDTH_MM if end is None else end.s_mm
        return all(self._ends_at_silhouette(side, first_mm, last_mm) for side in (-1, 1))

    def _ends_at_silhouette(self, side: int, first_mm: float, last_mm: float) -> bool:
        out_mm = np.arange(INSIDE_MM[0], OUTSIDE_MM[1], STEP_MM)
        inside = out_mm < INSIDE_MM[1]
        outside = out_mm > OUTSIDE_MM[0]
        width_mm = last_mm - first_mm
        at_band = self._codes(side, out_mm, first_mm + WITHIN[0] * width_mm, first_mm + WITHIN[1] * width_mm)
        before = self._codes(side, out_mm, first_mm - BESIDE_MM[1], first_mm - BESIDE_MM[0])
        after = self._codes(side, out_mm, last_mm + BESIDE_MM[0], last_mm + BESIDE_MM[1])
        band = at_band[inside].mean(axis=0)
        for beside in (before, after):
            # The band must be seen up to here, on the shaft, and would have to be seen before that background.
            if np.linalg.norm(band - beside[inside].mean(axis=0)) < LEAST_CODES:
                return False
            if np.linalg.norm(band - beside[outside].mean(axis=0)) < LEAST_CODES:
                return False
            towards = band - beside
            share = ((at_band - beside) * towards).sum(axis=1) / np.maximum((towards**2).sum(axis=1), 1.0)
            if abs(share[outside].sum() * STEP_MM) > FLUSH_MM:
                return False
        return True

    def _codes(self, side: int, out_mm: np.ndarray, low_mm: float, high_mm: float) -> np.ndarray:
        """Mean colours of a stretch of the shaft at distances beyond its silhouette, shape (n, 3)."""
        import cv2

        rows = (np.linspace(low_mm, high_mm, _ROWS) - self.frame.s0_mm) / READER_STEP_MM
        u = side * (1 + out_mm / self.frame.cylinder.radius_mm)
        points = self.frame.points_cam(rows[:, None], u[None, :]).reshape(-1, 3)
        at = self.frame.camera.project(points).reshape(_ROWS, len(u), 2).astype(np.float32)
        seen = cv2.remap(
            self.pixels, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        return np.asarray(seen.astype(float).mean(axis=0))
