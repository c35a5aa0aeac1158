"""What a roster leaves open, and what that costs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from strandline.day.identify.roster_line import RosterLine
from suspension.stroke.leg import Layout


@dataclass(frozen=True)
class Gap:
    """A column that lines leave empty.

    Attributes
    ----------
    column : str
        Its head in the roster.
    labels : tuple of str
        Whose lines leave it empty, each once.
    lines, of : int
        So many lines leave it empty, of so many that could say it.
    costs : str
        What is not answered without it.
    """

    column: str
    labels: tuple[str, ...]
    lines: int
    of: int
    costs: str


def _always(line: RosterLine) -> bool:
    return True


def _of_a_fork(line: RosterLine) -> bool:
    # A shock's verdict is by its bumper's free face, to which its hanging length goes.
    return line.kind is not Layout.SHOCK


_COLUMNS: tuple[tuple[str, Callable[[RosterLine], object], Callable[[RosterLine], bool], str], ...] = (
    ("kind", lambda one: one.kind, _always, "no photo is read"),
    ("shaft_mm", lambda one: one.shaft, _always, "no photo is read"),
    ("hanging_mm", lambda one: one.hanging, _always, "no stroke used, no verdict"),
    ("stroke_mm", lambda one: one.stroke, _of_a_fork, "forks: no share, no verdict"),
    ("print_scale", lambda one: one.print_scale, _always, "lengths up to 3 % off"),
)


def gaps(lines: Sequence[RosterLine], *, scale_given: bool = False) -> tuple[Gap, ...]:
    """List the columns that lines without a bike's file leave empty, the dearest first.

    Parameters
    ----------
    lines : sequence of RosterLine
    scale_given : bool
        A print scale is given for all cards elsewhere.
    """
    found = []
    for column, value, asked, costs in _COLUMNS:
        may_say = [one for one in lines if asked(one) and (not one.bike_file or column == "print_scale")]
        empty = [one for one in may_say if value(one) is None]
        if empty and not (scale_given and column == "print_scale"):
            labels = tuple(dict.fromkeys(one.label for one in empty))
            found.append(Gap(column, labels, len(empty), len(may_say), costs))
    return tuple(found)


def gap_lines(found: Sequence[Gap]) -> list[str]:
    """Write gaps as lines of a terminal: column, how many lines, and what that costs."""
    return [f"  {one.column:<12} {f'{one.lines} of {one.of} lines':<15} {one.costs}" for one in found]
