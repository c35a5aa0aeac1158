"""Writing files: whole or not at all, never over something unasked, and under names that do not clash."""

from __future__ import annotations

import hashlib
import os
import stat
import tempfile
import unicodedata
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

from ridelog.regular_file import is_regular, read_regular, sync_folder

SUFFIX = "-reading.jpg"
"""How an overlay's name ends."""

LONGEST_NAME_BYTES = 255
"""Of a file's name in most file systems (limits.h, NAME_MAX; NTFS and APFS count 255 units)."""


LARGEST_OWN_BYTES = 300_000_000
"""The largest is a tech day's page, with a small picture of each photo: 3,000 photos take some 60 MB [estimated]."""

_DATABASE = b"SQLite format 3\0"


class OutputError(Exception):
    """A file that could not be written; the message names it and says what to do."""


def make_folder(folder: Path, *, private: bool = False) -> None:
    """Make a folder for output where it is not there yet.

    Parameters
    ----------
    folder : Path
    private : bool
        Its owner alone may look into it and into those above that have to be made (XDG Base Directory Specification,
        "Referencing this specification"). The mode of one that is there already stays.

    Raises
    ------
    OutputError
        If there is a file of that name, or it cannot be made.
    """
    try:
        if private:
            for above in reversed(folder.parents):
                if not above.exists():
                    above.mkdir(mode=0o700, exist_ok=True)
        folder.mkdir(mode=0o700 if private else 0o777, parents=True, exist_ok=True)
    except FileExistsError as error:
        raise OutputError(f"{folder} is a file, not a folder. Name a folder.") from error
    except OSError as error:
        raise OutputError(
            f"The folder {folder} cannot be made: {error.strerror}. Choose one that you may write to."
        ) from error


def read_own(path: Path) -> str:
    """Read a text that the program wrote itself, as far as one knows.

    Somebody may have put a pipe in its place, for which a plain opening waits for ever.

    Raises
    ------
    OSError, ValueError
        It is no regular file, too large, or no UTF-8.
    """
    return read_regular(path, LARGEST_OWN_BYTES).decode("utf-8")


def write_new(
    path: Path, content: bytes, *, force: bool, lasting: bool = True, private: bool = False
) -> None:
    """Write a file whole or not at all; replace an existing one only when asked.

    Parameters
    ----------
    path : Path
        In a folder that exists.
    content : bytes
    force : bool
        Replace what is there.
    lasting : bool
        Wait until it is on the disk. Without that, a power cut soon after can leave the name on an empty file, in the
        place of what was there before; enough for pictures that can be drawn again.
    private : bool
        Only its owner may read it. The mode of a file that is replaced stays, however.

    Raises
    ------
    OutputError
    """
    draft: Path | None = None
    try:
        if path.is_dir():
            raise OutputError(f"{path} is a folder. Name a file to write.")
        if is_database(path):
            raise OutputError(f"{path} is a logbook, which nothing replaces. Name another file.")
        if path.exists() and not force:
            raise OutputError(f"{path} is there already and was left as it is. Add --force to replace it.")
        handle, name = tempfile.mkstemp(prefix=".strandline-", suffix=".part", dir=path.parent)
        draft = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            if lasting:
                file.flush()
                os.fsync(file.fileno())
        draft.chmod(_mode(path, private))
        if force:
            draft.replace(path)
        else:
            _name_unless_taken(draft, path)
        if lasting:
            sync_folder(path.parent)
    except FileExistsError as error:
        raise OutputError(f"{path} appeared in the meantime and was left as it is.") from error
    except OSError as error:
        raise OutputError(
            f"{path} cannot be written: {error.strerror}. Choose a folder that exists and that you may "
            "write to, with enough free space."
        ) from error
    finally:
        if draft is not None:
            draft.unlink(missing_ok=True)


def _mode(path: Path, private: bool) -> int:
    """Give the mode of the file that is replaced, else that of a new one (IEEE Std 1003.1, chmod)."""
    try:
        return stat.S_IMODE(path.stat().st_mode)
    except OSError:
        return 0o600 if private else 0o644


def is_database(path: Path) -> bool:
    """Whether SQLite wrote the file, as it does a logbook's (SQLite's documentation, "Database File Format", 1.3)."""
    if not is_regular(path):
        return False
    try:
        with path.open("rb") as file:
            return file.read(len(_DATABASE)) == _DATABASE
    except OSError:  # it may be written but not read; or it has gone
        return False


def _name_unless_taken(draft: Path, path: Path) -> None:
    """Give the draft its name in one step that fails where the name is taken."""
    try:
        path.hardlink_to(draft)
    except FileExistsError:
        raise
    except OSError:
        # Memory sticks and some network drives know no hard links; exclusive creation is the next best.
        with path.open("xb") as file:
            file.write(draft.read_bytes())
            file.flush()
            os.fsync(file.fileno())


def overlay_names(photos: Sequence[Path]) -> list[str]:
    """Give each photo's overlay a name of its own, the shortest that no other photo has.

    Parameters
    ----------
    photos : sequence of Path
        No two the same.

    Returns
    -------
    list of str
        ``IMG_1-reading.jpg``; with the ending, then the folder's name, then a check sum of the whole path
        added where photos would share it. Compared as file systems do that ignore case.
    """
    ways: tuple[Callable[[Path], str], ...] = (
        lambda p: p.stem,
        lambda p: p.stem + "-" + p.suffix[1:],
        lambda p: _parent(p) + "-" + p.stem,
        lambda p: _parent(p) + "-" + p.stem + "-" + p.suffix[1:],
        lambda p: p.stem + "-" + hashlib.sha256(os.fsencode(p.absolute())).hexdigest()[:12],
    )
    way = [0] * len(photos)
    while True:
        names = [_fitting(ways[w](p), p) + SUFFIX for w, p in zip(way, photos, strict=True)]
        count = Counter(map(_folded, names))
        clash = [i for i, name in enumerate(names) if count[_folded(name)] > 1 and way[i] < len(ways) - 1]
        if not clash:
            return names
        for i in clash:
            way[i] += 1


def _fitting(stem: str, path: Path) -> str:
    """Shorten a stem that no file's name has room for, and make it the photo's own again by a check sum."""
    if len(os.fsencode(stem)) + len(SUFFIX) <= LONGEST_NAME_BYTES:
        return stem
    own = "-" + hashlib.sha256(os.fsencode(path.absolute())).hexdigest()[:12]
    while len(os.fsencode(stem + own)) + len(SUFFIX) > LONGEST_NAME_BYTES:
        stem = stem[:-1]
    return stem + own


def _parent(path: Path) -> str:
    return path.absolute().parent.name or "root"


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()
