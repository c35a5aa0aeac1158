"""Small photo files of each kind, and changes to them as fuzzers make without looking at what runs."""

from __future__ import annotations

import random
from pathlib import Path

SEEDS = sorted((Path(__file__).parents[1] / "fuzz" / "seeds" / "photo").iterdir())
ENDS = (
    b"\0\0\0\0",
    b"\xff\xff\xff\xff",
    b"\x7f\xff\xff\xff",
    b"\0\0\0\1",
    b"\xff\xd9",
    b"\xff\xda",
    b"IEND",
    b"ftypheic",
)


def mutated(content: bytes, chance: random.Random) -> bytes:
    """Change a file in one to six places."""
    for _ in range(chance.choice((1, 1, 2, 3, 6))):
        at = (
            chance.randrange(len(content) + 1)
            if chance.random() < 0.5
            else chance.randrange(min(len(content), 400) + 1)
        )
        other, size = chance.randrange(len(content) + 1), chance.randrange(1, 60)
        content = (
            chance.choice(
                (
                    content[:at] + bytes([chance.randrange(256)]) + content[at + 1 :],
                    content[:at] + chance.choice(ENDS) + content[at + 4 :],
                    content[:at] + content[at + size :],
                    content[:at] + content[other : other + size] + content[at:],
                    content[:at] + chance.randbytes(size) + content[at:],
                    content[: max(at, 8)],
                )
            )
            or b"\xff"
        )
    return content
