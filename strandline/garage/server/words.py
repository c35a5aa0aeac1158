"""Words of the pages, as filters of their templates."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any

from ridelog.names import LegName


def leg_words(leg: LegName) -> str:
    """Give a leg's name as it is said: "front left"."""
    return leg.value.replace("-", " ")


# Hints at commands and options, which sentences for a terminal end with; a page has the button instead.
_COMMANDS = tuple(
    re.compile(pattern)
    for pattern in (
        r" \(strandline [^)]*\)",
        r", strandline [a-z -]+(?=,)",
        r":? (?:see )?strandline .*?(?=[.;,](?:\s|$))(?<!\bwith)",
        r"(?:,? (?:and|or)|:) (?:check|give|note them with) --[a-z0-9-]+(?: (?:and|or) --[a-z0-9-]+)*",
        r" with --[a-z0-9-]+(?: (?:and|or) --[a-z0-9-]+)*",
    )
)


def plain(text: str) -> str:
    """Write a sentence for a page: without the command or option that a terminal's reader is pointed to.

    >>> plain("Add one with strandline ride add. Ask for advice, strandline advise, and make one step.")
    'Add one. Ask for advice, and make one step.'
    """
    text = re.sub(r" (?:with|by) (?=strandline )", " ", text)
    for pattern in _COMMANDS:
        text = pattern.sub("", text)
    return re.sub(r"(?:^|(?<=\. ))(?:See|Run|Or) ?\.(?: |$)", "", text).strip()


def first_up(text: str) -> str:
    """Begin with a capital, and leave the rest as it is."""
    return text[:1].upper() + text[1:]


def lookup(pairs: Sequence[tuple[str, str]], key: str) -> str:
    """Find the text of a key among pairs; "" where there is none."""
    return dict(pairs).get(key, "")


FILTERS: dict[str, Callable[..., Any]] = {one.__name__: one for one in (first_up, leg_words, lookup, plain)}
