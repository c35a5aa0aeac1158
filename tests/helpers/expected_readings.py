"""What each photo of a special case must be read as."""

from __future__ import annotations

from dataclasses import dataclass

from tests.helpers.special_photos import QUANTITIES
from vision.reading import Status
from vision.reasons import Reason


@dataclass(frozen=True)
class Expected:
    """What a reading must be beyond never being wrong.

    Attributes
    ----------
    statuses : tuple of Status
    reasons : tuple of Reason
        One of these must be given; empty: none need be.
    answered, hidden : tuple of str
        Lengths that must be there, and those that must not.
    at_stop : tuple
        What may be said of the marker at the stop.
    """

    statuses: tuple[Status, ...] = tuple(Status)
    reasons: tuple[Reason, ...] = ()
    answered: tuple[str, ...] = ()
    hidden: tuple[str, ...] = ()
    at_stop: tuple[bool | None, ...] = (False, None)


# Nothing about such a photo is so bad that a person would have to take it again.
READ = Expected((Status.READ,), answered=QUANTITIES, at_stop=(False,))
# Difficult photos: any answer within its uncertainty is accepted.
HONEST = Expected()
# Rings of colour without thickness are no marker; seal and clamp are in full view.
UNMARKED = Expected(
    (Status.PARTIAL,),
    (Reason.NO_MARKER, Reason.MARKER_UNCLEAR),
    answered=("exposed",),
    hidden=("marker", "remaining"),
    at_stop=(None,),
)


def _refused(reason: Reason) -> Expected:
    return Expected((Status.REFUSED,), (reason,), hidden=QUANTITIES)


EXPECTED = {
    **dict.fromkeys(("plain", "plain-far", "plain-tele", "slightly-curled-card", "no-exif"), READ),
    **dict.fromkeys(("glare-on-card", "finger-on-card", "thin-rod", "other-leg"), READ),
    # Solved for, and said.
    "curled-card": READ,
    # Read the other way round, and said (test_reasons.py); its fork stands on its head, too.
    "card-backwards": READ,
    **dict.fromkeys(("black-on-black", "o-ring", "tie-lock"), READ),
    **dict.fromkeys(("seal-right", "seal-bottom", "seal-left"), READ),
    **dict.fromkeys(("dark", "cropped", "cropped-off-centre", "gaiter"), HONEST),
    **dict.fromkeys(("dirt-rings", "paint-ring"), UNMARKED),
    "blurred": _refused(Reason.BLURRED),
    "hand-over-card": _refused(Reason.CARD_HIDDEN),
    # Card or diameter, one is wrong: within a large uncertainty, and with a remark (test_scale_check.py).
    "printed-small": HONEST,
    "several-cards": _refused(Reason.SEVERAL_CARDS),
    "two-shafts": _refused(Reason.TWO_SHAFTS),
    # Behind a coil: the remaining length to the bumper still gives the used stroke.
    **dict.fromkeys(
        ("hidden-seal", "hidden-edge"),
        Expected(
            (Status.PARTIAL,), (Reason.SEAL_HIDDEN,), answered=("remaining",), hidden=("exposed", "marker")
        ),
    ),
    # The reading is "at least": that must be said with whatever is answered.
    **dict.fromkeys(("marker-in-bumper", "marker-at-clamp"), Expected(at_stop=(True,))),
}
