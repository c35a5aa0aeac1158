"""Rims in a soft photo: how far their place depends on where the blur along the shaft arose.

Blurred in light (lens, motion), an edge between black and white is steepest in code values 0.8 standard deviations of
the blur from its middle, on the dark side (sRGB); blurred in code values (digital zoom, enlarging, an editor's smear)
it is so in its middle, and the fainter the edge, the less both differ. Networks, which see code values alone, have
learnt the former; nothing says which it was. `vision.shaft.photo_lines` has the same of silhouettes.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt

from vision.rims.choose import Choice

# Blur (Gaussian sd) of the card's edges, px, up to which a photo is sharp: the networks' sigma has it.
SHARP_PX = 0.75
# Standard uncertainty over the blur beyond that: uniform from no shift to 0.8 (root mean square). Fitted to lengths of
# shaken copies it is 0.5 (docs/measured.md, "Spoilt photos").
SHIFT_SHARE = 0.8 / sqrt(3)


def shift_sd_px(blur_along_px: float) -> float:
    """Derive a rim's further standard uncertainty, px, from the blur along the shaft (Gaussian sd), px."""
    return SHIFT_SHARE * sqrt(max(blur_along_px**2 - SHARP_PX**2, 0.0))


def with_soft_rims(choice: Choice, blur_along_px: float) -> Choice:
    """Widen the standard uncertainty of the rims by what blur along the shaft leaves open.

    Parameters
    ----------
    choice : Choice
    blur_along_px : float
        Of the card's edges that lie across it, as the shaft's rims do.
    """
    further_px = shift_sd_px(blur_along_px)
    if further_px == 0.0:
        return choice
    rims = {name: replace(rim, sd_px=hypot(rim.sd_px, further_px)) for name, rim in choice.rims.items()}
    return replace(choice, rims=rims)
