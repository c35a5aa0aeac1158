"""A name as it is typed in a shell, with quotes only where the shell needs them."""

from __future__ import annotations

import shlex


def as_typed(name: str) -> str:
    """Write a name for a command that takes several words.

    >>> as_typed("Grey twin")
    'Grey twin'
    """
    words = name.split()
    plain = " ".join(words) == name and all(shlex.quote(word) == word for word in words)
    return name if plain else shlex.quote(name)
