"""Words that people use for the program's own: "touring" for street, "usd" for upside-down-fork."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import click

USES = {
    **dict.fromkeys(("street", "road", "touring", "tourer", "commuter", "commuting"), "street"),
    **dict.fromkeys(("sport", "sports", "track"), "sport"),
    **dict.fromkeys(("off-road", "offroad", "enduro", "trail", "dirt", "motocross"), "off-road"),
}
LAYOUTS = {
    **dict.fromkeys(("fork", "conventional fork", "telescopic fork"), "fork"),
    **dict.fromkeys(
        ("upside-down fork", "upside down fork", "upside-down-fork", "upside-down", "usd", "usd fork"),
        "upside-down-fork",
    ),
    **dict.fromkeys(("inverted", "inverted fork"), "upside-down-fork"),
    **dict.fromkeys(("shock", "shocks", "monoshock", "twin shocks", "rear shock"), "shock"),
}
MARKERS = {
    **dict.fromkeys(("tie", "zip tie", "zip-tie", "ziptie", "cable tie", "cable-tie"), "tie"),
    **dict.fromkeys(("o-ring", "oring", "o ring", "ring", "rubber ring"), "o-ring"),
}
STATES = {
    **dict.fromkeys(("hanging", "hangs", "wheel free", "unloaded"), "hanging"),
    **dict.fromkeys(("on-wheels", "on wheels", "wheels", "standing"), "on-wheels"),
    **dict.fromkeys(("rider-aboard", "rider aboard", "rider", "aboard", "seated"), "rider-aboard"),
}
UNITS = {
    **dict.fromkeys(("mm", "metric", "millimetres", "millimeters"), "mm"),
    **dict.fromkeys(("in", "inch", "inches", "imperial", '"'), "in"),
}


class CommonWord(click.Choice):  # type: ignore[type-arg]
    """One of several words; what people say for it is taken, too.

    Parameters
    ----------
    words : sequence of str
        The program's own, which help shows.
    known : mapping
        From what people say, in small letters, to one of these.
    """

    def __init__(self, words: Sequence[str], known: Mapping[str, str]) -> None:
        super().__init__(words, case_sensitive=False)
        self.known = known

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Convert a typed value."""
        said = " ".join(str(value).casefold().replace("_", " ").split())
        return super().convert(self.known.get(said, value), param, ctx)
