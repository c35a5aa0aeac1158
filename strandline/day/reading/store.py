"""The day's own file: every answer as soon as it is there, so that a run killed at any moment loses nothing.

An answer is kept under the photo's content, the inputs it was read under (the column `declared`) and which program
read it; so neither a changed photo, a changed roster nor a changed program ever meets another's answers, and photos
that were renamed, moved or copied are not read again.
"""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import astuple, dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

from strandline.day.identify.sighting import Sighting
from strandline.day.reading.jobs import Answer
from strandline.day.reading.photo_files import FileStamp
from strandline.day.reading.records import PhotoRecord, ReadingRow
from strandline.day.reading.store_file import FILE, LOCK, errors_translated, locked, opened
from strandline.shared.worker import Lost


@dataclass(frozen=True)
class Kept:
    """What one program keeps of a day's photos, by their content's hash.

    Attributes
    ----------
    sightings : mapping from str to Sighting
    readings : mapping from str to mapping from str to ReadingRow
        By photo, then by the hash of the inputs; without pictures.
    lost : mapping from str to Lost
    """

    sightings: Mapping[str, Sighting]
    readings: Mapping[str, Mapping[str, ReadingRow]]
    lost: Mapping[str, Lost]


class ResultsStore:
    """The open file; one run at a time has it.

    Parameters
    ----------
    folder : Path
        Of the results; it is there.
    program : str
        Which program reads; see `program_version`.

    Raises
    ------
    DayError
        Another run has it, it cannot be written, or it is another program's.
    """

    def __init__(self, folder: Path, program: str) -> None:
        self.path = folder / FILE
        self.program = program
        with errors_translated(self.path):
            self._lock = locked(folder / LOCK)
            try:
                self.connection = opened(self.path)
            except BaseException:
                self._lock.close()
                raise

    def __enter__(self) -> ResultsStore:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file, and let another run have it."""
        self.connection.close()
        self._lock.close()

    def known_hashes(self) -> dict[Path, tuple[FileStamp, str]]:
        """Stamp and content hash of every file that was hashed before, by its path within the day's folder."""
        rows = self._all("SELECT path, size, mtime_ns, ctime_ns, inode, sha256 FROM file")
        return {Path(os.fsdecode(path)): (FileStamp(*stamp), sha256) for path, *stamp, sha256 in rows}

    def keep_hashes(self, hashes: list[tuple[Path, FileStamp, str]]) -> None:
        """Keep content hashes of files, by their paths within the day's folder."""
        with errors_translated(self.path), self._transaction():
            self.connection.executemany(
                "INSERT OR REPLACE INTO file VALUES (?, ?, ?, ?, ?, ?)",
                [(os.fsencode(path), *astuple(mark), sha256) for path, mark, sha256 in hashes],
            )

    def sightings(self) -> dict[str, Sighting]:
        """Card, tags and time that this program found in each photo."""
        rows = self._all("SELECT sha256, record FROM sighting WHERE program = ?", self.program)
        return {sha256: Sighting.from_text(text) for sha256, text in rows}

    def inputs_read(self) -> dict[str, set[str]]:
        """Hashes of the inputs under which this program has read each photo."""
        found: dict[str, set[str]] = defaultdict(set)
        for sha256, inputs_hash in self._all(
            "SELECT sha256, declared FROM reading WHERE program = ?", self.program
        ):
            found[sha256].add(inputs_hash)
        return found

    def lost(self, roster: str) -> dict[str, Lost]:
        """Photos that could not be read to the end under a roster."""
        rows = self._all(
            "SELECT sha256, kind, what FROM lost WHERE (program, roster) = (?, ?)", self.program, roster
        )
        return {sha256: Lost(kind, what) for sha256, kind, what in rows}

    def kept(self, roster: str) -> Kept:
        """Give all that this program keeps of the photos, without pictures.

        Parameters
        ----------
        roster : str
            Its hash; `Kept.lost` depends on it.
        """
        readings: dict[str, dict[str, ReadingRow]] = defaultdict(dict)
        for sha256, inputs_hash, text in self._all(
            "SELECT sha256, declared, record FROM reading WHERE program = ?", self.program
        ):
            row = ReadingRow(inputs_hash, PhotoRecord.from_json(text), None)
            readings[sha256][inputs_hash] = row
        return Kept(self.sightings(), readings, self.lost(roster))

    # Pictures are read one by one as a page is written: together those of a large day would fill the memory.

    def thumb(self, sha256: str) -> bytes | None:
        """Thumbnail of the photo, WebP."""
        row = self._one("SELECT thumb FROM sighting WHERE (sha256, program) = (?, ?)", sha256)
        return None if row is None else row[0]

    def picture(self, sha256: str, inputs_hash: str) -> bytes | None:
        """Overlay of a reading, WebP."""
        row = self._one(
            "SELECT picture FROM reading WHERE (sha256, program, declared) = (?, ?, ?)", sha256, inputs_hash
        )
        return None if row is None else row[0]

    def small(self, sha256: str, inputs_hash: str) -> bytes | None:
        """Overlay of a reading, reduced, where that was made."""
        row = self._one(
            "SELECT picture FROM small WHERE (sha256, program, declared) = (?, ?, ?)", sha256, inputs_hash
        )
        return None if row is None else row[0]

    def small_picture_keys(self) -> set[tuple[str, str]]:
        """Of which readings, by photo and inputs, there is a reduced overlay."""
        return {
            (sha256, inputs_hash)
            for sha256, inputs_hash in self._all(
                "SELECT sha256, declared FROM small WHERE program = ?", self.program
            )
        }

    def keep_small(self, pictures: list[tuple[str, str, bytes]]) -> None:
        """Keep reduced overlays, each by its photo and inputs."""
        with errors_translated(self.path), self._transaction():
            self.connection.executemany(
                "INSERT OR IGNORE INTO small VALUES (?, ?, ?, ?)",
                [(sha256, inputs_hash, self.program, picture) for sha256, inputs_hash, picture in pictures],
            )

    def keep(self, sha256: str, answer: Answer) -> None:
        """Keep an answer, whole or not at all; what is kept already stays."""
        with errors_translated(self.path), self._transaction():
            self.connection.execute(
                "INSERT OR IGNORE INTO sighting VALUES (?, ?, ?, ?)",
                (sha256, self.program, answer.sighting.as_text, answer.thumb),
            )
            self.connection.executemany(
                "INSERT OR IGNORE INTO reading VALUES (?, ?, ?, ?, ?)",
                [
                    (sha256, one.inputs_hash, self.program, one.record.to_json(), one.picture)
                    for one in answer.readings
                ],
            )
            self.connection.execute(
                "DELETE FROM lost WHERE (sha256, program) = (?, ?)", (sha256, self.program)
            )

    def keep_lost(self, sha256: str, roster: str, lost: Lost) -> None:
        """Record that a photo has no answer."""
        with errors_translated(self.path), self._transaction():
            self.connection.execute(
                "INSERT OR REPLACE INTO lost VALUES (?, ?, ?, ?, ?)",
                (sha256, roster, self.program, lost.kind, lost.what),
            )

    def forget_lost(self) -> None:
        """Forget which photos have no answer, so that they are tried again."""
        with errors_translated(self.path), self._transaction():
            self.connection.execute("DELETE FROM lost WHERE program = ?", (self.program,))

    def _all(self, query: str, *values: str) -> list[tuple[Any, ...]]:
        with errors_translated(self.path):
            return self.connection.execute(query, values).fetchall()

    def _one(self, query: str, sha256: str, *values: str) -> tuple[Any, ...] | None:
        with errors_translated(self.path):
            found: tuple[Any, ...] | None = self.connection.execute(
                query, (sha256, self.program, *values)
            ).fetchone()
            return found

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self.connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            self.connection.execute("COMMIT")
        except BaseException:
            if self.connection.in_transaction:
                self.connection.execute("ROLLBACK")
            raise
