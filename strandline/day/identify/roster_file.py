"""The roster's file with the bikes' files that it names: who has which card, and what is known of their legs."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from ridelog.regular_file import read_regular
from strandline.day.errors import DayError
from strandline.day.identify.roster import Entry, Roster, RosterLeg, folded
from strandline.day.identify.roster_legs import FoundBike, Otherwise, find_bike, legs_of
from strandline.day.identify.roster_line import RosterLine
from strandline.day.identify.roster_table import has_problems, roster_lines
from strandline.shared.settings import kept_scales

# More lines than this are no roster of a day.
LARGEST_BYTES = 1_000_000


def read_roster(path: Path, *, print_scale: str | None = None, state: str | None = None) -> Roster:
    """Read the roster and the bikes' files that it names.

    Parameters
    ----------
    path : Path
        CSV with a header (RFC 4180), comma, semicolon or tab between, UTF-8. Bikes' files lie in its
        folder or below it.
    print_scale, state : str, optional
        Where a line says nothing. Without a print scale: as the settings have it for the card.

    Returns
    -------
    Roster
        A bike's file that cannot be used costs its own entrant only, and only what the roster does not say: it
        stands in `Entry.problem`.

    Raises
    ------
    DayError
        Everything that is wrong in the roster itself, with lines.
    """
    content = roster_content(path)
    name = f"The roster {path}"
    lines = roster_lines(content, name)
    clashes = _clashes(lines)
    if clashes:
        raise has_problems(name, clashes)
    if not lines:
        raise DayError(f"{name} has no line with a card.", "Add a line for each card.")
    measured = kept_scales()
    hashed = hashlib.sha256(content + f"\0{print_scale}\0{state}\0{sorted(measured.items())}".encode())
    bikes: dict[str, FoundBike] = {}
    for line in lines:
        if line.bike_file not in bikes:
            bikes[line.bike_file] = find_bike(path.parent, line.bike_file)
        hashed.update(bikes[line.bike_file].sha256.encode())
    otherwise = Otherwise(print_scale, state, measured)
    entries = [_entry(group, bikes[group[0].bike_file], otherwise) for group in _groups(lines)]
    return Roster(tuple(entries), hashed.hexdigest())


def roster_content(path: Path) -> bytes:
    """Read a roster's bytes.

    Raises
    ------
    DayError
    """
    try:
        return read_regular(path, LARGEST_BYTES)
    except OSError as error:
        raise DayError(
            f"The roster {path} cannot be read: {error.strerror}.",
            "Make one with “strandline day new”, or name it with --roster.",
        ) from error


def _groups(lines: Sequence[RosterLine]) -> list[list[RosterLine]]:
    """Group the lines of one entrant with one card at one time: each may describe another leg."""
    found: dict[object, list[RosterLine]] = {}
    for line in lines:
        found.setdefault((line.card, line.entrant, line.window), []).append(line)
    return list(found.values())


def _entry(group: list[RosterLine], bike: FoundBike, otherwise: Otherwise) -> Entry:
    first = group[0]
    assert first.card is not None
    legs: dict[str, RosterLeg] = {}
    for line in group:
        photo = otherwise.photo_inputs(line)
        for leg in legs_of(line, bike, photo):
            if leg.name in line.leg_names:
                legs[leg.name.value] = leg
            else:  # of the bike's file; the line that describes it comes before or after
                legs.setdefault(leg.name.value, leg)
    alone = len(group) == 1
    usable = any(leg.inputs is not None for leg in legs.values())
    entry = Entry(
        first.number,
        first.card,
        first.label,
        first.bike_file,
        first.end if alone else None,
        first.side if alone else None,
        first.window,
        bike_name="" if bike.file is None else bike.file.bike.name,
        legs=tuple(legs.values()),
        remark=bike.problem if usable else "",
    )
    if usable:
        return entry
    if bike.problem and not any(line.kind or line.shaft for line in group):
        return replace(entry, problem=bike.problem, code=bike.code)
    if legs:
        return entry
    what = f"The roster does not say the kind of leg and the shaft's diameter for {first.label}"
    return replace(entry, problem=f"{what} (line {first.number}).", code="roster_gap")


def _clashes(lines: Sequence[RosterLine]) -> list[str]:
    """Find lines that contradict each other."""
    found = []
    for i, one in enumerate(lines):
        for other in lines[:i]:
            both = f"lines {other.number} and {one.number}"
            if folded(one.label) == folded(other.label) and one.bike_file != other.bike_file:
                found.append(
                    f"{both}: {one.label} stands there with two bikes: give each bike a label of its own"
                )
            if one.card != other.card or not one.window.meets(other.window):
                continue
            if one.entrant != other.entrant:
                found.append(
                    f"{both}: card {one.card} serves {other.label} and {one.label} at the same time: give the lines "
                    "windows that do not overlap"
                )
            elif set(one.leg_names) & set(other.leg_names) or not (one.leg_names and other.leg_names):
                found.append(
                    f"{both}: both describe {one.label}'s {(one.described_end or other.described_end or 'bike')}: "
                    "write front or rear, left or right, or leave one line out"
                )
    return found
