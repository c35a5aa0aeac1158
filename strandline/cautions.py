"""What to take care of after a reading, said only where the reading gives cause."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strandline.used import Used
from suspension.measured import MeasuredLength

if TYPE_CHECKING:
    from vision.reading import Reading

# Source: the trade's cautions on markers and on hard knocks [common practice, no source].
AT_STOP = (
    "It may have bottomed: look for a leak, a bent tube or a cracked bumper before you ride on, and do not "
    "bottom it on purpose to measure more."
)
NO_ROOM = (
    "At full compression less room is left than the marker is wide: do not ride with it, for it would be "
    "crushed against the seal."
)


def cautions(reading: Reading, used: Used | None, marker_width: MeasuredLength | None) -> tuple[str, ...]:
    """Cautions that a reading gives cause for.

    Parameters
    ----------
    reading : Reading
    used : Used or None
    marker_width : MeasuredLength or None
        Width of the marker's band along the shaft, mm.

    Returns
    -------
    tuple of str
        A sentence each.
    """
    found = []
    answer = None if used is None else used.answer
    if reading.marker_at_stop or (answer is not None and answer.at_least):
        found.append(AT_STOP)
    room = None if answer is None else answer.shortest_exposed_mm
    if room is None or marker_width is None:
        return tuple(found)
    if room.value - room.u95 < marker_width.value_mm + marker_width.u95_mm:
        found.append(NO_ROOM)
    return tuple(found)
