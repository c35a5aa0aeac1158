"""OpenCV's dictionary of the markers on cards and clip-on tags."""

from __future__ import annotations

from typing import Any

from calibration.card import DICTIONARY_NAME


def marker_dictionary() -> Any:
    """Return OpenCV's dictionary of all markers."""
    import cv2

    return cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY_NAME))
