"""Names of the rims on the shaft and of the lengths between them."""

from __future__ import annotations

from enum import StrEnum


class RimName(StrEnum):
    """Rims in their order along the shaft; the value is the name in JSON and in messages."""

    SEAL = "seal"
    MARKER_NEAR = "marker"
    """The marker's seal-side edge, which the lengths refer to."""
    MARKER_FAR = "marker end"
    FAR_END = "far end"

    @property
    def on_marker(self) -> bool:
        """Whether it is an edge of the marker's band."""
        return self in (RimName.MARKER_NEAR, RimName.MARKER_FAR)

    @property
    def shaft_follows(self) -> bool:
        """Whether the bare shaft lies on the far end's side of it."""
        return self in (RimName.SEAL, RimName.MARKER_FAR)


class LengthName(StrEnum):
    """Lengths along the shaft; the value is the name in JSON, `field` the name of its value there."""

    EXPOSED = "exposed"
    MARKER = "marker"
    REMAINING = "remaining"

    @property
    def field(self) -> str:
        """Name of the field that holds it, with its unit."""
        return f"{self.value}_mm"

    @property
    def rims(self) -> tuple[RimName, RimName]:
        """Rims between which it is measured: from, to."""
        return _RIMS_OF_LENGTH[self]


_RIMS_OF_LENGTH = {
    LengthName.EXPOSED: (RimName.SEAL, RimName.FAR_END),
    LengthName.MARKER: (RimName.SEAL, RimName.MARKER_NEAR),
    LengthName.REMAINING: (RimName.MARKER_NEAR, RimName.FAR_END),
}
