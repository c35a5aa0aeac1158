"""A disk that keeps in mind what was synced, so that a power cut at any moment can be put together afterwards.

A virtual file system under SQLite writes down every write, truncation, sync, creation and deletion, in order. An image
is what a disk may hold after a cut: all that was synced before it, and of the rest any part, in any order, torn
between sectors or within one. That is what SQLite's documentation of atomic commit assumes of hardware, with
its "powersafe overwrite": a torn write harms no byte beside those that were to be written.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import apsw

SECTOR_BYTES = 512
"""The smallest that a disk writes at once (IDEMA's older standard; newer disks write 4096)."""


@dataclass(frozen=True)
class Event:
    """Something that happened to a file.

    Attributes
    ----------
    kind : str
        "create", "write", "truncate", "sync", "delete", "delete-synced", or "said": what a test takes as recorded.
    name : str
        The file's name, or what counts as recorded.
    offset : int
        Of a write; of a truncation the new length.
    content : bytes
    """

    kind: str
    name: str
    offset: int = 0
    content: bytes = b""


class _File(apsw.VFSFile):
    def __init__(self, disk: Disk, name: Any, flags: list[int]) -> None:
        self._disk, self._name = disk, Path(name.filename() if hasattr(name, "filename") else str(name)).name
        super().__init__("", name, flags)

    def xWrite(self, data: Any, offset: int) -> None:
        """Write down a write, and do it."""
        content = bytes(data)
        self._disk.before(
            "write", self._name, lambda: super(_File, self).xWrite(content[: len(content) // 2], offset)
        )
        self._disk.events.append(Event("write", self._name, offset, content))
        super().xWrite(content, offset)

    def xTruncate(self, newsize: int) -> None:
        """Write down a truncation, and do it."""
        self._disk.before("truncate", self._name)
        self._disk.events.append(Event("truncate", self._name, newsize))
        super().xTruncate(newsize)

    def xSync(self, flags: int) -> None:
        """Write down a sync; the file itself stays in the system's cache, which is quicker."""
        self._disk.before("sync", self._name)
        self._disk.events.append(Event("sync", self._name))

    def xRead(self, amount: int, offset: int) -> bytes:
        """Read, unless the disk fails."""
        self._disk.before("read", self._name)
        return super().xRead(amount, offset)


class Disk(apsw.VFS):
    """The virtual file system.

    Attributes
    ----------
    events : list of Event
    fail : callable or None
        Called before an operation with its kind, the file's name, and for a write what does half of it; it may raise
        one of APSW's errors.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.events: list[Event] = []
        self.fail: Callable[[str, str, Callable[[], None]], None] | None = None
        super().__init__(name, "")

    def before(self, kind: str, name: str, half: Callable[[], None] = lambda: None) -> None:
        """Let an operation fail."""
        if self.fail is not None:
            self.fail(kind, name, half)

    def xOpen(self, name: Any, flags: list[int]) -> _File:
        """Open a file, and write down whether it is new."""
        path = Path(name.filename() if hasattr(name, "filename") else str(name))
        self.before("open", path.name)
        is_new = name is not None and not path.exists()
        file = _File(self, name, flags)
        if is_new:
            self.events.append(Event("create", path.name))
        return file

    def xDelete(self, filename: str, syncdir: bool) -> None:
        """Delete a file, and write down whether its folder was synced after it."""
        self.before("delete", Path(filename).name)
        self.events.append(Event("delete-synced" if syncdir else "delete", Path(filename).name))
        super().xDelete(filename, False)

    def said(self, what: str) -> None:
        """Write down that this was reported as recorded."""
        self.events.append(Event("said", what))


@contextmanager
def disk(name: str) -> Iterator[Disk]:
    """Register a disk for as long as a test needs it."""
    made = Disk(name)
    try:
        yield made
    finally:
        with suppress(apsw.Error):
            made.unregister()


def image(events: list[Event], before: dict[str, bytes], chance: random.Random) -> dict[str, bytes]:
    """Put together what a disk may hold when the power goes after these events.

    Parameters
    ----------
    events : list of Event
        Up to the cut.
    before : dict from str to bytes
        Files that were there, and synced, when the events began.
    chance : random.Random
        Decides on what was not synced.

    Returns
    -------
    dict from str to bytes
        The files.
    """
    synced = {name: bytearray(content) for name, content in before.items()}
    waiting: dict[str, list[Event]] = {}
    for one in events:
        if one.kind == "said":
            continue
        if one.kind == "sync":
            content = synced.get(one.name, bytearray())
            for write in waiting.pop(one.name, []):
                content = _done(content, write)
            synced[one.name] = content
        elif one.kind == "delete-synced":
            synced.pop(one.name, None)
            waiting.pop(one.name, None)
        else:
            waiting.setdefault(one.name, []).append(one)
    how = chance.choice(("dropped", "written", "any", "any", "any"))
    for name, parts in waiting.items():
        kept = _after_cut(synced.pop(name, None), parts, how, chance)
        if kept is not None:
            synced[name] = kept
    return {name: bytes(content) for name, content in synced.items()}


def _after_cut(
    content: bytearray | None, parts: list[Event], how: str, chance: random.Random
) -> bytearray | None:
    """Give a file after a cut, or None where there is none then; names and contents reach the disk apart."""
    lives: list[tuple[bytearray | None, list[Event]]] = [(content, [])]
    for one in parts:  # a name that was deleted and made again stands for another file
        if one.kind in ("create", "delete"):
            lives.append((bytearray() if one.kind == "create" else None, []))
        else:
            lives[-1][1].append(one)
    found, writes = {"dropped": lives[0], "written": lives[-1], "any": chance.choice(lives)}[how]
    if found is None or how == "dropped":
        return found
    if how == "any":
        writes = [one for one in writes if chance.random() < 0.7]
        chance.shuffle(writes)
    for one in writes:
        found = _torn(found, one, chance) if how == "any" and chance.random() < 0.3 else _done(found, one)
    return found


def _done(content: bytearray, one: Event) -> bytearray:
    if one.kind == "create":
        return bytearray()
    found = bytearray(content)
    if one.kind == "truncate":
        return found[: one.offset]
    if len(found) < one.offset:
        found += bytes(one.offset - len(found))
    found[one.offset : one.offset + len(one.content)] = one.content
    return found


def _torn(content: bytearray, one: Event, chance: random.Random) -> bytearray:
    """Write some sectors of a piece and not others, and one of them to its middle."""
    if one.kind != "write":
        return content
    stop = one.offset + len(one.content)
    at = one.offset
    while at < stop:
        end = min(stop, (at // SECTOR_BYTES + 1) * SECTOR_BYTES)
        if chance.random() < 0.5:
            until = end if chance.random() < 0.8 else chance.randrange(at, end)
            piece = one.content[at - one.offset : until - one.offset]
            content = _done(content, Event("write", one.name, at, piece))
        at = end
    return content
