"""Rides and sags in progress: what was said of them so far, from whichever phone, until they are recorded."""

from __future__ import annotations

import json
import secrets
import threading
from collections.abc import Callable
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any, Generic, TypeVar

from strandline.shared.files import make_folder, read_own, write_new


@dataclass(frozen=True)
class RideDraft:
    """A ride in progress; texts are as they were typed.

    Attributes
    ----------
    number : str
        By which photos belong to it.
    date, route, load, temperature, note, print_scale, state : str
    settings : tuple of (str, str)
        Leg or end with its adjuster, "front.preload", and the count.
    pressures : tuple of (str, str)
        End and cold tyre pressure.
    typed : tuple of (str, str)
        Leg, and lengths measured by hand.
    felt, cleared : tuple of str
        What was felt, and events that were looked at and are in order.
    event : str
    at_stop, no_marker : tuple of str
        Legs whose marker was pushed to the far end, and legs that have lost theirs.
    """

    number: str
    date: str = ""
    route: str = ""
    load: str = ""
    temperature: str = ""
    note: str = ""
    event: str = ""
    print_scale: str = ""
    state: str = "on-wheels"
    settings: tuple[tuple[str, str], ...] = ()
    pressures: tuple[tuple[str, str], ...] = ()
    typed: tuple[tuple[str, str], ...] = ()
    felt: tuple[str, ...] = ()
    cleared: tuple[str, ...] = ()
    at_stop: tuple[str, ...] = ()
    no_marker: tuple[str, ...] = ()


@dataclass(frozen=True)
class SagDraft:
    """A sag in progress.

    Attributes
    ----------
    number : str
    load, print_scale : str
    lengths, exposed : tuple of (str, str)
        Place, and lengths measured by hand: from axle to tail, and exposed.
    """

    number: str
    load: str = ""
    print_scale: str = ""
    lengths: tuple[tuple[str, str], ...] = ()
    exposed: tuple[tuple[str, str], ...] = ()


D = TypeVar("D", RideDraft, SagDraft)


class Drafts(Generic[D]):
    """Drafts of one kind, one a bike, in a folder.

    Parameters
    ----------
    folder : Path
    kind : function
        That makes one: its class.
    """

    def __init__(self, folder: Path, kind: Callable[..., D]) -> None:
        self.folder = folder
        self.kind: Callable[..., D] = kind
        self._lock = threading.RLock()

    def of(self, bike: str) -> D:
        """Find the draft of a bike, or begin one.

        Parameters
        ----------
        bike : str
            Name of a file that is in the folder of bikes, without its ending.
        """
        with self._lock:
            return self.begun(bike) or self.keep(bike, self.kind(secrets.token_hex(8)))

    def begun(self, bike: str) -> D | None:
        """Find the draft of a bike; None where none was begun."""
        try:
            found = json.loads(read_own(self._path(bike)))
            # What a newer program added is passed over.
            known = {one.name for one in fields(self.kind)}  # type: ignore[arg-type]
            draft: D = self.kind(**{name: _tuples(value) for name, value in found.items() if name in known})
            return draft if _is_as_written(draft) else None
        except (OSError, ValueError, TypeError, AttributeError, RecursionError):
            return None

    def keep(self, bike: str, draft: D) -> D:
        """Keep a draft; it is on the disk when this returns."""
        with self._lock:
            make_folder(self.folder, private=True)
            write_new(self._path(bike), json.dumps(asdict(draft)).encode(), force=True)
            return draft

    def change(self, bike: str, **changed: Any) -> D:
        """Change what was said."""
        with self._lock:
            return self.keep(bike, replace(self.of(bike), **changed))

    def end(self, bike: str) -> None:
        """Drop a draft: it was recorded, or given up."""
        self._path(bike).unlink(missing_ok=True)

    def _path(self, bike: str) -> Path:
        return self.folder / f"{bike}.json"


def _is_as_written(draft: RideDraft | SagDraft) -> bool:
    """Whether a draft holds texts, texts in a row, and pairs, each where it belongs: the file may be damaged."""
    return all(_KINDS[str(one.type)](getattr(draft, one.name)) for one in fields(draft))


def _are_texts(value: object) -> bool:
    return isinstance(value, tuple) and all(isinstance(one, str) for one in value)


_KINDS: dict[str, Callable[[object], bool]] = {
    "str": lambda value: isinstance(value, str),
    "tuple[str, ...]": _are_texts,
    "tuple[tuple[str, str], ...]": lambda value: (
        isinstance(value, tuple) and all(_are_texts(one) and len(one) == 2 for one in value)
    ),
}


def _tuples(value: Any) -> Any:
    return tuple(_tuples(one) for one in value) if isinstance(value, list) else value
