"""The two 100 mm bars of a printed sheet: what their measured lengths say of the print, and of what to do."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from suspension.quantities.lengths import parse_length
from suspension.quantities.print_scale import BAR_BY_CALIPER_U95, PrintScale, print_scale

BAR_MM = 100.0
# Off by more than this, print dialogs have usually fitted the sheet to the page: they shrink by 2 to 6 % [common
# practice, no source].
FITTED = 0.015
# Printers differ along and across by some tenths of a percent; more is usually a slip of the caliper [common practice,
# no source].
UNLIKE = 0.01
_BETWEEN = re.compile(r"\s*(?:[x×;/]|\bby\b|\band\b|,\s|\s(?=[0-9.]))\s*", re.IGNORECASE)


def bars_of(text: str) -> tuple[str, str]:
    """Split "99.6 mm x 99.8 mm" into the bar along the cards and the one across; one length counts for both.

    Raises
    ------
    QuantityError
        Not one or two lengths.
    """
    from suspension.errors import QuantityError

    parts = [part for part in _BETWEEN.split(text.strip()) if part]
    if len(parts) not in (1, 2):
        raise QuantityError(f"“{text}” is not one or two lengths.", "Write, for example, 99.6 x 99.8.")
    return parts[0], parts[-1]


def scale_of_bars(along: str, across: str) -> str:
    """Turn the bars' measured lengths, of which a plain number is in mm, into a print scale as it is written.

    Raises
    ------
    QuantityError
        No length, or one that no bar has.
    """
    ratios = [_ratio(text) for text in (along, across)]
    written = f"{ratios[0]:.4g} x {ratios[1]:.4g}"
    print_scale(written)
    return written


def _ratio(text: str) -> float:
    words = text.strip().replace(",", ".")
    words = f"{words} mm" if re.fullmatch(r"[0-9.]+", words) else words
    return parse_length(words, name="bar", example="99.6 mm").value / BAR_MM


def advice_lines(scale: PrintScale) -> Iterator[str]:
    """Say what the print is good for, and what to do where it is off."""
    off = max(abs(one - 1.0) for one in (scale.along, scale.across))
    if abs(scale.along - scale.across) > UNLIKE:
        yield (
            f"Along and across differ by {100 * abs(scale.along - scale.across):.1f} %, which printers hardly do: "
            "measure both bars again, end to end."
        )
    if off > FITTED:
        yield (
            f"The print is off by {100 * off:.1f} %: the printer fitted it to the page. It can be used as it is, since "
            "its scale is known now. If you print again, choose 100 % or “actual size”, and measure again."
        )
    elif off > BAR_BY_CALIPER_U95:
        yield f"The print is off by {100 * off:.1f} %, as printers are. Nothing to do: its scale is known now."
    else:
        yield "The print is right, as exactly as a caliper shows."


def cards_in_words(numbers: Iterable[int]) -> str:
    """Write "card 0", "cards 0 and 1", "cards 0, 1 and 5"."""
    words = [str(number) for number in numbers]
    if len(words) == 1:
        return f"card {words[0]}"
    return f"cards {', '.join(words[:-1])} and {words[-1]}"
