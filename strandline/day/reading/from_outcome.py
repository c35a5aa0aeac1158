"""What the day keeps of a photo's outcome, and of the inputs under which it was read."""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from strandline.day.reading.records import (
    PhotoRecord,
    ReasonRecord,
    ScaleRecord,
    StrokeName,
    StrokeRecord,
)
from strandline.read.stroke import quantity_of
from strandline.shared.messages import error_text
from suspension.quantities.quantity import Quantity
from vision.names import LengthName

if TYPE_CHECKING:
    from strandline.read.inputs import ReadInputs
    from strandline.read.one_photo import Outcome
    from strandline.read.stroke import Used
    from vision.reading import Length, Reading


def photo_record(outcome: Outcome, inputs: ReadInputs) -> PhotoRecord:
    """Take from a photo's outcome what the day keeps.

    Parameters
    ----------
    outcome : Outcome
    inputs : ReadInputs
        Under which it was read.
    """
    reading = outcome.reading
    lengths = zip(LengthName, (reading.exposed, reading.marker, reading.remaining), strict=True)
    matrix = reading.covariance_mm2
    width_mm = inputs.marker.width_mm or _measured(reading.marker_band_mm)
    return PhotoRecord(
        status=reading.status.value,
        lengths={name: one for name, length in lengths if (one := _measured(length)) is not None},
        covariance_mm2=None if matrix is None else tuple(tuple(map(_finite, row)) for row in matrix.tolist()),
        marker_at_stop=reading.marker_at_stop,
        card=reading.card,
        reasons=tuple(ReasonRecord(one.code, one.quantity, one.what, one.advice) for one in outcome.messages),
        scale=_scale(reading),
        marker=replace(inputs.marker, width_mm=width_mm),
        state=inputs.state,
        stroke=None if outcome.used is None else _stroke(outcome.used),
        cautions=outcome.cautions,
        remarks=reading.remarks,
    )


def _measured(length: Length | None) -> Quantity | None:
    if length is None or not (math.isfinite(length.value_mm) and math.isfinite(length.u95_mm)):
        return None
    return quantity_of(length)


def _scale(reading: Reading) -> ScaleRecord | None:
    scale = reading.scale
    if scale is None:
        return None
    return ScaleRecord(
        _finite(scale.card_px_per_mm),
        _finite(scale.diameter_px_per_mm),
        _finite(scale.depth_gap_mm),
        _finite(scale.depth_gap_sd_mm),
        None if reading.pose is None else _finite(reading.pose.focal_px),
    )


def _stroke(used: Used) -> StrokeRecord:
    if used.refusal is not None:
        return StrokeRecord(refusal=error_text(used.refusal))
    answer = used.answer
    assert answer is not None
    values = {name: one for name in StrokeName if (one := getattr(answer, name.value)) is not None}
    return StrokeRecord(None, answer.bound, values, tuple(answer.withheld), tuple(answer.remarks))


def _finite(value: float | None) -> float | None:
    return float(value) if value is not None and math.isfinite(value) else None


def hash_of_inputs(inputs: ReadInputs) -> str:
    """Hash what is known of a photo beforehand: all that its reading depends on besides photo and program."""
    text = json.dumps(asdict(inputs), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()
