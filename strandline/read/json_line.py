"""One photo's outcome as one line of JSON; what is not a finite number is null."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from strandline.read.one_photo import Outcome
from strandline.read.stroke import Used
from strandline.shared.fields import DIGITS, STROKE_ESTIMATES
from strandline.shared.messages import error_text
from suspension.quantities.quantity import Quantity
from suspension.stroke.stroke import StrokeAnswer

if TYPE_CHECKING:
    from vision.reading import Length, Reading


def json_line(
    outcome: Outcome,
    assumed: Iterable[str] = (),
    more: Mapping[str, Any] | None = None,
    *,
    curves: bool = False,
) -> str:
    """Write an outcome as one line.

    Parameters
    ----------
    outcome : Outcome
    assumed : iterable of str
        What was assumed about all photos; put before the photo's own.
    more : mapping, optional
        Fields that only some calls ask for, put last.
    curves : bool
        Also the curve of each rim, some 40 points in px.

    Returns
    -------
    str
        Strict JSON (RFC 8259) in ASCII, without a newline.
    """
    reading = outcome.reading
    fields = {
        "photo": outcome.name,
        "status": reading.status.value,
        "reason": outcome.code,
        "exposed_mm": _length(reading.exposed),
        "marker_mm": _length(reading.marker),
        "remaining_mm": _length(reading.remaining),
        "marker_at_stop": reading.marker_at_stop,
        "card": reading.card,
        "reasons": [
            {
                "code": message.code,
                "quantity": message.quantity,
                "what": message.what,
                "advice": message.advice,
            }
            for message in outcome.messages
        ],
        "scale": _scale(reading),
        "camera": _camera(reading),
        "marker_band_mm": _length(reading.marker_band_mm),
        "covariance_mm2": reading.covariance_mm2,
        "rims": [
            {
                "name": rim.name,
                "s_mm": rim.s_mm,
                "visible": rim.visible,
                **({"curve_px": rim.curve_px} if curves else {}),
            }
            for rim in reading.rims
        ],
        "card_outline_px": reading.card_outline_px,
        "stroke": _used(outcome.used),
        "cautions": list(outcome.cautions),
        "assumed": list(outcome.assumed_with(assumed)),
        "remarks": list(reading.remarks),
        "overlay": outcome.overlay,
        "sha256": outcome.sha256,
        **(more or {}),
    }
    return json.dumps(_finite(fields), allow_nan=False)


def _length(length: Length | None) -> dict[str, float] | None:
    if length is None or not (math.isfinite(length.value_mm) and math.isfinite(length.u95_mm)):
        return None
    return {"value": length.value_mm, "u95": length.u95_mm}


def _scale(reading: Reading) -> dict[str, float] | None:
    scale = reading.scale
    if scale is None:
        return None
    return {
        "card_px_per_mm": scale.card_px_per_mm,
        "diameter_px_per_mm": scale.diameter_px_per_mm,
        "depth_gap_mm": scale.depth_gap_mm,
        "depth_gap_sd_mm": scale.depth_gap_sd_mm,
    }


def _camera(reading: Reading) -> dict[str, Any] | None:
    pose = reading.pose
    if pose is None:
        return None
    return {
        "focal_px": pose.focal_px,
        "focal_source": pose.focal_source,
        "R_cam_card": pose.R_cam_card,
        "t_cam_card_mm": pose.t_cam_card_mm,
    }


def _used(used: Used | None) -> dict[str, Any] | None:
    if used is None:
        return None
    if used.refusal is not None:
        return {"status": "refused", "why": error_text(used.refusal)}
    assert used.answer is not None
    answer: StrokeAnswer = used.answer
    return {
        "status": "answered" if not answer.withheld else "partial",
        "bound": answer.bound.value,
        **{name: _estimate(getattr(answer, name)) for name in STROKE_ESTIMATES},
        "withheld": list(answer.withheld),
        "remarks": list(answer.remarks),
    }


def _estimate(estimate: Quantity | None) -> dict[str, Any] | None:
    if estimate is None:
        return None
    return {"value": estimate.value, "u95": estimate.u95, "bound": estimate.bound.value}


def _finite(value: Any) -> Any:
    """Plain lists, dicts and numbers; arrays unpacked, and null for what is not finite."""
    if hasattr(value, "tolist"):  # arrays and NumPy's own numbers
        value = value.tolist()
    if isinstance(value, dict):
        return {key: _finite(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(inner) for inner in value]
    if isinstance(value, float):
        return round(value, DIGITS) if math.isfinite(value) else None
    return value
