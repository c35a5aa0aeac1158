"""Prior of the focal length, from EXIF, from the user, or assumed.

EXIF's 35 mm-equivalent focal length relates the picture's diagonal to that of a 36 x 24 mm frame
(CIPA DCG-001), so it stays valid in a photo that was only scaled, but not in a cropped one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from calibration.errors import CalibrationError

if TYPE_CHECKING:
    from calibration.photo import Photo

DIAGONAL_35MM = math.hypot(36.0, 24.0)
"""Diagonal of the 35 mm frame: 43.27 mm."""

ROUNDING_SD_MM = 0.29
"""EXIF holds whole millimetres: a uniform error of ±0.5 mm has sd 1/sqrt(12)."""

MODEL_REL_SD = 0.005
"""Close focus and the maker's own rounding of the frame (project notes; no published source)."""

ASSUMED_35MM = 26.0
"""The usual main lens of a phone (common practice, no source)."""

ASSUMED_REL_SD = 0.12
"""Main lenses run from about 23 to 30 mm equivalent (common practice, no source)."""

PLAUSIBLE_35MM = (8.0, 600.0)
"""Outside this range EXIF holds something other than a focal length in mm."""

ASPECT_TOLERANCE = 0.006
"""Cameras crop to multiples of 8 or 16 px: 16 in 3,000 px is 0.5 %."""

CAMERA_ASPECTS = (4 / 3, 3 / 2, 16 / 9)
"""Aspect ratios of unedited photos: sensors of phones, of larger cameras, and the video format."""

CAMERA_ASPECT_SHARES = (0.7, 0.15, 0.15)
"""How many of phones' photos have each of these: 4:3 is the default (judgement, no source)."""

MOST_SQUEEZED = 0.3
"""Logarithm of the pixels' aspect up to which a photo may have been squeezed; beyond, people look as through a bottle
(judgement, no source)."""

DEEPEST_CROP = 2.0
"""Where the full frame is unknown, a crop is assumed to have kept at least half of its width."""

AS_CUT_SHARE = 0.5
"""Share of crops that were not scaled afterwards, the default of editors (common practice, no source)."""

DISAGREE_REL = 0.05
"""Declared and EXIF focal lengths differ by more than rounding (at most 0.5 in 12 mm) can explain."""

MOST_ZOOM = 1000.0
"""Ten times what phones offer [from memory]: a broken field can hold any number, also one whose square is none."""


@dataclass(frozen=True)
class Squeezed:
    """The lens of a reshaped photo if it shows the whole frame, its sides scaled unequally.

    Nothing is left free then: the frame's own shape gives the pixels' aspect, and the lens's axis is in the middle.

    Attributes
    ----------
    focal_px : float
        Geometric mean of the focal lengths along both sides, px.
    rel_sd : float
        Its relative standard uncertainty.
    log_aspect : float
        Logarithm of the focal length along the height over that along the width, as the picture is stored upright.
    share : float
        Probability of this frame among the possible ones.
    """

    focal_px: float
    rel_sd: float
    log_aspect: float
    share: float

    def turned(self, quarter_turns: int) -> Squeezed:
        """Return the same for the picture turned by quarter turns: odd ones exchange height and width."""
        return replace(self, log_aspect=-self.log_aspect) if quarter_turns % 2 else self


@dataclass(frozen=True)
class FocalPrior:
    """Prior of the focal length.

    Attributes
    ----------
    focal_px : float
        Focal length, px.
    rel_sd : float
        Relative standard uncertainty.
    source : str
        "exif", "stated" (declared by the user) or "assumed".
    remarks : tuple of str
        Sentences for the user.
    edited : bool
        The file's own data show that the photo was cropped or otherwise reshaped.
    centre_sd_px : float
        Standard uncertainty of the principal point along either axis, in addition to the lens's own; 0 unless
        the photo was cropped.
    squeezed : tuple of Squeezed
        What else the lens may be where the photo was reshaped, for the picture as stored.
    """

    focal_px: float
    rel_sd: float
    source: str
    remarks: tuple[str, ...] = ()
    edited: bool = False
    centre_sd_px: float = 0.0
    squeezed: tuple[Squeezed, ...] = ()


@dataclass(frozen=True)
class _Frame:
    """Possible relation of the photo to the full frame that the focal length refers to.

    ``diagonal_low_px``, ``diagonal_high_px``: bounds of the full frame's diagonal, px of this photo; ``as_cut_share``:
    probability that it equals the higher bound.
    """

    diagonal_low_px: float
    diagonal_high_px: float
    as_cut_share: float = 0.0
    centre_sd_px: float = 0.0
    edited: bool = False
    remark: str | None = None


def focal_px_prior(photo: Photo, focal_35mm: float | None = None) -> FocalPrior:
    """Derive the focal length of a photo from the user, from EXIF, or from the usual phone lens.

    Parameters
    ----------
    photo : Photo
    focal_35mm : float, optional
        35 mm-equivalent focal length declared by the user, mm.

    Returns
    -------
    FocalPrior

    Raises
    ------
    CalibrationError
        If the declared value is not a possible focal length.
    """
    remarks: list[str] = []
    low, high = PLAUSIBLE_35MM
    from_exif = photo.exif.focal_35mm
    if from_exif is not None and not low <= from_exif <= high:
        remarks.append(
            f"EXIF's 35 mm-equivalent focal length, {from_exif:g} mm, is not plausible and not used."
        )
        from_exif = None
    if focal_35mm is not None:
        if not (math.isfinite(focal_35mm) and low <= focal_35mm <= high):
            raise CalibrationError(
                f"A 35 mm-equivalent focal length of {focal_35mm:g} mm is not plausible.",
                "Phones have 13 to 120 mm: use the value from the phone's data sheet, for example 26.",
            )
        equivalent, source = focal_35mm, "stated"
        if from_exif is not None and abs(from_exif / focal_35mm - 1) > DISAGREE_REL:
            remarks.append(
                f"The focal length you gave, {focal_35mm:g} mm, is used; EXIF has {from_exif:g} mm. "
                "Check which lens took the photo."
            )
    elif from_exif is not None:
        equivalent, source = from_exif, "exif"
    else:
        equivalent, source = ASSUMED_35MM, "assumed"
        remarks.append(
            f"The photo has no focal length in its EXIF: {ASSUMED_35MM:g} mm (35 mm equivalent) is assumed, "
            "which makes the uncertainty larger. Use the original file, or give --focal-35mm."
        )
    variance = (
        ASSUMED_REL_SD**2 if source == "assumed" else (ROUNDING_SD_MM / equivalent) ** 2 + MODEL_REL_SD**2
    )
    zoom = photo.exif.digital_zoom
    if source == "exif" and zoom is not None and zoom > 1.01:
        # Some makers include digital zoom in the 35 mm value, some do not; both must lie within 2 sd.
        variance += ((min(zoom, MOST_ZOOM) - 1) / 2) ** 2
        remarks.append(
            f"The photo was taken with {zoom:.3g}x digital zoom, which makes its focal length uncertain. "
            "Step closer instead of zooming."
        )
    whole_rel_sd = math.sqrt(variance)
    frame = _frame(photo)
    if frame.remark:
        remarks.append(frame.remark)
    spread = math.log(frame.diagonal_high_px / frame.diagonal_low_px)
    # Uniform in the logarithm over the range, except for the share at its upper end.
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
        squeezed=_squeezed(photo, equivalent, whole_rel_sd) if frame.edited else (),
    )


def _squeezed(photo: Photo, focal_35mm: float, rel_sd: float) -> tuple[Squeezed, ...]:
    """List the whole frames that a reshaped photo may show, scaled unequally."""
    width, height = photo.size
    full = _full_sides(photo)
    shares = ((full[0] / full[1], 1.0),) if full else zip(CAMERA_ASPECTS, CAMERA_ASPECT_SHARES, strict=True)
    found = []
    for of_long, share in shares:
        for aspect in (of_long, 1 / of_long):  # width over height of the frame: upright or lying
            log_aspect = math.log(aspect * height / width)
            if not ASPECT_TOLERANCE < abs(log_aspect) < MOST_SQUEEZED:
                continue  # as far as nobody squeezes a photo, or not at all
            along_x = width * math.hypot(1, 1 / aspect)
            along_y = height * math.hypot(1, aspect)
            focal_px = focal_35mm / DIAGONAL_35MM * math.sqrt(along_x * along_y)
            found.append(Squeezed(focal_px, rel_sd, log_aspect, share).turned(photo.quarter_turns))
    return tuple(found)


def _full_sides(photo: Photo) -> tuple[int, int] | None:
    """Longer and shorter side of the full frame, px, by EXIF; None where it says nothing.

    Which is the width is not kept: some decoders rotate the picture, and some makers swap the numbers.
    """
    if not (photo.exif.width and photo.exif.height):
        return None
    return max(photo.exif.width, photo.exif.height), min(photo.exif.width, photo.exif.height)


def _frame(photo: Photo) -> _Frame:
    """Derive the full frames that the photo's size, EXIF's size and the aspect ratio allow."""
    width, height = photo.size
    diagonal = math.hypot(width, height)
    long, short = max(width, height), min(width, height)
    full = _full_sides(photo)
    if full is not None:
        full_long, full_short = full
        if not _same_aspect(long / short, full_long / full_short, short):
            # The photo is a part of the full frame, at a scale between the smallest that fits and 1 (never
            # enlarged), or larger where it does not fit at 1.
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
                    f"The photo is {width} x {height} px, but its EXIF has {photo.exif.width} x "
                    f"{photo.exif.height} px: it was cropped, which makes the uncertainty larger. "
                    "Use the original file."
                ),
            )
        if (long, short) != (full_long, full_short) and long > full_long:
            return _Frame(diagonal, diagonal, remark="The photo was enlarged after it was taken.")
        if (long, short) != (full_long, full_short):
            return _Frame(
                diagonal,
                diagonal,
                remark=(
                    f"The photo was made smaller ({full_long} x {full_short} px before); it is assumed "
                    "to show the whole frame."
                ),
            )
    if any(_same_aspect(long / short, aspect, short) for aspect in CAMERA_ASPECTS):
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
            f"The photo's shape, {width} x {height} px, is not one that cameras produce: it was probably "
            "cropped, which makes the uncertainty larger. Use the original file."
        ),
    )


def _same_aspect(aspect: float, other: float, short_px: int) -> bool:
    """Compare aspect ratios within the cameras' own rounding, or one pixel of a scaled photo."""
    return abs(aspect / other - 1) <= max(ASPECT_TOLERANCE, 1.0 / short_px)
