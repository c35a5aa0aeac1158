"""The known word that a mistyped one is close to."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

# Share of letters in common from which two words count as close: difflib's own default, which takes "raed" for "read"
# and "sloo" for "solo", and leaves "sag" and "card" apart.
CLOSE = 0.6


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Ask whether the closest known word was meant.

    Parameters
    ----------
    word : str
        As typed; case does not matter.
    known : iterable of str

    Returns
    -------
    str
        A question, or "" where nothing is close.

    >>> did_you_mean("Grey-twim", ["grey-twin", "red-one"])
    'Did you mean grey-twin?'
    """
    folded = {one.casefold(): one for one in known}
    close = difflib.get_close_matches(word.casefold(), folded, 1, CLOSE)
    return f"Did you mean {folded[close[0]]}?" if close else ""
