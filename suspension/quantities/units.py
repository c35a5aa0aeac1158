"""Units of the trade: how people write them, and their factors from one registry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any

# Nothing on a motorcycle that this tool asks for is longer: wheelbases end near 2 m [common practice, no
# source].
LONGEST_MM = 3000.0


@dataclass(frozen=True)
class Dimension:
    """What can be measured in one unit, and how people write it.

    Attributes
    ----------
    unit : str
        The one that values are kept in, as a person writes it.
    spellings : mapping from str to str
        What people write, without spaces and in any case, to pint's name for it; the first is `unit`.
    takes_others : bool
        Whether other units that pint knows are taken besides, each ± must name its own, and fractions are for
        inches alone: people measure lengths in more ways than they weigh.
    largest : float
        No value is larger, in `unit`: where a comma would make it so, it is no thousands separator.
    examples : tuple of str
        Further ways to write one, for messages.
    """

    unit: str
    spellings: Mapping[str, str]
    takes_others: bool = False
    largest: float = float("inf")
    examples: tuple[str, ...] = ()

    @property
    def known(self) -> str:
        """The units as people write them, each once, in a row."""
        first: dict[str, str] = {}
        for word, name in self.spellings.items():
            first.setdefault(name, word)
        return ", ".join(first.values())

    @property
    def other(self) -> str | None:
        """A unit that a number without a unit may also be in; None where there is no other."""
        own = self.spellings[self.unit]
        return next((word for word, name in self.spellings.items() if name != own), None)

    def factor(self, unit: str) -> Fraction | None:
        """How many of `unit` are in one of a unit as written; None for what is no unit of this dimension.

        >>> MASS.factor("lb")
        Fraction(45359237, 100000000)
        >>> LENGTH.factor("kg") is None
        True
        """
        written = unit.lower().replace(" ", "")
        named = (name for word, name in self.spellings.items() if word.lower() == written)
        name = next(named, unit if self.takes_others else None)
        return None if name is None else _factor(name, self.spellings[self.unit])


_POUND_FORCE, _KILOGRAM_FORCE = "force_pound", "kilogram_force"
LENGTH = Dimension(
    "mm",
    {
        "mm": "millimeter",  # in any case: phones turn "mm" into "Mm", which pint takes for megametres
        "in": "inch",
        "cm": "centimeter",
        "m": "meter",
        "inch": "inch",
        "inches": "inch",
        '"': "inch",
    },
    takes_others=True,
    largest=LONGEST_MM,
    examples=("41,5 mm", "1.614 in", "1 3/8 in"),
)
MASS = Dimension("kg", {"kg": "kilogram", "lb": "pound", "lbs": "pound"})
RATE = Dimension(
    "N/mm",
    {
        "N/mm": "newton/millimeter",
        "lbf/in": f"{_POUND_FORCE}/inch",
        "lb/in": f"{_POUND_FORCE}/inch",
        # Springs are sold so; a rate in kilograms can only mean the force.
        "kgf/mm": f"{_KILOGRAM_FORCE}/millimeter",
        "kg/mm": f"{_KILOGRAM_FORCE}/millimeter",
    },
)
FORCE = Dimension("N", {"N": "newton", "lbf": _POUND_FORCE, "kgf": _KILOGRAM_FORCE})
STRESS = Dimension("N/mm2", {"N/mm2": "newton/millimeter**2", "MPa": "megapascal", "GPa": "gigapascal"})
ANGLE = Dimension("deg", {"deg": "degree", "°": "degree", "degrees": "degree"})
PRESSURE = Dimension("kPa", {"kPa": "kilopascal", "bar": "bar", "psi": "psi"})
VOLUME = Dimension("ml", {"ml": "milliliter", "cc": "cm**3", "cm3": "cm**3", "l": "liter"})


@cache
def _registry() -> tuple[Any, Any]:
    import pint  # a third of a second, and `strandline --help` needs none of it

    return pint, pint.UnitRegistry(non_int_type=Fraction)  # exact: an inch is 25.4 mm, not 25.399…


@cache
def _factor(name: str, target: str) -> Fraction | None:
    """Give the exact factor between two of pint's units; None where there is none."""
    if name == target:
        return Fraction(1)
    pint, registry = _registry()
    try:
        return Fraction(registry.Quantity(Fraction(1), registry.Unit(name)).to(target).magnitude)
    except (pint.PintError, ValueError, TypeError, AttributeError):
        return None
