"""Card, clip-on tags and time of a photo."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from strandline.shared.messages import printable, sentence

if TYPE_CHECKING:
    import numpy as np

    from calibration.find_card import CardSighting
    from calibration.photo import Photo

# A tag is clipped to the end opposite the arrow. Board coordinates, mm: the clip may reach over the margin, tags
# may hang in a row, and a helper's clip is not square.
TAG_X_MM = (-45.0, 81.0)
TAG_Y_MM = (150.0, 260.0)
# A 9 mm marker that lies up to some 15 mm before or behind the card's plane, at 250 mm, or stands at a slant
# [estimated]; a stray decode somewhere in the picture has no reason to be of that size.
TAG_SIDE_MM = (6.5, 12.0)


@dataclass(frozen=True)
class Sighting:
    """Card, tags and time of one photo, whoever it belongs to.

    Attributes
    ----------
    when : str or None
        EXIF's time on the phone's own clock, ISO 8601 without a zone.
    card : int or None
        Number of the one card in it.
    tags : tuple of str
        What its clip-on tags say: "front left", "before".
    problem : str or None
        Why there is no card: "unreadable" or "fault" for the file as a whole; else a code of `vision.reasons.Reason`.
    what, advice : str
        The problem in words, and what to do about it.
    """

    when: str | None = None
    card: int | None = None
    tags: tuple[str, ...] = ()
    problem: str | None = None
    what: str = ""
    advice: str = ""

    @property
    def as_text(self) -> str:
        """JSON for the day's file."""
        return json.dumps(asdict(self))

    @classmethod
    def from_text(cls, text: str) -> Sighting:
        """Read what `as_text` wrote."""
        values = json.loads(text)
        return cls(**{**values, "tags": tuple(values["tags"])})


def sighting_of(photo: Photo) -> tuple[Sighting, CardSighting | None]:
    """Find the card and its tags.

    Parameters
    ----------
    photo : Photo

    Returns
    -------
    sighting : Sighting
    card : CardSighting or None
        The card as reading takes it, in the photo as it is stored; None where it cannot be used.
    """
    import cv2

    from calibration.find_card import CardError, find_card
    from vision.reasons import CARD_REASONS

    when = None if photo.exif.when is None else photo.exif.when.isoformat()
    try:
        seen = find_card(photo.stored)
    except CardError as error:
        reason = CARD_REASONS[error.kind]
        what = printable(sentence(error.message))
        return Sighting(when=when, problem=reason.value, what=what, advice=reason.advice), None
    tags = tags_in_place(cv2.cvtColor(photo.stored, cv2.COLOR_RGB2GRAY), seen) if seen.tags else ()
    return Sighting(when=when, card=seen.number, tags=tags), seen


def tags_in_place(grey: np.ndarray, seen: CardSighting) -> tuple[str, ...]:
    """Find the tags that have a tag's size and lie where tags are clipped.

    About one photo in ten has a marker decoded where there is none. Were it one of the seven tags, it would put
    a reading on the wrong leg, so that place and size have to fit too.

    Parameters
    ----------
    grey : ndarray of uint8, shape (h, w)
    seen : CardSighting

    Returns
    -------
    tuple of str
        In the order of their ids.
    """
    import cv2
    import numpy as np

    from calibration import card
    from calibration.markers import marker_dictionary

    to_board, _ = cv2.findHomography(seen.corners_px, card.corners_mm()[seen.corner_ids])
    if to_board is None:
        return ()
    quads, ids, _ = cv2.aruco.ArucoDetector(marker_dictionary()).detectMarkers(grey)
    found = {}
    for quad, number in zip(quads, [] if ids is None else [int(one) for one in ids.ravel()], strict=True):
        if number not in card.TAGS:
            continue
        corners_mm = cv2.perspectiveTransform(quad.reshape(1, 4, 2).astype(float), to_board)[0]
        sides_mm = np.linalg.norm(corners_mm - np.roll(corners_mm, 1, axis=0), axis=1)
        x, y = corners_mm.mean(axis=0)
        in_place = TAG_X_MM[0] < x < TAG_X_MM[1] and TAG_Y_MM[0] < y < TAG_Y_MM[1]
        if in_place and TAG_SIDE_MM[0] < sides_mm.mean() < TAG_SIDE_MM[1]:
            found[number] = card.TAGS[number].value
    return tuple(found[number] for number in sorted(found))
