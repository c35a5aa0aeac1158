"""What a point of the reader view can show."""

from __future__ import annotations

from enum import IntEnum


class Part(IntEnum):
    """Classes in the order of the reader network's channels."""

    ELSE = 0
    SHAFT = 1
    SEAL = 2
    MARKER = 3
    FAR_END = 4
    IN_FRONT = 5
    LOCK = 6
