"""Numbers in sentences in the owner's units: mm and kg, or inches and pounds."""

from __future__ import annotations

import re

from ridelog.bikes.bike import Adjuster
from ridelog.bikes.values import Count
from ridelog.names import Confidence
from ridelog.storage.records import AdjusterCount
from suspension.quantities.declared import Amount
from suspension.quantities.lengths import Units, format_length
from suspension.quantities.quantity import Bound, Quantity

# Both exact: NIST SP 811 (2008), B.8 (the inch; the avoirdupois pound).
MM_PER_IN = 25.4
KG_PER_LB = 0.45359237
# NIST SP 811 (2008), B.8: 1 psi = 6.894757 kPa
KPA_PER_PSI = 6.894757

# An amount in a sentence of the arithmetic's: "3 to 10 mm", "146 ± 2 kg", "4.5 mm".
_AMOUNT = re.compile(
    r"(?<![\w.])(?P<first>-?\d+(?:\.\d+)?)(?:(?P<between> ± | to )(?P<second>-?\d+(?:\.\d+)?))? (?P<unit>mm|kg)\b"
)


def in_units(sentence: str, units: Units) -> str:
    """Turn the amounts in a sentence into the owner's units; other text stays as it is.

    For sentences that a program made: what a person wrote is never to be changed.

    Parameters
    ----------
    sentence : str
        With amounts in mm and kg.
    units : Units
        Inches come with pounds.
    """
    return sentence if units is Units.MM else _AMOUNT.sub(_converted, sentence)


def _converted(found: re.Match[str]) -> str:
    per, unit, finer = (MM_PER_IN, "in", 2) if found["unit"] == "mm" else (KG_PER_LB, "lb", 0)
    numbers = [found["first"], found["second"]]
    # A mm is shown as hundredths of an inch: one place would hide what the mm say.
    places = finer + max(len(number.partition(".")[2]) for number in numbers if number is not None)
    shown = [f"{float(number) / per:.{places}f}" for number in numbers if number is not None]
    return f"{(found['between'] or '').join(shown)} {unit}"


def mass(kg: float, units: Units, u95_kg: float | None = None) -> str:
    """Write a mass: ``146 kg``, ``322 ± 4 lb``."""
    per, unit = (1.0, "kg") if units is Units.MM else (KG_PER_LB, "lb")
    numbers = [kg] if u95_kg is None else [kg, u95_kg]
    # + 0.0 turns a rounded -0.0 into 0.0
    return " ± ".join(f"{round(x / per) + 0.0:.0f}" for x in numbers) + f" {unit}"


def amount_text(amount: Amount, units: Units | None) -> str:
    """Write a bike file's value with its 95 % uncertainty.

    Parameters
    ----------
    amount : Amount
    units : Units or None
        None: as it is written in the file. Units of forces, rates and angles stay as they are written.
    """
    u95 = amount.quantity.u95
    if units is not None and amount.unit == "mm":
        return format_length(amount.value, units, u95_mm=u95)
    if units is not None and amount.unit == "kg":
        return mass(amount.value, units, u95)
    if units is Units.IN and amount.unit == "kPa":
        return f"{amount.value / KPA_PER_PSI:.1f} ± {u95 / KPA_PER_PSI:.1f} psi"
    return amount.as_written + ("" if amount.uncertainty_given else f" (± {u95:.3g} {amount.unit})")


def estimate_text(estimate: Quantity | None, units: Units) -> str:
    """Write a length with its 95 % uncertainty, or as a limit; a dash where it is not known."""
    if estimate is None:
        return "–"
    return _bound(estimate) + format_length(estimate.value, units, u95_mm=estimate.u95)


def percent_text(estimate: Quantity | None) -> str:
    """Write a percentage with its 95 % uncertainty; a dash where it is not known."""
    if estimate is None:
        return "–"
    decimals = 0 if estimate.u95 >= 0.95 else 1
    return f"{_bound(estimate)}{estimate.value:.{decimals}f} ± {estimate.u95:.{decimals}f} %"


def _bound(estimate: Quantity) -> str:
    return "" if estimate.bound is Bound.EXACT else f"{estimate.bound} "


def setting_text(setting: AdjusterCount) -> str:
    """Write a count, from which end, and whether it is sure."""
    if setting.count is None:
        return "not known"
    unsure = ", not sure" if setting.confidence is Confidence.IN_DOUBT else ""
    return f"{Count(setting.count, setting.kind).text} from the {setting.counted_from.value} end{unsure}"


def counted_in(adjuster: Adjuster) -> str:
    """Say how an adjuster is counted: "turns from the soft end"."""
    return f"{adjuster.kind.value} from the {adjuster.counted_from.value} end"
