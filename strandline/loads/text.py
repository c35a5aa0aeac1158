"""A load case as lines for a person, and as fields for JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ridelog.bikes.bike import Bike
from ridelog.names import End
from ridelog.storage.records import LoadItem
from strandline.facts.frequency import ride_frequencies
from strandline.facts.loads import CaseLoads, item_name, kilograms
from strandline.shared.fields import DIGITS
from strandline.shared.messages import printable
from strandline.shared.units import in_units, mass
from suspension.advice.cautions import cautions_for_loads
from suspension.loads.loads import LoadSource
from suspension.quantities.lengths import Units

_SOURCE_TEXT = {
    LoadSource.SCALES: "Measured with scales.",
    LoadSource.MOMENTS: "Worked out from masses and where they are.",
    LoadSource.SCALES_AND_MOMENTS: "Worked out from the bare bike's wheel loads, and masses and where they are.",
}


def load_lines(loads: CaseLoads, bike: Bike, units: Units) -> Iterator[str]:
    """Lines for a person."""
    carried = [] if loads.case is None else [_item_text(one, units) for one in loads.case.items]
    yield printable(f"{loads.name}: {', '.join(carried)}" if carried else loads.name)
    for check in loads.checks:
        yield "  " + in_units(check.words, units)
    if loads.axles is not None:
        yield f"  {_SOURCE_TEXT[loads.axles.source]}"
        yield from (f"  {printable(in_units(remark, units))}" for remark in loads.axles.remarks)
    else:
        yield from (f"  {printable(line)}" for line in loads.missing)
    frequencies = ride_frequencies(bike, loads)
    if frequencies:
        each = ", ".join(f"{one.end.value} {one.hz:.1f} Hz" for one in frequencies)
        yield f"  Ride frequency: {each}."
        yield from (f"  {one.unusual}" for one in frequencies if one.unusual is not None)
    yield from (f"  {caution.value}" for caution in cautions_for_loads(loads.checks))


def _item_text(item: LoadItem, units: Units) -> str:
    weight = "mass not known" if item.mass_kg is None else mass(item.mass_kg.value, units)
    place = "place not known" if item.aft_mm is None else in_units(f"at {item.aft_mm.value:.0f} mm", units)
    return f"{item_name(item)} {weight} {place}"


def load_fields(loads: CaseLoads, bike: Bike) -> dict[str, Any]:
    """Fields for JSON; kg and mm."""
    items = () if loads.case is None else loads.case.items
    return {
        "load": loads.name,
        "carried": [
            {
                "what": one.what.value,
                "label": one.label,
                "mass_kg": None if one.mass_kg is None else _pair(one.mass_kg.value, one.mass_kg.u95),
                "behind_front_axle_mm": None
                if one.aft_mm is None
                else _pair(one.aft_mm.value, one.aft_mm.u95),
            }
            for one in items
        ],
        "source": None if loads.axles is None else loads.axles.source.value,
        "axles_kg": {} if loads.axles is None else _axles(loads),
        "checks": [
            {
                "what": check.what,
                "load_kg": None if check.load_kg is None else _pair(check.load_kg.value, check.load_kg.u95),
                "limit_kg": check.limit_kg,
                "verdict": check.verdict.value,
                "words": check.words,
            }
            for check in loads.checks
        ],
        "verdict": loads.verdict.value,
        "missing": list(loads.missing) if loads.axles is None else [],
        "ride_frequency_hz": {one.end.value: round(one.hz, 3) for one in ride_frequencies(bike, loads)},
        "remarks": [] if loads.axles is None else list(loads.axles.remarks),
        "cautions": [caution.value for caution in cautions_for_loads(loads.checks)],
    }


def _axles(loads: CaseLoads) -> dict[str, Any]:
    found = {}
    for end in End:
        load = loads.axle_n(end)
        assert load is not None
        kg = kilograms(load)
        found[end.value] = _pair(kg.value, kg.u95)
    return found


def _pair(value: float, u95: float) -> dict[str, float]:
    return {"value": round(value, DIGITS), "u95": round(u95, DIGITS)}
