"""Numbers as people write them: decimal point or comma, fractions of an inch, and an uncertainty after ±.

Only the grammar is here, no units: `stated` gives numbers their units, `print_scale` its ratio.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction

from suspension.errors import QuantityError

# Nobody writes a longer quantity; what is longer is a paste gone wrong and is not echoed in full.
LONGEST_TEXT = 60

# An inch rule is halved again and again; 1/128 is finer than any rule is cut [common practice, no source].
INCH_DENOMINATORS = (2, 4, 8, 16, 32, 64, 128)

_DECIMAL = r"(?P<decimal>[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
_FRACTION = r"(?:(?P<whole>[0-9]+)(?:\ +|-))?(?P<top>[0-9]+)\ ?/\ ?(?P<bottom>[0-9]+)"
# Letters, and a power, as in mm, N / mm and cm3; or one of the signs that stand for a unit.
_UNIT = r"(?P<unit>[^\W\d_]+[23]?(?:\ ?/\ ?[^\W\d_]+[23]?)?|[%\"°])"
_TERM = re.compile(rf"(?:{_FRACTION}|{_DECIMAL})\ *{_UNIT}?", re.VERBOSE)
_PLUS_MINUS = re.compile(r"\+\s*/\s*-|\+\s*-|±")
_NOT_A_NUMBER = re.compile(r"[-+]?(nan|inf|infinity)\b", re.IGNORECASE)
_TOO_MANY_MARKS = re.compile(r"[0-9][.,'][0-9]+[.,'][0-9]|[0-9] [0-9]{3}(?![0-9/])|[0-9]'[0-9]")
_INCH_MARKS = re.compile(r"[″“”]|''|’’|′′")
# Vulgar fractions of one character, ½ to ⅞; a space keeps "1½" from turning into "11/2".
_VULGAR = re.compile(r"([¼-¾⅐-⅞])")


@dataclass(frozen=True)
class Number:
    """One number as written.

    Attributes
    ----------
    value : Fraction
        Exact, so that 1 3/8 stays 11/8 until it meets a unit.
    place : Fraction
        Size of the last digit or fraction given: 0.01 in "41.02", 1 in "41", 1/8 in "1 3/8".
    if_thousands : Fraction or None
        The value if the comma were a thousands separator, where it could be one ("1,234"); else None.
    is_fraction : bool
        Written with a fraction bar.
    """

    value: Fraction
    place: Fraction
    if_thousands: Fraction | None = None
    is_fraction: bool = False


@dataclass(frozen=True)
class Term:
    """A number and the word after it ("" where there is none)."""

    number: Number
    unit: str


def tidy(text: str) -> str:
    """Bring typographic variants to plain ones: spaces, dashes, inch marks, one-character fractions, ±."""
    text = _INCH_MARKS.sub('"', text)
    text = _VULGAR.sub(r" \1", text)
    text = unicodedata.normalize("NFKC", text)  # full-width digits, no-break spaces, ½ as 1⁄2
    text = text.replace("⁄", "/").replace("−", "-").replace("–", "-")
    text = _PLUS_MINUS.sub("±", text)
    return " ".join(text.split())


def quote(text: str) -> str:
    """Show the text in a message: on one line, unprintable characters escaped, cut where it is too long."""
    shown = text if len(text) <= LONGEST_TEXT else text[:LONGEST_TEXT] + "…"
    return "“" + "".join(c if c.isprintable() else repr(c)[1:-1] for c in shown) + "”"


def split_uncertainty(text: str, *, name: str, remedy: str) -> tuple[str, str | None]:
    """Split tidy text at its ± into what is stated and its uncertainty (None where no ± is written).

    Raises
    ------
    QuantityError
        More than one ±, or nothing on one of its sides.
    """
    if not text:
        raise QuantityError(f"Nothing is given for the {name}.", remedy)
    if len(text) > LONGEST_TEXT:
        raise QuantityError(f"The {name} is too long a text for a quantity: {quote(text)}.", remedy)
    if text.startswith("(") and ")" in text:  # (41 ± 0.05) mm: NIST SP 811, 7.7 (memory)
        inside, _, after = text[1:].partition(")")
        text = inside.strip() + " " + after.strip()
    parts = [part.strip() for part in text.split("±")]
    if len(parts) > 2 or not all(parts):
        raise QuantityError(
            f"The ± in {quote(text)} for the {name} does not stand between two numbers.", remedy
        )
    return parts[0], parts[1] if len(parts) == 2 else None


def read_term(text: str, *, name: str, remedy: str) -> Term:
    """Read one number and the word after it.

    Parameters
    ----------
    text : str
        Tidy text without ±.
    name : str
        What the number is for, as the message calls it.
    remedy : str
        How to write it right, with an example.

    Raises
    ------
    QuantityError
        Not a number, negative, thousands separators, a fraction no inch rule has, mixed forms.
    """
    if not text:
        raise QuantityError(f"A number is missing in the {name}.", remedy)
    if _NOT_A_NUMBER.match(text):
        raise QuantityError(f"The {name} must be a real number, not {quote(text)}.", remedy)
    if text.startswith("-"):
        raise QuantityError(f"The {name} cannot be negative: {quote(text)}.", remedy)
    if _TOO_MANY_MARKS.search(text):
        raise QuantityError(
            f"The {name} {quote(text)} can be read in more than one way: which mark is the decimal one?",
            "Leave thousands separators out and use one decimal mark only. " + remedy,
        )
    found = _TERM.fullmatch(text)
    if found is None:
        raise QuantityError(f"The {name} {quote(text)} is not one number and one unit.", remedy)
    unit = found["unit"] or ""
    if found["decimal"] is not None:
        return Term(_decimal(found["decimal"]), unit)
    return Term(_fraction(found["whole"], found["top"], found["bottom"], name, text, remedy), unit)


def _decimal(digits: str) -> Number:
    whole, _, part = digits.replace(",", ".").partition(".")
    place = Fraction(1, 10 ** len(part))
    thousands = "," in digits and len(part) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0")
    return Number(
        value=Fraction(int((whole or "0") + part)) * place,
        place=place,
        if_thousands=Fraction(int(whole + part)) if thousands else None,
    )


def _fraction(whole: str | None, top: str, bottom: str, name: str, text: str, remedy: str) -> Number:
    numerator, denominator = int(top), int(bottom)
    if denominator not in INCH_DENOMINATORS:
        raise QuantityError(
            f"The fraction in {quote(text)} for the {name} is not one of an inch rule (halves to 128ths).",
            remedy,
        )
    if whole is not None and not 0 < numerator < denominator:
        raise QuantityError(f"In {quote(text)} for the {name}, the fraction is not between 0 and 1.", remedy)
    value = int(whole or 0) + Fraction(numerator, denominator)
    return Number(value=value, place=Fraction(1, denominator), is_fraction=True)
