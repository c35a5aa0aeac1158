"""Axle loads against the plate: total, front and rear each. Preload never raises a load rating."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from suspension.loads.loads import AxleLoads, mass_kg
from suspension.quantities.quantity import Quantity


class LoadVerdict(StrEnum):
    """A load against its limit; there is no "OK" for what was not checked."""

    WITHIN = "within its limit"
    BETWEEN = "at its limit, within the uncertainty"
    OVER = "over its limit"
    NOT_CHECKED = "load not checked"


@dataclass(frozen=True)
class Plate:
    """What the plate permits, kg; what is not known is None."""

    total_kg: float | None = None
    front_kg: float | None = None
    rear_kg: float | None = None


@dataclass(frozen=True)
class LoadCheck:
    """One load against its limit.

    Attributes
    ----------
    what : str
        "total", "front axle" or "rear axle".
    load_kg : Quantity or None
    limit_kg : float or None
    verdict : LoadVerdict
    words : str
        A sentence for the person.
    """

    what: str
    load_kg: Quantity | None
    limit_kg: float | None
    verdict: LoadVerdict
    words: str


def check_loads(loads: AxleLoads | None, plate: Plate) -> tuple[LoadCheck, LoadCheck, LoadCheck]:
    """Check the sum and each axle.

    Parameters
    ----------
    loads : AxleLoads or None
        None: not known, and nothing is checked.
    plate : Plate

    Returns
    -------
    tuple of 3 LoadCheck
        Total, front, rear; on the interval load +- U (k = 2).
    """
    return (
        _check("total", None if loads is None else loads.total_n, plate.total_kg),
        _check("front axle", None if loads is None else loads.front_n, plate.front_kg),
        _check("rear axle", None if loads is None else loads.rear_n, plate.rear_kg),
    )


def worst(checks: tuple[LoadCheck, ...]) -> LoadVerdict:
    """Choose the verdict that counts: over before at the limit before not checked before within."""
    order = (LoadVerdict.OVER, LoadVerdict.BETWEEN, LoadVerdict.NOT_CHECKED, LoadVerdict.WITHIN)
    found = {check.verdict for check in checks}
    return next((verdict for verdict in order if verdict in found), LoadVerdict.NOT_CHECKED)


def _check(what: str, load_n: Quantity | None, limit_kg: float | None) -> LoadCheck:
    load = None if load_n is None else Quantity(mass_kg(load_n.value), mass_kg(load_n.sigma))
    if load is None or limit_kg is None:
        missing = "the plate's limit" if load is not None else "the load"
        return LoadCheck(
            what,
            load,
            limit_kg,
            LoadVerdict.NOT_CHECKED,
            f"The {what}: load not checked, {missing} is not known.",
        )
    shown = f"The {what} carries {load.value:.0f} ± {load.u95:.0f} kg of {limit_kg:.0f} kg"
    if load.value - load.u95 > limit_kg:
        return LoadCheck(
            what,
            load,
            limit_kg,
            LoadVerdict.OVER,
            f"{shown}: over its limit. Take load off; no preload makes up for it.",
        )
    if load.value + load.u95 > limit_kg:
        return LoadCheck(
            what, load, limit_kg, LoadVerdict.BETWEEN, f"{shown}: it may be over. Weigh it on scales."
        )
    return LoadCheck(what, load, limit_kg, LoadVerdict.WITHIN, f"{shown}.")
