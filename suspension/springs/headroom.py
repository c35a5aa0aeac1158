"""How hard the loop's worst hit was, and how much harder a hit the travel has room for."""

from __future__ import annotations

from dataclasses import dataclass

from suspension.errors import SuspensionError


@dataclass(frozen=True)
class Headroom:
    """A hit this many times as hard as the loop's worst reaches a limit; 1.23 is a hit a quarter harder.

    Attributes
    ----------
    to_bumper, to_stop : float or None
        None where Sb or S is not known.
    """

    to_bumper: float | None
    to_stop: float | None

    @property
    def words(self) -> str:
        """One sentence; "" where nothing is known."""
        parts = []
        for factor, what in ((self.to_bumper, "meets the bumper"), (self.to_stop, "reaches the hard stop")):
            if factor is not None and factor > 1:
                parts.append(f"{100 * (factor - 1):.0f} % harder {what}")
        return f"A hit {' and one '.join(parts)}, compared with the worst of this loop." if parts else ""


def headroom(used_mm: float, preload_mm: float, bumper_mm: float | None, stop_mm: float | None) -> Headroom:
    """Headroom of linear springs: (Sb + d)/(u + d) to the bumper, (S + d)/(u + d) to the stop [derived].

    Air and a ratio that rises add to it.

    Examples
    --------
    >>> found = headroom(79, 14, 90, 100)
    >>> f"{found.to_bumper:.2f} {found.to_stop:.2f}"
    '1.12 1.23'
    """
    if not used_mm + preload_mm > 0:
        raise SuspensionError("A ride without any stroke has no headroom.", "Ride, and read the marker.")

    def times(limit_mm: float | None) -> float | None:
        return None if limit_mm is None else (limit_mm + preload_mm) / (used_mm + preload_mm)

    return Headroom(times(bumper_mm), times(stop_mm))
