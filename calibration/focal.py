"""What is known of the focal length before anything is measured in the photo.

EXIF's 35 mm-equivalent focal length relates the picture's diagonal to that of a 36 x 24 mm frame
(CIPA DCG-001), so a photo that is only scaled keeps it true, and a cropped one does not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from calibration.errors import CalibrationError

if TYPE_CHECKING:
    from calibration.photo import Photo

DIAGONAL_35MM = math.hypot(36.0, 24.0)
"""Diagonal of the 35 mm frame: 43.27 mm."""

ROUNDING_SD_MM = 0.29
"""EXIF holds whole millimetres: a uniform error of ±0.5 mm has sd 1/sqrt(12)."""

MODEL_REL_SD = 0.005
"""Focusing close and the maker's own rounding of the frame (project notes; no published source)."""

ASSUMED_35MM = 26.0
"""The usual main lens of a phone (common practice, no source)."""

ASSUMED_REL_SD = 0.12
"""Main lenses run from about 23 to 30 mm equivalent (common practice, no source)."""

BELIEVABLE_35MM = (8.0, 600.0)
"""Outside this, EXIF holds something else than a focal length in mm."""

ASPECT_TOLERANCE = 0.006
"""Cameras cut to multiples of 8 or 16 px: 16 in 3,000 px is 0.5 %."""

CAMERA_ASPECTS = (4 / 3, 3 / 2, 16 / 9)
"""What cameras write without editing: sensors of phones, of larger cameras, and the video format."""

DEEPEST_CROP = 2.0
"""With nothing known of the full frame, a crop may have kept as little as half its width."""

AS_CUT_SHARE = 0.5
"""Crops that were not scaled after: what editors do unless told otherwise (common practice, no source)."""

DISAGREE_REL = 0.05
"""Stated and EXIF focal lengths further apart than rounding (at most 0.5 in 12 mm) can explain."""


@dataclass(frozen=True)
class FocalPrior:
    """Focal length as known beforehand.

    Attributes
    ----------
    focal_px : float
        Focal length in px of the upright photo.
    rel_sd : float
        Relative standard uncertainty.
    source : str
        "exif", "stated" or "assumed".
    remarks : tuple of str
        Sentences for the person.
    edited : bool
        The file's own data say that the photo was cropped or otherwise reshaped.
    centre_sd_px : float
        Standard uncertainty, along either axis, of where the lens axis meets the photo, on top of the lens's
        own; 0 unless the photo was cropped.
    """

    focal_px: float
    rel_sd: float
    source: str
    remarks: tuple[str, ...] = ()
    edited: bool = False
    centre_sd_px: float = 0.0


@dataclass(frozen=True)
class _Frame:
    """How the photo may relate to the frame that the focal length speaks of.

    ``diagonal_low_px`` to ``diagonal_high_px``: the full frame's diagonal in px of this photo, and ``as_cut_share``
    how likely it is just the higher one.
    """

    diagonal_low_px: float
    diagonal_high_px: float
    as_cut_share: float = 0.0
    centre_sd_px: float = 0.0
    edited: bool = False
    remark: str | None = None


def focal_px_prior(photo: Photo, focal_35mm: float | None = None) -> FocalPrior:
    """Focal length of a photo from what was stated, from EXIF, or from what phones usually have.

    Parameters
    ----------
    photo : Photo
    focal_35mm : float, optional
        35 mm-equivalent focal length as the person states it, mm; by default what `load_photo` was told.

    Returns
    -------
    FocalPrior

    Raises
    ------
    CalibrationError
        If the stated focal length is no focal length.
    """
    stated = photo.stated_focal_35mm if focal_35mm is None else focal_35mm
    remarks: list[str] = []
    low, high = BELIEVABLE_35MM
    from_exif = photo.exif.focal_35mm
    if from_exif is not None and not low <= from_exif <= high:
        remarks.append(
            f"EXIF's 35 mm-equivalent focal length, {from_exif:g} mm, is not believable and not used."
        )
        from_exif = None
    if stated is not None:
        if not (math.isfinite(stated) and low <= stated <= high):
            raise CalibrationError(
                f"A 35 mm-equivalent focal length of {stated:g} mm is not believable.",
                "Phones have 13 to 120 mm: take the figure from the phone's data sheet, for example 26.",
            )
        equivalent, source = stated, "stated"
        if from_exif is not None and abs(from_exif / stated - 1) > DISAGREE_REL:
            remarks.append(
                f"The stated focal length, {stated:g} mm, is used; EXIF says {from_exif:g} mm. "
                "Check which lens took the photo."
            )
    elif from_exif is not None:
        equivalent, source = from_exif, "exif"
    else:
        equivalent, source = ASSUMED_35MM, "assumed"
        remarks.append(
            f"The photo does not tell its focal length: {ASSUMED_35MM:g} mm (35 mm equivalent) is assumed, "
            "and the reading is less sure. Send the original file, or state the focal length."
        )
    variance = (
        ASSUMED_REL_SD**2 if source == "assumed" else (ROUNDING_SD_MM / equivalent) ** 2 + MODEL_REL_SD**2
    )
    zoom = photo.exif.digital_zoom
    if source == "exif" and zoom is not None and zoom > 1.01:
        # Some makers count digital zoom into the 35 mm figure, some do not; both must lie within 2 sd.
        variance += ((zoom - 1) / 2) ** 2
        remarks.append(
            f"The photo was taken with {zoom:.3g}x digital zoom, which makes its focal length unsure. "
            "Step closer instead of zooming."
        )
    frame = _frame(photo)
    if frame.remark:
        remarks.append(frame.remark)
    spread = math.log(frame.diagonal_high_px / frame.diagonal_low_px)
    # Anywhere in the range alike, uniform in the logarithm, but for the share that is just the highest.
    below = 0.5 * spread * (1 - frame.as_cut_share)
    diagonal = frame.diagonal_high_px * math.exp(-below)
    spread_sd = max(spread / math.sqrt(12), 0.5 * (spread - below))
    variance += spread_sd**2  # of the uniform part, and wide enough that both ends lie within 2 sd
    return FocalPrior(
        focal_px=equivalent / DIAGONAL_35MM * diagonal,
        rel_sd=math.sqrt(variance),
        source=source,
        remarks=tuple(remarks),
        edited=frame.edited,
        centre_sd_px=frame.centre_sd_px,
    )


def _frame(photo: Photo) -> _Frame:
    """Work out which full frames the photo's size, EXIF's size and the aspect allow."""
    width, height = photo.size
    diagonal = math.hypot(width, height)
    long, short = max(width, height), min(width, height)
    if photo.exif.width and photo.exif.height:
        # The order says nothing: some decoders turn the picture, and some makers turn the numbers.
        full_long = max(photo.exif.width, photo.exif.height)
        full_short = min(photo.exif.width, photo.exif.height)
        if not _alike(long / short, full_long / full_short, short):
            # The photo is a part of the full frame, at a scale between "just fits" and 1 (never enlarged),
            # or larger where it does not fit at 1.
            fits = max(long / full_long, short / full_short)
            full_diagonal = math.hypot(full_long, full_short)
            largest = max(fits, 1.0)
            hidden = max(full_long * largest - long, full_short * largest - short, 0.0)
            return _Frame(
                diagonal_low_px=full_diagonal * fits,
                diagonal_high_px=full_diagonal * largest,
                as_cut_share=AS_CUT_SHARE if largest == 1.0 else 0.0,
                centre_sd_px=hidden / math.sqrt(12),
                edited=True,
                remark=(
                    f"The photo is {width} x {height} px, but its EXIF speaks of {photo.exif.width} x "
                    f"{photo.exif.height} px: it was cropped, and the reading is less sure. "
                    "Send the original file."
                ),
            )
        if (long, short) != (full_long, full_short) and long > full_long:
            return _Frame(diagonal, diagonal, remark="The photo was enlarged after it was taken.")
        if (long, short) != (full_long, full_short):
            return _Frame(
                diagonal,
                diagonal,
                remark=(
                    f"The photo was made smaller ({full_long} x {full_short} px before); it is taken to show "
                    "all that the camera saw."
                ),
            )
    if any(_alike(long / short, aspect, short) for aspect in CAMERA_ASPECTS):
        return _Frame(diagonal, diagonal)
    # The smallest 4:3 frame that holds the photo; the crop may have been deeper.
    smallest_short = max(short, long * 3 / 4)
    smallest = smallest_short * 5 / 3
    hidden = max(smallest_short * 4 / 3 * DEEPEST_CROP - long, smallest_short * DEEPEST_CROP - short)
    return _Frame(
        diagonal_low_px=min(diagonal, smallest),
        diagonal_high_px=smallest * DEEPEST_CROP,
        centre_sd_px=hidden / math.sqrt(12),
        edited=True,
        remark=(
            f"The photo's shape, {width} x {height} px, is none that cameras make: it seems to be cropped, "
            "and the reading is less sure. Send the original file."
        ),
    )


def _alike(aspect: float, other: float, short_px: int) -> bool:
    """Same aspect within the cameras' own rounding, or one pixel of a scaled photo's."""
    return abs(aspect / other - 1) <= max(ASPECT_TOLERANCE, 1.0 / short_px)
