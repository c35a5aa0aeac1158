"""Whether two readings of one photo agree: through two views along its shaft, or by two networks."""

from __future__ import annotations

from dataclasses import replace

from vision.names import LengthName
from vision.reading import Length, Note, Reading, Status
from vision.reasons import Reason


def agree(one: Reading, other: Reading) -> bool:
    """Whether no length that both know differs by more than the larger of its expanded uncertainties."""
    return not _apart(one, other)


def without_disagreement(reading: Reading, other: Reading) -> Reading:
    """Withhold the lengths that another look at the same photo puts elsewhere.

    Both see the same pixels, and share most of what they are uncertain by: where they differ by more than the larger
    of both uncertainties one of them looked at something else, and nothing says which.
    """
    apart = _apart(reading, other)
    if not apart:
        return reading
    notes = tuple(
        Note(
            Reason.UNCERTAIN,
            name,
            f"two looks along the shaft put it {abs(a.value_mm - b.value_mm):.1f} mm apart",
        )
        for name, a, b in apart
    )
    kept = {
        name: None if any(name is one for one, *_ in apart) else reading.length(name) for name in LengthName
    }
    return replace(
        reading,
        status=Status.PARTIAL if any(kept.values()) else Status.REFUSED,
        notes=(*reading.notes, *notes),
        exposed=kept[LengthName.EXPOSED],
        marker=kept[LengthName.MARKER],
        remaining=kept[LengthName.REMAINING],
    )


def marker_of_one(reading: Reading, other: Reading) -> bool:
    """Whether the other reading measures to a marker where this one sees no band round the shaft at all."""
    none_seen = any(note.reason is Reason.NO_MARKER for note in reading.notes)
    return none_seen and (other.marker is not None or other.remaining is not None)


def _apart(one: Reading, other: Reading) -> list[tuple[LengthName, Length, Length]]:
    both = [(name, one.length(name), other.length(name)) for name in LengthName]
    return [
        (name, a, b)
        for name, a, b in both
        if a is not None and b is not None and abs(a.value_mm - b.value_mm) > max(a.u95_mm, b.u95_mm)
    ]
