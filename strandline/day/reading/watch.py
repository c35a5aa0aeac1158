"""Watcher of a folder that a phone's photos are synced into.

The folder is scanned again and again: that works for local disks, network drives and every way of syncing
alike, and for some thousand files costs a few hundredths of a second.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from strandline.day.reading.photo_files import FileStamp, file_stamp, find_photos

SCAN_INTERVAL_S = 2.0
"""Between two scans, s."""

SETTLED_SCANS = 2
"""Scans in a row that must find a file unchanged before it counts: half-synced photos are cut short."""

PAGE_RELOAD_S = 15
"""The page in a browser loads itself anew, s."""


@dataclass(frozen=True)
class Seen:
    """A file as the last scan found it, and how many scans in a row have found it so."""

    stamp: FileStamp
    scans: int


class Folder:
    """Files in a folder, and for how many scans each is unchanged."""

    def __init__(self, folder: Path, leave_out: Path, also: tuple[Path, ...] = ()) -> None:
        self.folder, self.leave_out, self.also = folder, leave_out, also
        self.seen: dict[Path, Seen] = {}

    def scan(self) -> dict[Path, FileStamp]:
        """Scan the folder.

        Returns
        -------
        dict of Path to FileStamp
            The files that have settled.
        """
        now: dict[Path, Seen] = {}
        photos = dict.fromkeys(find_photos(self.folder, self.leave_out))
        for path in (*photos, *self.also):
            found = file_stamp(path, self.folder if path in photos else None)
            if found is None:
                continue
            before = self.seen.get(path)
            same = before is not None and before.stamp == found
            now[path] = Seen(found, before.scans + 1 if same and before is not None else 1)
        self.seen = now
        return {path: one.stamp for path, one in now.items() if one.scans >= SETTLED_SCANS}


def watch(
    folder: Folder,
    update: Callable[[frozenset[Path]], None],
    *,
    wait: Callable[[float], None] = time.sleep,
    go_on: Callable[[], bool] = lambda: True,
) -> None:
    """Call `update` whenever the set of settled files has changed.

    Parameters
    ----------
    folder : Folder
    update : function of frozenset of Path
        Given the files that have settled.
    wait : function of float
        Waits so many seconds.
    go_on : function
        False ends it.
    """
    last: dict[Path, FileStamp] | None = None
    while go_on():
        settled = folder.scan()
        if settled != last:
            update(frozenset(settled))
            last = settled
        wait(SCAN_INTERVAL_S)
