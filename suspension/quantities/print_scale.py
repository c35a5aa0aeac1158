"""The print scale: how long the printed card's 100 mm bars really are, measured over nominal."""

from __future__ import annotations

import re
from dataclasses import dataclass

from suspension.errors import QuantityError
from suspension.quantities.grammar import quote, read_term, split_uncertainty, tidy
from suspension.quantities.quantity import COVERAGE_FACTOR

# 95 % half-width where no ± is written: the 100 mm bar by caliper, 0.2 mm. The project's own requirement.
BAR_BY_CALIPER_U95 = 0.002
# 95 % half-width of a sheet that nobody measured: fit-to-page shrinks a sheet by a few percent
# [common practice, no source].
UNMEASURED_U95 = 0.03
# Refused outside: beyond these the sheet was copied or printed on purpose at another size.
PLAUSIBLE = (0.8, 1.25)

_EXAMPLES = "0.98, 98 %, 0.98 x 0.985 (along x across) or 0.98 ± 0.002"
_REMEDY = f"Divide the length of the printed 100 mm bar by 100 mm and write, for example, {_EXAMPLES}."
_TIMES = re.compile(r" ?[x×*] ?|(?<=[0-9%]) by (?=[0-9.,])", re.IGNORECASE)


@dataclass(frozen=True)
class PrintScale:
    """Measured over nominal size of the printed card.

    Attributes
    ----------
    along, across : float
        Along the card's long edge and across it.
    sd : float
        Standard uncertainty of each.
    stated : bool
        False where nobody measured the sheet; 1 is then only the best guess.
    separate : bool
        Whether along and across were stated as two numbers.
    remark : str
        A sentence for the person: what was assumed.
    """

    along: float
    across: float
    sd: float
    stated: bool
    separate: bool
    remark: str


def print_scale(text: str | None) -> PrintScale:
    """Read a print scale: one number, or along x across; a ± states the 95 % half-width of each.

    Parameters
    ----------
    text : str or None
        Such as ``0.98``, ``98 %``, ``0.98 x 0.985 ± 0.002``. None: nobody measured it.

    Returns
    -------
    PrintScale

    Raises
    ------
    QuantityError
        No ratio, another unit, or outside 0.8 to 1.25.
    """
    if text is None:
        return PrintScale(
            along=1.0,
            across=1.0,
            sd=UNMEASURED_U95 / COVERAGE_FACTOR,
            stated=False,
            separate=False,
            remark="No print scale is given: the sheet is not measured and taken as 1, 95 % within "
            f"{UNMEASURED_U95:g}. Measure the 100 mm bar with a caliper for a more accurate reading.",
        )
    tidied = tidy(text)
    stated, half = split_uncertainty(tidied, name="print scale", remedy=_REMEDY)
    terms = [_ratio(part, tidied) for part in _TIMES.split(stated)]
    if len(terms) > 2:
        raise QuantityError(f"The print scale {quote(tidied)} has more than two numbers.", _REMEDY)
    half_width = None if half is None else _ratio(half, tidied, name="uncertainty of the print scale")
    percents = _percents(terms, half_width, tidied)
    factor = 0.01 if percents else 1.0
    ratios = [value * factor for value, _ in terms]
    low, high = PLAUSIBLE
    for ratio in ratios:
        if not low <= ratio <= high:
            raise QuantityError(
                f"A print scale of {quote(tidied)} is {ratio:.4g}; this tool takes {low:g} to {high:g}.",
                _out_of_range_remedy(ratio),
            )
    if half_width is not None and half_width[0] == 0.0:
        raise QuantityError(
            "An uncertainty of zero is given for the print scale: no measurement is exact.",
            "State the half-width of the 95 % interval, or leave the ± out.",
        )
    u95 = BAR_BY_CALIPER_U95 if half_width is None else half_width[0] * factor
    if u95 >= high - low:
        raise QuantityError(
            f"The uncertainty of the print scale {quote(tidied)} covers all that is possible.", _REMEDY
        )
    how = (
        "taken as given"
        if half_width
        else "no ± is given, so it is taken as the 100 mm bar measured with a caliper"
    )
    return PrintScale(
        along=ratios[0],
        across=ratios[-1],
        sd=u95 / COVERAGE_FACTOR,
        stated=True,
        separate=len(ratios) == 2,
        remark=f"Print scale {tidied}: {how}, 95 % within {u95:.3g}.",
    )


def _ratio(part: str, whole: str, name: str = "print scale") -> tuple[float, bool]:
    """Read one number, and whether it carries a percent sign."""
    term = read_term(part, name=name, remedy=_REMEDY)
    if term.unit not in ("", "%") or term.number.is_fraction:
        raise QuantityError(f"The print scale is a ratio without a unit, not {quote(whole)}.", _REMEDY)
    try:
        return float(term.number.value), term.unit == "%"
    except OverflowError:
        return float("inf"), term.unit == "%"


def _percents(terms: list[tuple[float, bool]], half_width: tuple[float, bool] | None, written: str) -> bool:
    """Whether all is in percent: every number says so, or the last one alone says it for all."""
    signs = [sign for _, sign in terms] + ([] if half_width is None else [half_width[1]])
    if all(signs) or not any(signs):
        return signs[0]
    if signs[-1] and not any(signs[:-1]):
        return True  # 98 x 98.5 %, 98 ± 0.2 %
    raise QuantityError(f"The print scale {quote(written)} mixes percent and plain numbers.", _REMEDY)


def _out_of_range_remedy(ratio: float) -> str:
    low, high = PLAUSIBLE
    if low <= ratio / 100 <= high:  # 98 for 98 %, or the bar's length in mm
        return f"If the 100 mm bar measured {ratio:g} mm, write {ratio / 100:.4g} or {ratio:g} %."
    return "Measure the 100 mm bar again, and print the sheet again at 100 % if it really is that far off."
