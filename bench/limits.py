"""Comparison of measured figures with the project's own limits."""

from __future__ import annotations

from dataclasses import dataclass

# Gain of two cores in plain arithmetic below which they count as busy with something else.
FREE_CORES = 1.9
CORES_LIMIT = 1.8


@dataclass(frozen=True)
class Result:
    """One figure as text, and whether it keeps its limit."""

    line: str
    kept: bool = True


def against(words: str, value: float, limit: float, at_least: bool = False) -> Result:
    """Compare a value with its limit, in one line of text.

    Parameters
    ----------
    words : str
    value, limit : float
    at_least : bool
        The limit is a lower one.
    """
    kept = value >= limit if at_least else value <= limit
    side = "at least" if at_least else "at most"
    return Result(f"{words}. Limit: {side} {limit:g}. {'Kept' if kept else 'NOT KEPT'}.", kept)


def if_free(words: str, gain: float, free: float, spun: str) -> list[Result]:
    """Judge the gain of two cores over one, only where they were free.

    Parameters
    ----------
    words : str
    gain : float
        Of the work in question.
    free : float
        Of plain arithmetic on the same cores.
    spun : str
        The latter in words.
    """
    ceiling = f"Plain arithmetic on the same cores: {spun}"
    if free < FREE_CORES:
        return [Result(words), Result(f"{ceiling}. The cores are not free: this cannot be judged now.")]
    return [against(words, gain, CORES_LIMIT, at_least=True), Result(ceiling)]
