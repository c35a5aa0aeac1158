"""Numbers with units as a bike's file and the log hold them: what was written, its value and its uncertainty.

Lengths are read by `suspension.quantities.lengths`, with the uncertainty that `suspension.quantities.declared`
gives them. Here are the other units of the trade. A number without a unit is refused: it may be kilograms or pounds.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from ridelog.errors import AmountError
from suspension.quantities.declared import (
    RULE_U95_MM,
    DeclaredDimension,
    extended_length,
    marker_width,
    shaft_diameter,
    stroke_length,
)
from suspension.quantities.grammar import quote, read_term, split_doubt, tidy
from suspension.quantities.lengths import parse_length
from suspension.quantities.quantity import Quantity

DONT_KNOW = "don't know"
_DONT_KNOW = {"don't know", "dont know", "do not know", "unknown", "not known", "?", ""}

# The number, and the unit with its slash: "9.0 N/mm". The grammar of numbers is suspension's.
_SPLIT = re.compile(r"(?P<number>[-+]?[0-9.,/ ]*[0-9])\s*(?P<unit>[^0-9].*)?", re.DOTALL)


def is_dont_know(text: str) -> bool:
    """Whether a person said that they do not know; ’ and ' are the same."""
    return " ".join(text.replace("’", "'").lower().split()).rstrip(".") in _DONT_KNOW


@dataclass(frozen=True)
class Amount:
    """A number with its unit as a person wrote it.

    Attributes
    ----------
    quantity : Quantity
        Value and standard uncertainty, in `unit`.
    unit : str
        mm, kg, N/mm, N, deg, kPa or ml: one for each dimension.
    as_written : str
    uncertainty_given : bool
        Whether a ± was written, or the uncertainty assumed.
    remark : str
        Of a shaft, a marker, an extended length or a stroke: what its uncertainty was taken to be, a sentence.
    """

    quantity: Quantity
    unit: str
    as_written: str
    uncertainty_given: bool
    remark: str = ""

    @property
    def value(self) -> float:
        """The value alone, in `unit`."""
        return self.quantity.value

    @property
    def mm(self) -> Quantity:
        """The quantity of a length, mm.

        Raises
        ------
        AmountError
            It is no length.
        """
        if self.unit != "mm":
            raise AmountError(f"{quote(self.as_written)} is no length.", "Give it in mm or inches.")
        return self.quantity


@dataclass(frozen=True)
class Dimension:
    """What can be measured in one unit, and how people write it.

    Attributes
    ----------
    unit : str
        The one that values are kept in.
    spellings : dict of str to str
        What people write, in lower case, to pint's name for it.
    range : tuple of float
        Refused outside, in `unit`.
    u95_least, u95_share : float
        95 % half-width where no ± is written: at least so much, in `unit`, and at least so large a share of
        the value; half the last digit given counts where it is more. All [common practice, no source].
    example : str
    """

    unit: str
    spellings: dict[str, str]
    range: tuple[float, float]
    u95_least: float
    u95_share: float
    example: str


_POUND_FORCE, _KILOGRAM_FORCE = "force_pound", "kilogram_force"
MASS = Dimension(
    "kg",
    {"kg": "kilogram", "lb": "pound", "lbs": "pound"},
    (0.1, 1500.0),  # from a tank bag's map to a loaded outfit
    1.0,  # bathroom scales, and plates printed in whole kilograms
    0.0,
    "180 kg",
)
RATE = Dimension(
    "N/mm",
    {
        "n/mm": "newton/millimeter",
        "lbf/in": f"{_POUND_FORCE}/inch",
        "lb/in": f"{_POUND_FORCE}/inch",
        # Springs are sold so; a rate in kilograms can only mean the force.
        "kgf/mm": f"{_KILOGRAM_FORCE}/millimeter",
        "kg/mm": f"{_KILOGRAM_FORCE}/millimeter",
    },
    (1.0, 500.0),  # usual: 6 to 160
    0.0,
    0.05,  # springs of one batch
    "9.0 N/mm",
)
FORCE = Dimension(
    "N", {"n": "newton", "lbf": _POUND_FORCE, "kgf": _KILOGRAM_FORCE}, (0.0, 50000.0), 5.0, 0.02, "400 N"
)
STRESS = Dimension(
    "N/mm2",
    {
        "n/mm2": "newton/millimeter**2",
        "n/mm²": "newton/millimeter**2",
        "mpa": "megapascal",
        "gpa": "gigapascal",
    },
    (10000.0, 200000.0),  # titanium 44000, steel 77000 to 82000
    500.0,
    0.0,
    "79 GPa",
)
ANGLE = Dimension(
    "deg", {"deg": "degree", "°": "degree", "degrees": "degree"}, (0.0, 90.0), 0.5, 0.0, "25 deg"
)
PRESSURE = Dimension(
    "kPa",
    {"kpa": "kilopascal", "bar": "bar", "psi": "psi"},
    (0.0, 3000.0),
    5.0,  # a garage gauge
    0.0,
    "2.5 bar",
)
VOLUME = Dimension(
    "ml", {"ml": "milliliter", "cc": "cm**3", "cm3": "cm**3", "l": "liter"}, (1.0, 5000.0), 3.0, 0.0, "300 ml"
)


def amount(dimension: Dimension, text: str, *, name: str) -> Amount:
    """Read a number with its unit, and its uncertainty where one is given.

    Parameters
    ----------
    dimension : Dimension
    text : str
        Such as ``9.0 N/mm``, ``52 lbf/in``, ``210 kg ± 2 kg``.
    name : str
        What it is, as messages call it.

    Returns
    -------
    Amount

    Raises
    ------
    AmountError, suspension.errors.QuantityError
        No number, no unit, a unit of something else, or out of range.
    """
    remedy = f"Write one number and its unit, for example {dimension.example}."
    tidied = tidy(text)
    stated, doubt = split_doubt(tidied, name=name, remedy=remedy)
    stated = _with_unit_of(stated, doubt)
    value, place, unit = _number(stated, dimension, name, tidied, remedy)
    low, high = dimension.range
    if not low <= value <= high:
        raise AmountError(
            f"A {name} of {quote(tidied)} is {value:.4g} {dimension.unit}; "
            f"{low:g} to {high:g} {dimension.unit} is taken.",
            "Check the number and its unit, for example " + dimension.example + ".",
        )
    if doubt is None:
        u95 = max(dimension.u95_least, dimension.u95_share * value, place / 2)
    else:
        bare = _SPLIT.fullmatch(doubt)
        written = doubt if bare is None or bare["unit"] else f"{doubt} {unit}"
        u95 = _number(written, dimension, f"uncertainty of the {name}", tidied, remedy)[0]
        if u95 <= 0:
            raise AmountError(f"The uncertainty given for the {name} is zero.", "No measurement is exact.")
    return Amount(Quantity.from_u95(value, u95), dimension.unit, tidied, doubt is not None)


def _with_unit_of(stated: str, doubt: str | None) -> str:
    """Give the value the unit of its uncertainty: 210 ± 3 kg has one unit for both."""
    found, other = _SPLIT.fullmatch(stated), _SPLIT.fullmatch(doubt or "")
    if found is None or other is None or found["unit"] or not other["unit"]:
        return stated
    return f"{stated} {other['unit']}"


def _number(
    text: str, dimension: Dimension, name: str, written: str, remedy: str
) -> tuple[float, float, str]:
    found = _SPLIT.fullmatch(text)
    if found is None:
        raise AmountError(f"The {name} {quote(written)} is not one number and one unit.", remedy)
    number = read_term(found["number"].strip(), name=name, remedy=remedy).number
    unit = (found["unit"] or "").strip()
    if not unit:
        known = ", ".join(dict.fromkeys(dimension.spellings))
        raise AmountError(f"The {name} {quote(written)} has no unit ({known}).", remedy)
    if number.if_thousands is not None:
        raise AmountError(
            f"The comma in {quote(written)} can be a decimal comma or a thousands separator.",
            "Write it with a decimal point, and without thousands separators.",
        )
    spelling = dimension.spellings.get(unit.lower().replace(" ", ""))
    if spelling is None:
        known = ", ".join(dict.fromkeys(dimension.spellings))
        raise AmountError(f"The {name} cannot be in {quote(unit)}; {known} are known.", remedy)
    factor = _factor(spelling, dimension.unit)
    return float(number.value) * factor, float(number.place) * factor, unit


@cache
def _registry():  # type: ignore[no-untyped-def]
    import pint  # a third of a second that only a value with such a unit needs

    return pint.UnitRegistry()


@cache
def _factor(spelling: str, unit: str) -> float:
    target = {
        "deg": "degree",
        "N/mm": "newton/millimeter",
        "N/mm2": "newton/millimeter**2",
        "ml": "milliliter",
    }.get(unit, unit)
    return float(_registry().Quantity(1.0, spelling).to(target).magnitude)


def _declared(read: Callable[[str], DeclaredDimension]) -> Callable[[str], Amount]:
    def understand(text: str) -> Amount:
        found = read(text)
        return Amount(found.mm, "mm", found.as_written, found.uncertainty_given, found.remark)

    return understand


shaft = _declared(shaft_diameter)
extended = _declared(extended_length)
stroke = _declared(stroke_length)
strap = _declared(marker_width)


def by_rule(text: str, *, name: str, allow_zero: bool = False, u95_mm: float = RULE_U95_MM) -> Amount:
    """Read a length; without ± it is taken as measured with a ruler, 95 % within 0.5 mm.

    Raises
    ------
    suspension.errors.QuantityError
        Text that is no length.
    """
    found = parse_length(text, name=name, example="20 mm", allow_zero=allow_zero)
    if found.sd_mm is None:
        mm = Quantity.from_u95(found.value_mm, max(u95_mm, found.last_place_mm / 2))
    else:
        mm = Quantity(found.value_mm, found.sd_mm)
    return Amount(mm, "mm", found.as_written, found.uncertainty_given)
