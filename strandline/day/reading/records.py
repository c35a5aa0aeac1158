"""The record of one photo's reading: typed values, and their JSON in the day's file."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from sys import intern
from typing import Any

from strandline.shared.fields import DIGITS
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.leg import State
from suspension.stroke.marker import LockFacing, Marker, MarkerKind
from suspension.stroke.shaft_lengths import ShaftLengths
from vision.names import LengthName

Matrix = tuple[tuple[float | None, ...], ...]


class StrokeName(StrEnum):
    """Values worked out from the lengths; each is the name of its field in JSON."""

    COMPRESSION = "compression_mm"
    USED = "used_mm"
    USED_PERCENT = "used_percent"
    RESERVE_BUMPER = "reserve_bumper_mm"
    RESERVE_HARD = "reserve_hard_mm"
    HARD_STOP = "hard_stop_mm"
    SHORTEST_EXPOSED = "shortest_exposed_mm"
    MARKER_POSITION = "marker_position_mm"


@dataclass(frozen=True, slots=True)
class ReasonRecord:
    """Why something was not read.

    Attributes
    ----------
    code : str
        For programs.
    quantity : LengthName or None
        None where it concerns the whole photo.
    what, advice : str
        A sentence each.
    """

    code: str
    quantity: LengthName | None
    what: str
    advice: str

    @property
    def text(self) -> str:
        """Both sentences."""
        return f"{self.what} {self.advice}".strip()


@dataclass(frozen=True, slots=True)
class ScaleRecord:
    """The photo's scale at the shaft, by the card and by the shaft's diameter.

    Attributes
    ----------
    card_px_per_mm, diameter_px_per_mm : float or None
    depth_gap_mm, depth_gap_sd_mm : float or None
        How far before the card's plane the shaft's middle lies, and its standard uncertainty.
    focal_px : float or None
    """

    card_px_per_mm: float | None
    diameter_px_per_mm: float | None
    depth_gap_mm: float | None
    depth_gap_sd_mm: float | None
    focal_px: float | None


@dataclass(frozen=True, slots=True)
class StrokeRecord:
    """Used stroke and reserves, as worked out from the lengths.

    Attributes
    ----------
    refusal : str or None
        Why there is no answer: lengths, leg and state contradict each other.
    bound : Bound
    values : mapping from StrokeName to Quantity
        Those that are known.
    withheld, remarks : tuple of str
        What could not be said, and what goes with what was said; a sentence each.
    """

    refusal: str | None = None
    bound: Bound = Bound.EXACT
    values: Mapping[StrokeName, Quantity] = field(default_factory=dict)
    withheld: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PhotoRecord:
    """A photo's reading under one set of inputs.

    Attributes
    ----------
    status : str
        "read", "partial" or "refused".
    lengths : mapping from LengthName to Quantity
        Those that were read, mm.
    covariance_mm2 : tuple of 3 tuples of 3 floats, or None
        Of the adjustment, mm squared, in the order of `LengthName`; None in it for what was not read.
    marker_at_stop : bool or None
    card : int or None
    reasons : tuple of ReasonRecord
        The weightiest first.
    scale : ScaleRecord or None
    marker : Marker
        As the bike's file describes it; its width as measured in the photo, where the file gives none.
    state : State
        Of the bike in the photo.
    stroke : StrokeRecord or None
        None where nothing was read, or nothing asks for it.
    cautions, remarks : tuple of str
    """

    status: str
    lengths: Mapping[LengthName, Quantity] = field(default_factory=dict)
    covariance_mm2: Matrix | None = None
    marker_at_stop: bool | None = None
    card: int | None = None
    reasons: tuple[ReasonRecord, ...] = ()
    scale: ScaleRecord | None = None
    marker: Marker = field(default_factory=Marker)
    state: State = State.UNKNOWN
    stroke: StrokeRecord | None = None
    cautions: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def is_refused(self) -> bool:
        """Whether no length was read."""
        return self.status == "refused"

    @property
    def shaft_lengths(self) -> ShaftLengths:
        """Lengths with their covariance, as the stroke's arithmetic takes them."""
        matrix = self.covariance_mm2
        exposed, marker, remaining = (self.lengths.get(name) for name in LengthName)
        return ShaftLengths.from_photo(
            *(exposed, marker, remaining),
            None if matrix is None else [[math.nan if x is None else x for x in row] for row in matrix],
        )

    def stroke_value(self, name: StrokeName) -> Quantity | None:
        """Value of the stroke; None where it is not known."""
        return None if self.stroke is None else self.stroke.values.get(name)

    def to_fields(self) -> dict[str, Any]:
        """Give the values as JSON has them, as ``strandline read --json`` names them."""
        return {
            "status": self.status,
            **{name.field: _length_fields(self.lengths.get(name)) for name in LengthName},
            "covariance_mm2": _matrix_fields(self.covariance_mm2),
            "marker_at_stop": self.marker_at_stop,
            "card": self.card,
            "reasons": [asdict(one) for one in self.reasons],
            "scale": _scale_fields(self.scale),
            "marker": {
                "kind": self.marker.kind.value,
                "lock": self.marker.lock.value,
                "width_mm": _length_fields(self.marker.width_mm),
            },
            "state": self.state.value,
            "stroke": None if self.stroke is None else _stroke_fields(self.stroke),
            "cautions": list(self.cautions),
            "remarks": list(self.remarks),
        }

    def to_json(self) -> str:
        """Write the record as one line of JSON, lengths to a millionth of a mm."""
        return json.dumps(self.to_fields(), allow_nan=False, sort_keys=True)

    @classmethod
    def from_json(cls, text: str) -> PhotoRecord:
        """Read what `to_json` wrote."""
        found = json.loads(text)
        marker, scale, stroke = found["marker"], found["scale"], found["stroke"]
        matrix = found["covariance_mm2"]
        return cls(
            status=found["status"],
            lengths={name: one for name in LengthName if (one := _quantity(found[name.field])) is not None},
            covariance_mm2=None if matrix is None else tuple(map(tuple, matrix)),
            marker_at_stop=found["marker_at_stop"],
            card=found["card"],
            reasons=tuple(map(_reason_from, found["reasons"])),
            scale=None if scale is None else ScaleRecord(**scale),
            marker=Marker(
                MarkerKind(marker["kind"]), _quantity(marker["width_mm"]), LockFacing(marker["lock"])
            ),
            state=State(found["state"]),
            stroke=None if stroke is None else _stroke_from(stroke),
            cautions=_sentences(found["cautions"]),
            remarks=_sentences(found["remarks"]),
        )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, DIGITS)


def _matrix_fields(matrix: Matrix | None) -> list[list[float | None]] | None:
    return None if matrix is None else [[_rounded(x) for x in row] for row in matrix]


def _scale_fields(scale: ScaleRecord | None) -> dict[str, float | None] | None:
    return None if scale is None else {name: _rounded(value) for name, value in asdict(scale).items()}


def _length_fields(one: Quantity | None) -> dict[str, float] | None:
    return None if one is None else {"value": round(one.value, DIGITS), "u95": round(one.u95, DIGITS)}


def _stroke_fields(stroke: StrokeRecord) -> dict[str, Any]:
    if stroke.refusal is not None:
        return {"status": "refused", "why": stroke.refusal}
    return {
        "status": "partial" if stroke.withheld else "answered",
        "bound": stroke.bound.value,
        **{name.value: _estimate_fields(stroke.values.get(name)) for name in StrokeName},
        "withheld": list(stroke.withheld),
        "remarks": list(stroke.remarks),
    }


def _estimate_fields(one: Quantity | None) -> dict[str, Any] | None:
    fields_of = _length_fields(one)
    return None if one is None or fields_of is None else {**fields_of, "bound": one.bound.value}


def _stroke_from(found: Mapping[str, Any]) -> StrokeRecord:
    if found["status"] == "refused":
        return StrokeRecord(refusal=found["why"])
    values = {name: one for name in StrokeName if (one := _quantity(found[name])) is not None}
    return StrokeRecord(
        None, Bound(found["bound"]), values, _sentences(found["withheld"]), _sentences(found["remarks"])
    )


def _quantity(found: Mapping[str, Any] | None) -> Quantity | None:
    if found is None:
        return None
    return Quantity.from_u95(found["value"], found["u95"], Bound(found.get("bound", Bound.EXACT)))


def _reason_from(found: Mapping[str, Any]) -> ReasonRecord:
    quantity = found["quantity"]
    length = None if quantity is None else LengthName(quantity)
    return ReasonRecord(found["code"], length, found["what"], found["advice"])


def _sentences(found: list[str]) -> tuple[str, ...]:
    """Intern the sentences of a record: thousands of records hold the same ones, so each is kept once."""
    return tuple(map(intern, found))


@dataclass(frozen=True)
class ReadingRow:
    """A reading under one set of inputs.

    Attributes
    ----------
    inputs_hash : str
        See `hash_of_inputs`.
    record : PhotoRecord
    picture : bytes or None
        The overlay, reduced, WebP without any EXIF; None for a photo of which nothing could be placed.
    """

    inputs_hash: str
    record: PhotoRecord
    picture: bytes | None
