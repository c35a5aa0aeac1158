"""One line of a roster as typed values: which card serves whose shaft, and what is known of that shaft."""

from __future__ import annotations

from dataclasses import dataclass, field

from ridelog.bikes.bike import BikeLeg
from ridelog.names import End, LegName
from strandline.day.identify.window import Window
from suspension.quantities.declared import Amount
from suspension.quantities.print_scale import PrintScale
from suspension.stroke.leg import Layout, State
from suspension.stroke.marker import MarkerKind

SIDES = ("left", "right", "single")


@dataclass(frozen=True)
class RosterLine:
    """One line of the roster; a garage's page and a spreadsheet fill the same values.

    Attributes
    ----------
    card : int or None
        Number of the card; None where it has still to be given.
    label : str
        The entrant's.
    kind : Layout or None
        Of the leg that the line describes.
    shaft, hanging, stroke : Amount or None
        Diameter; length from the seal to the far end with the wheel free; stroke to the hard stop; mm.
    end : End or None
        As written; see `described_end`.
    side : str or None
        "left", "right" or "single"; None for both sides alike, or one in the middle.
    marker_kind : MarkerKind
    marker_color : str or None
    marker_width : Amount or None
        mm.
    print_scale : PrintScale or None
        Of the card; None where the line says nothing.
    state : State or None
        How the bike stood in the photos.
    window : Window
    bike_file : str
        As written, below the roster's folder; "" for none.
    note : str
    number : int
        Line in the file; 0 for a line that is not in one.
    """

    card: int | None
    label: str
    kind: Layout | None = None
    shaft: Amount | None = None
    hanging: Amount | None = None
    stroke: Amount | None = None
    end: End | None = None
    side: str | None = None
    marker_kind: MarkerKind = MarkerKind.UNKNOWN
    marker_color: str | None = None
    marker_width: Amount | None = None
    print_scale: PrintScale | None = None
    state: State | None = None
    window: Window = field(default_factory=Window)
    bike_file: str = ""
    note: str = ""
    number: int = 0

    @property
    def entrant(self) -> tuple[str, str]:
        """Label and bike's file: several lines may serve one entrant."""
        return self.label, self.bike_file

    @property
    def described_end(self) -> End | None:
        """The end: as written, else the one where such a leg usually is."""
        if self.end is not None or self.kind is None:
            return self.end
        return End.REAR if self.kind is Layout.SHOCK else End.FRONT

    @property
    def leg_names(self) -> tuple[LegName, ...]:
        """Legs that the line may stand for: without a side the end as a whole, and both of its sides."""
        end = self.described_end
        if end is None:
            return ()
        whole, left, right = (LegName(f"{end.value}{more}") for more in ("", "-left", "-right"))
        return {"left": (left,), "right": (right,), "single": (whole,)}.get(
            self.side or "", (whole, left, right)
        )

    def leg(self, name: LegName) -> BikeLeg | None:
        """Describe a leg as a bike's file would; None where the line does not say what kind it is."""
        if self.kind is None:
            return None
        return BikeLeg(
            name,
            self.kind,
            shaft=self.shaft,
            extended=self.hanging,
            stroke=self.stroke,
            marker_kind=self.marker_kind,
            marker_width=self.marker_width,
            marker_color=self.marker_color,
        )
