"""Pooled settings as lines for a person, and as fields for JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from strandline.pool.combine import PooledEnd, load_kg, trust
from strandline.shared.messages import printable
from strandline.shared.units import mass
from suspension.advice.cautions import Caution
from suspension.quantities.lengths import Units

INVENTED = "Invented demo data: no owner rode this."


def pool_lines(found: PooledEnd, units: Units) -> Iterator[str]:
    """Lines for a person."""
    owners = f"{found.owners} {'owner' if found.owners == 1 else 'owners'}"
    yield printable(
        f"{found.kind}, {found.end.value}: preload in {found.counted_in.value} from the soft end, {owners}"
    )
    if found.invented:
        yield f"  {INVENTED}"
    for point in found.points:
        yield f"  {mass(load_kg(point), units)} on the axle: {point.setting_steps.value:.1f}"
        if point.mean_interval is not None and point.owners > 2:
            low, high = point.mean_interval
            yield f"    the owners' mean is {max(0.0, low):.1f} to {high:.1f} (95 %)"
        if point.next_owner_interval is not None:
            low, high = point.next_owner_interval
            yield f"    another owner's best setting would be {max(0.0, low):.1f} to {high:.1f} (95 %)"
        yield f"    {point.trust}"
    yield f"  {trust(found)}"


def pool_fields(found: PooledEnd) -> dict[str, Any]:
    """Fields for JSON; loads in kg, settings in steps up from the soft end."""
    return {
        "kind": found.kind,
        "end": found.end.value,
        "counted_in": found.counted_in.value,
        "owners": found.owners,
        "invented": found.invented,
        "points": [
            {
                "axle_load_kg": round(load_kg(point), 3),
                "setting": point.setting_steps.value,
                "setting_u95": point.setting_steps.u95,
                "owners": point.owners,
                "tau": point.tau,
                "mean_interval": point.mean_interval,
                "next_owner_interval": point.next_owner_interval,
                "trust": point.trust,
            }
            for point in found.points
        ],
        "trust": trust(found),
    }


CAUTIONS = (Caution.LOAD, Caution.OTHERS_FIRST)
"""Somebody else's settings are no permission to load, and no advice on this bike."""
