"""One pass over a day's folder, which reads only what is new."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from calibration.photo_limits import MAX_BYTES
from ridelog.regular_file import read_regular
from strandline.day.errors import DayError
from strandline.day.identify.roster import Roster
from strandline.day.reading.jobs import Answer, Job
from strandline.day.reading.photo_files import FileStamp, content_hash, file_stamp, find_photos
from strandline.day.reading.pool import Engine
from strandline.day.reading.store import ResultsStore
from strandline.day.reading.worker_job import pending_readings
from strandline.shared.without_place import fit_to_send
from strandline.shared.worker import Limits, Lost

# The first round gives up on a photo after this many seconds and lets the others go first; it gets its whole time
# when they are done. Ten times what a photo takes on a small machine [measured].
SOON_S = 20.0


@dataclass(frozen=True)
class FoundPhoto:
    """A photo in the folder, and the hash of its content.

    Attributes
    ----------
    path : Path
    sha256 : str or None
        None where the file cannot be read.
    stamp : FileStamp or None
    """

    path: Path
    sha256: str | None
    stamp: FileStamp | None = None


@dataclass(frozen=True)
class Day:
    """Folders of a day, and how its photos are read.

    Attributes
    ----------
    folder, out : Path
        Of the photos, and of the results.
    limits : Limits
    send : bool
        Photos are sent to the workers, which need not see the folder.
    """

    folder: Path
    out: Path
    limits: Limits = field(default_factory=Limits)
    send: bool = False


def photos_of(day: Day, store: ResultsStore) -> list[FoundPhoto]:
    """Find all photos of the day with their content's hash; files with the same stamp are not hashed again."""
    found, fresh, hashes = [], [], store.known_hashes()
    for path in find_photos(day.folder, day.out):
        before = file_stamp(path, day.folder)
        name = path.relative_to(day.folder)  # what is kept names no folder above: results are handed on
        known, sha256 = hashes.get(name, (None, None))
        if before is None or known != before:
            sha256 = None
        if sha256 is None and before is not None:
            sha256 = content_hash(path)
            if sha256 is not None and file_stamp(path, day.folder) == before:
                fresh.append((name, before, sha256))
        found.append(FoundPhoto(path, sha256, before))
    if fresh:
        store.keep_hashes(fresh)
    return found


def read_what_is_new(
    day: Day,
    roster: Roster,
    photos: list[FoundPhoto],
    store: ResultsStore,
    engine: Callable[[], Engine],
    on_progress: Callable[[int, int], None] = lambda done, total: None,
) -> int:
    """Read all photos that this program has not read under this roster.

    Parameters
    ----------
    day : Day
    roster : Roster
    photos : list of FoundPhoto
    store : ResultsStore
    engine : function that gives an Engine
        Called only where there is something to read.
    on_progress : function of (int, int)
        Called with the number of photos done, and of all.

    Returns
    -------
    int
        Photos that were read.
    """
    jobs = list(_jobs(day, roster, photos, store))
    if not jobs:
        return 0
    done, at_work = 0, engine()
    try:
        # A copy of a photo is read only when the photo's card is known, for the copy may lie in a folder that
        # says more: hence the second pass, which is empty where there are no such copies.
        for _ in range(2):
            total, again = done + len(jobs), jobs
            on_progress(done, total)
            for limit_s, is_last in ((min(SOON_S, day.limits.seconds), False), (day.limits.seconds, True)):
                jobs, again = again, []
                for job, answer in (
                    at_work.work(_with_content(jobs, day.folder if day.send else None), limit_s)
                    if jobs
                    else ()
                ):
                    if isinstance(answer, Lost) and not is_last and _may_yet(answer, limit_s, day.limits):
                        again.append(job)
                        continue
                    _keep(job, answer, roster, store)
                    done += 1
                    on_progress(done, total)
            jobs = list(_jobs(day, roster, photos, store))
    finally:
        at_work.close()
    return done


def _jobs(day: Day, roster: Roster, photos: list[FoundPhoto], store: ResultsStore) -> Iterator[Job]:
    """Yield what is left to do, one job for each content."""
    seen: set[str] = set()
    sightings, inputs_read = store.sightings(), store.inputs_read()
    lost = store.lost(roster.sha256)
    for photo in photos:
        if photo.sha256 is None or photo.sha256 in seen or photo.sha256 in lost:
            continue
        parts = photo.path.relative_to(day.folder).parts
        sighting = sightings.get(photo.sha256)
        known = frozenset(inputs_read.get(photo.sha256, ()))
        job = Job(photo.path, parts, photo.sha256, roster, sighting, known)
        if sighting is not None and not pending_readings(job, sighting):
            continue
        seen.add(photo.sha256)
        yield job


def _with_content(jobs: list[Job], folder: Path | None) -> Iterator[Job]:
    """Add the photos' bytes to jobs that are to be sent; each is read only when its turn comes. No folder: none are.

    Place and device stay here. A photo that changed since it was hashed is left to the next run.
    """
    for job in jobs:
        if folder is None:
            yield job
            continue
        try:
            content = read_regular(job.path, MAX_BYTES, inside=folder)
        except OSError:
            yield job  # gone meanwhile: the worker says so
            continue
        if hashlib.sha256(content).hexdigest() == job.sha256:
            yield replace(job, content=fit_to_send(content))


def _may_yet(lost: Lost, limit_s: float, limits: Limits) -> bool:
    """Whether a second try may succeed: with more time, or in a worker that nobody kills."""
    return lost.kind == "died" or (lost.kind == "time" and limit_s < limits.seconds)


def _keep(job: Job, answer: Answer | Lost, roster: Roster, store: ResultsStore) -> None:
    if isinstance(answer, Lost):
        store.keep_lost(job.sha256, roster.sha256, answer)
    elif not answer.changed:  # a changed photo is found again, under its new content, by the next pass
        store.keep(job.sha256, answer)


def refuse_unwritable(out: Path) -> None:
    """Make the folder of results, or say before anything is read that it cannot be.

    Raises
    ------
    DayError
    """
    import tempfile

    try:
        out.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=out) as probe:
            probe.write(b"0")
    except OSError as error:
        raise DayError(
            f"Results cannot be written to {out}: {error.strerror}.",
            "Free some space, or name a folder that you may write to with --output.",
        ) from error
