"""What cannot be made again is on the disk before its name changes hands: a power cut leaves the old file or the new.

The order is POSIX's: fsync of the file, rename, fsync of the folder (rename(2) alone orders names, not contents).
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from strandline.shared.files import write_new


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Note down syncs and renames."""
    made: list[str] = []
    sync, replace, link = os.fsync, os.replace, os.link

    def synced(handle: int) -> None:
        made.append("folder" if os.path.isdir(f"/proc/self/fd/{handle}") else "file")  # noqa: PTH112
        sync(handle)

    monkeypatch.setattr(os, "fsync", synced)

    def named(real: Callable[..., None]) -> Callable[..., None]:
        def call(*names: object, **more: object) -> None:
            made.append("name")
            real(*names, **more)

        return call

    monkeypatch.setattr(os, "replace", named(replace))
    monkeypatch.setattr(os, "link", named(link))
    return made


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="asks Linux which file a handle stands for")
@pytest.mark.parametrize("force", [True, False])
def test_order(tmp_path: Path, calls: list[str], force: bool) -> None:
    write_new(tmp_path / "bike.toml", b"x", force=force)
    # Windows opens no folder to sync it; NTFS keeps a journal of names.
    assert calls == ["file", "name", *(["folder"] if hasattr(os, "O_DIRECTORY") else [])]


def test_pictures_do_not_wait(tmp_path: Path, calls: list[str]) -> None:
    write_new(tmp_path / "a.jpg", b"x", force=True, lasting=False)
    assert calls == ["name"]
