"""Several owners' settings put together by load, with how far to trust them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ridelog.errors import TransferError
from ridelog.names import AdjusterKind, End
from strandline.facts.loads import kilograms
from strandline.pool.file import PoolRow
from suspension.advice.pool import OwnerResult, Pooled, pool_by_load
from suspension.loads.loads import weight_n
from suspension.quantities.quantity import Quantity

# Loads within so many kg on an axle are put together: a heavier coat and a full tank make that much [common
# practice, no source].
BIN_KG = 20.0


@dataclass(frozen=True)
class PooledEnd:
    """One end of one kind of bike.

    Attributes
    ----------
    kind : str
    end : End
    counted_in : AdjusterKind
    rows : tuple of PoolRow
    points : tuple of Pooled
        By rising load; `load_n` is the axle's.
    invented : bool
    """

    kind: str
    end: End
    counted_in: AdjusterKind
    rows: tuple[PoolRow, ...]
    points: tuple[Pooled, ...]
    invented: bool

    @property
    def owners(self) -> int:
        """How many owners are behind it."""
        return len({row.owner for row in self.rows})


def pooled(
    rows: Sequence[PoolRow], kind: str | None = None, end: str | None = None, bin_kg: float = BIN_KG
) -> tuple[PooledEnd, ...]:
    """Put settings together, end by end.

    Parameters
    ----------
    rows : sequence of PoolRow
        The same row from two files counts once.
    kind : str, optional
        Needed where the rows are of several kinds of bikes.
    end : str, optional
    bin_kg : float
        Width of a bin of load.

    Raises
    ------
    TransferError
        Several kinds of bikes, other adjusters, demo data beside real ones, or nothing of what was asked for.
    """
    kinds = list(dict.fromkeys(row.kind for row in rows))
    if kind is None and len(kinds) > 1:
        raise TransferError(
            f"The settings are of several kinds of bikes: {', '.join(kinds)}.", "Choose one with --kind."
        )
    chosen = [row for row in dict.fromkeys(rows) if kind in (None, row.kind) and end in (None, row.end)]
    if not chosen:
        raise TransferError(
            "There is no setting of that kind of bike and end.", f"There are: {', '.join(kinds)}."
        )
    if len({row.invented for row in chosen}) > 1:
        raise TransferError(
            "Invented demo data and owners' own are among the settings.", "Leave the demo's file out."
        )
    return tuple(
        _end(one, [row for row in chosen if row.end is one], bin_kg)
        for one in End
        if any(row.end is one for row in chosen)
    )


def _end(end: End, rows: list[PoolRow], bin_kg: float) -> PooledEnd:
    units = {row.counted_in for row in rows}
    if len(units) > 1:
        raise TransferError(
            f"At the {end.value}, some owners count {' and some '.join(sorted(units))}.",
            "Bikes with other adjusters are of another kind: name them so when exporting.",
        )
    loads = [row.axle_load_kg for row in rows]
    first = math.floor(min(loads) / bin_kg) + 1
    edges = [weight_n(i * bin_kg) for i in range(first, math.floor(max(loads) / bin_kg) + 1)]
    results = tuple(OwnerResult(row.owner, weight_n(row.axle_load_kg), row.setting_steps) for row in rows)
    points = pool_by_load(results, tuple(edges))
    return PooledEnd(rows[0].kind, end, units.pop(), tuple(rows), points, rows[0].invented)


def load_kg(point: Pooled) -> float:
    """Mean axle load of a point, kg."""
    assert point.load_n is not None
    return kilograms(Quantity(point.load_n, 0.0)).value


def trust(found: PooledEnd) -> str:
    """How far to trust an end's whole curve, in a sentence."""
    fewest = min(point.owners for point in found.points)
    if found.owners == 1:
        return "One owner: only a starting point."
    if fewest == 1:
        return "Some loads have one owner only: trust those least, and measure your own bike."
    return "A starting point: bikes, springs and riders differ, so measure your own bike."
