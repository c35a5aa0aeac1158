"""Names of the sources of uncertainty, and what would halve each."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from vision.lengths.budget import Source

SOURCE_NAMES = {
    "card_corners": "card's corners in the photo",
    "print_scale": "card's print scale",
    "diameter": "shaft's diameter",
    "focal_length": "focal length",
    "distortion": "lens distortion",
    "lens_axis": "where the lens axis meets the photo",
    "card_depth_and_turn": "card's depth and turn beside the shaft",
    "card_bend": "card's bend",
    "pixel_aspect": "photo's width against its height",
    "silhouettes": "shaft's two silhouettes",
    "axis_by_hand": "shaft's middle, set by hand",
    "seal": "seal's edge",
    "marker": "marker's edge",
    "marker_height_and_tilt": "marker's height and tilt",
    "far_end": "far end's edge",
}
_EDGE = "Wipe the edge, light it from where you stand so that no shadow lies on it, and come closer."
_LENS = "Have shaft and card in the middle of the photo, whole and not cropped, and use the main or the longer lens."
HOW_TO_HALVE = {
    "card_corners": "Come closer, or use the phone's full resolution, until the card is twice as large in pixels.",
    "print_scale": "Measure the 100 mm bar with a caliper and give its uncertainty: --print-scale '0.998 ± 0.0005'.",
    "diameter": "Measure the shaft with a caliper at several places, or with a micrometer, and give the uncertainty: "
    "--shaft '41.02 ± 0.02 mm'.",
    "focal_length": "Take the photo from twice as far away with a lens twice as long: depth then matters half as much.",
    "distortion": _LENS,
    "lens_axis": _LENS,
    "card_depth_and_turn": "Take four photos, laying the card down again for each, level with the shaft's centre "
    "line, and read them with --same; or measure the diameter more accurately.",
    "card_bend": "Stick the card on something stiff and flat, and state the phone's main lens.",
    "pixel_aspect": "Use the photo as the phone wrote it, neither cut nor scaled.",
    "silhouettes": "Put a plain sheet in a contrasting colour behind the shaft, use more light, and come closer.",
    "axis_by_hand": "Put a plain sheet behind the shaft so that both its edges stand out and are found.",
    "seal": _EDGE,
    "marker": _EDGE,
    "marker_height_and_tilt": "Hold the phone level with the marker and straight in front of it, and set the marker "
    "square to the shaft.",
    "far_end": _EDGE,
}
# Without a focal length in the file, that is what to fix first.
_STATE_FOCAL = "Use the photo as the phone wrote it, or give --focal-35mm from the phone's data sheet."
# Where the marker's seal-side edge is hidden, light on it helps nobody.
_SHOW_MARKER = (
    "Measure the band's width with a caliper and give it with --marker-width, or move so that nothing blocks the "
    "view."
)


def how_to_halve(source: Source, focal_source: str, marker_hidden: bool = False) -> str:
    """Say how to halve a source, in a sentence or two."""
    if source.value == "focal_length" and focal_source == "assumed":
        return _STATE_FOCAL
    if source.value == "marker" and marker_hidden:
        return _SHOW_MARKER
    return HOW_TO_HALVE[source.value]
