"""Names of loads that the logbook does not have."""

from __future__ import annotations

from collections.abc import Iterable

from ridelog.errors import RecordError
from ridelog.storage.folded_names import fold
from strandline.shared.suggest import did_you_mean


def no_such_load(name: str, known: Iterable[str]) -> RecordError:
    """Make the error for a load that is not there, with those that are."""
    names = list(known)
    return RecordError(
        f"There is no load {name} of this bike (there: {', '.join(names) or 'none yet'}).",
        did_you_mean(name, names) or "Give its masses: strandline loads --help.",
    )


def check_load(name: str | None, known: Iterable[str]) -> None:
    """Refuse a load that is not there; without a name nothing is refused.

    Raises
    ------
    RecordError
    """
    names = list(known)
    if name is not None and fold(name) not in map(fold, names):
        raise no_such_load(name, names)
