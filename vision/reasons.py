"""Reasons for refusing a photo or one of its lengths, each with its remedy."""

from __future__ import annotations

from enum import StrEnum


class Reason(StrEnum):
    """Code for programs; `.advice` is the sentence for people."""

    NO_CARD = "no_card"
    CARD_HIDDEN = "card_hidden"
    SEVERAL_CARDS = "several_cards"
    CARD_NOT_FLAT = "card_not_flat"
    CARD_BACKWARDS = "card_backwards"
    BLURRED = "blurred"
    TOO_SMALL = "too_small"
    BADLY_LIT = "badly_lit"
    FOCAL_LENGTH_DOUBTFUL = "focal_length_doubtful"
    STRETCHED = "stretched"
    NO_SHAFT = "no_shaft"
    SHAFT_EDGES_UNCLEAR = "shaft_edges_unclear"
    TWO_SHAFTS = "two_shafts"
    SCALE_CONFLICT = "scale_conflict"
    NO_MARKER = "no_marker"
    MARKER_UNCLEAR = "marker_unclear"
    SEAL_HIDDEN = "seal_hidden"
    FAR_END_HIDDEN = "far_end_hidden"
    STATED_CONFLICT = "stated_conflict"
    UNCERTAIN = "uncertain"
    BAD_FILE = "bad_file"

    @property
    def advice(self) -> str:
        """What the user should do differently."""
        return _ADVICE[self]


_ADVICE = {
    Reason.NO_CARD: "Lay the printed card beside the shaft, printed face to the camera, and have all of it in the photo and in focus.",
    Reason.CARD_HIDDEN: "Too little of the card can be seen: take fingers, cables and glare off it and have the whole card in the photo.",
    Reason.SEVERAL_CARDS: "Leave only the card that belongs to this shaft in the photo.",
    Reason.CARD_NOT_FLAT: "The card is creased or twisted: stick it on something stiff and flat.",
    Reason.CARD_BACKWARDS: "Turn the card round so that its arrow points towards the seal.",
    Reason.BLURRED: "Hold the phone still, wait for it to focus, and use more light.",
    Reason.TOO_SMALL: "Go closer, or use the full resolution, so that the card fills at least half of the photo's height.",
    Reason.BADLY_LIT: "Light the shaft from the side, or tap on it on the phone's screen before you take the photo.",
    Reason.FOCAL_LENGTH_DOUBTFUL: "Use the photo as the phone took it, neither cropped nor edited, or give --focal-35mm.",
    Reason.STRETCHED: "Use the photo as the phone took it: something that made it fit a frame changed its shape.",
    Reason.NO_SHAFT: "Have the shaft beside the card, from the seal to the far end, in the photo, and check --shaft and --layout.",
    Reason.SHAFT_EDGES_UNCLEAR: "Put a plain sheet in a contrasting colour behind the shaft so that both its edges stand out.",
    Reason.TWO_SHAFTS: "Lay the card on the outer side of the leg that is meant, so that it does not lie between two shafts, or cover the other.",
    Reason.SCALE_CONFLICT: "Measure the 100 mm bar on the card and the shaft with a caliper again, and lay the card level with the shaft's centre line.",
    Reason.NO_MARKER: "If it was pushed up to the bumper (or clamp), that is a reading: record it with strandline ride add --at-stop LEG. If not, check that it is there and turn its band towards the camera.",
    Reason.MARKER_UNCLEAR: "The marker cannot be distinguished from other rings: wipe the shaft clean, or use a marker in a colour that stands out.",
    Reason.SEAL_HIDDEN: "Wipe it, light it from where you stand, and move so that nothing blocks the view of it.",
    Reason.FAR_END_HIDDEN: "Move so that nothing blocks the view of it and nothing is mirrored beside it, and light it from where you stand.",
    Reason.STATED_CONFLICT: "See that bike and leg are the ones in the photo, and on the overlay that both ends and the marker are right. If all are, correct the hanging length or the stroke that is stated.",
    Reason.UNCERTAIN: "The uncertainty is over 3 mm: go square-on, come closer, and lay the card level with the shaft's centre line.",
    Reason.BAD_FILE: "Copy the photo file from the phone again, unchanged.",
}

CARD_REASONS = {
    "none": Reason.NO_CARD,
    "hidden": Reason.CARD_HIDDEN,
    "several": Reason.SEVERAL_CARDS,
    "blurred": Reason.BLURRED,
    "small": Reason.TOO_SMALL,
}
"""Reason for each kind of `calibration.find_card.CardError`."""
