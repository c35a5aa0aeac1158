"""Reading on several machines, by an existing engine: dask.distributed, which the extra `cluster` brings.

Each of its workers starts a worker process of its own, so that the limits hold there as they do here. A photo
whose worker is lost is given to another; a photo that ends several workers is recorded as lost.
"""

from __future__ import annotations

import importlib
import re
import threading
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from strandline.day.errors import DayError
from strandline.day.identify.sighting import Sighting
from strandline.day.reading.jobs import Answer, Job
from strandline.day.reading.records import PhotoRecord, ReadingRow
from strandline.day.reading.version import program_version
from strandline.shared.worker import Limits, Lost, Worker

# Photos under way for each thread of the cluster: one at work, one ready, so that none waits for the network.
AHEAD = 2
# Workers that may be lost over one photo before the photo is blamed.
RETRIES = 2
CONNECT_S = 15
# Of one answer: a photo is read once for each leg that it may show; characters of its JSON, a page or two; bytes of a
# picture of 1200 px that no encoder needs; mm, ten times the longest shaft [all are choices, well above any real one].
MOST_READINGS, MOST_TEXT, MOST_PICTURE_BYTES, MOST_MM = 20, 100_000, 4_000_000, 10_000.0
TLS_FILES = ("ca.pem", "cert.pem", "key.pem")
"""The authority that all machines trust, and this machine's certificate and key: docs/cluster.md makes them."""

_own = threading.local()


class Cluster:
    """An engine (see `strandline.day.reading.pool.Engine`) over a running cluster.

    Parameters
    ----------
    address : str
        Of its scheduler, such as ``tcp://192.0.2.7:8786``.
    reader : str
        See `Worker`.
    limits : Limits
    tls : Path or None
        Folder of the certificates (`TLS_FILES`): connections are encrypted, and both ends prove who they are.

    Raises
    ------
    DayError
        The extra is not installed, nothing answers there, there are no workers, certificates are missing, or a
        worker has another program.
    """

    def __init__(self, address: str, reader: str, limits: Limits, tls: Path | None = None) -> None:
        self.reader, self.limits = reader, limits
        self.client = _connected(address, tls)
        self.threads = sum(self.client.nthreads().values())
        if not self.threads:
            self.close()
            raise DayError(
                f"The cluster at {address} has no workers.", "Start some, for example with: dask worker"
            )
        self._refuse_other_programs()

    def _refuse_other_programs(self) -> None:
        """Compare the workers' program with the one here, before anything is read."""
        try:
            others = set(self.client.run(program_version).values()) - {program_version()}
        except ImportError as error:
            self.close()
            raise DayError(
                f"A worker of the cluster cannot load the program ({error}).",
                "Install the same Strandline there.",
            ) from error
        if others:
            self.close()
            raise DayError(
                f"A worker of the cluster runs another program ({', '.join(sorted(others))}; here "
                f"{program_version()}).",
                "Install the same Strandline, with the same libraries, on all machines.",
            )

    def work(self, jobs: Iterable[Job], limit_s: float) -> Iterator[tuple[Job, Answer | Lost]]:
        """Do all jobs."""
        source, under_way = iter(jobs), {}
        waiting = _distributed().as_completed(loop=self.client.loop)

        def submit() -> None:
            job = next(source, None)
            if job is not None:
                future = self.client.submit(
                    on_worker, job, self.reader, self.limits.memory_mb, limit_s, pure=False, retries=RETRIES
                )
                under_way[future.key] = job
                waiting.add(future)

        for _ in range(AHEAD * self.threads):
            submit()
        for future in waiting:
            job = under_way.pop(future.key)
            yield job, _result(future, job)
            submit()

    def close(self) -> None:
        """Leave the cluster; it keeps running, and what it still does for this run is cancelled."""
        self.client.close()


def on_worker(job: Job, reader: str, memory_mb: int, limit_s: float) -> tuple[str, str, Answer | Lost]:
    """Read a photo on the cluster, and say which program did, and of which photo.

    The process is kept between photos, one for each of the worker's threads.
    """
    if getattr(_own, "reader", None) != (reader, memory_mb):
        _own.reader, _own.worker = (reader, memory_mb), Worker(reader, memory_mb)
    return program_version(), job.sha256, _own.worker.ask(job, limit_s)


def _result(future: Any, job: Job) -> Answer | Lost:
    """Take a worker's answer; whatever is wrong with it costs this photo only."""
    try:
        version, sha256, answer = future.result()
    except _distributed().KilledWorker:
        return Lost("died", "Several of the cluster's workers were lost while reading it.")
    except Exception as error:  # what a worker sends is not ours: any error may come out of it
        return Lost(
            "died", f"A worker of the cluster gave no answer that can be used ({type(error).__name__})."
        )
    if version != program_version():
        return Lost("died", f"A worker of the cluster runs another program (here {program_version()}).")
    if sha256 != job.sha256:
        return Lost("died", "A worker of the cluster answered for another photo.")
    if not _is_sound(answer):
        return Lost("died", "A worker of the cluster gave no answer that can be used.")
    found: Answer | Lost = answer
    return found


def _is_sound(answer: object) -> bool:
    """Whether an answer can be kept: types, numbers, sizes; whether its lengths are true cannot be seen from here."""
    if isinstance(answer, Lost):
        return isinstance(answer.kind, str) and isinstance(answer.what, str) and len(answer.what) <= MOST_TEXT
    return (
        isinstance(answer, Answer)
        and isinstance(answer.sighting, Sighting)
        and _has_its_types(answer.sighting)
        and _is_picture(answer.thumb)
        and isinstance(answer.readings, tuple)
        and len(answer.readings) <= MOST_READINGS
        and all(isinstance(one, ReadingRow) and _is_picture(one.picture) for one in answer.readings)
        and _can_be_kept(answer)
    )


def _has_its_types(one: Sighting) -> bool:
    texts = (one.what, one.advice, *(text for text in (one.when, one.problem) if text is not None))
    return (
        isinstance(one.card, int | None)
        and isinstance(one.tags, tuple)
        and all(isinstance(text, str) for text in (*texts, *one.tags))
    )


def _is_picture(content: object) -> bool:
    """Whether it is a small WebP, or none (RFC 9649, section 2.4)."""
    return content is None or (
        isinstance(content, bytes)
        and len(content) <= MOST_PICTURE_BYTES
        and (content[:4], content[8:12]) == (b"RIFF", b"WEBP")
    )


def _can_be_kept(answer: Answer) -> bool:
    """Whether the day's file can be written and read again with it, and no length is beyond a shaft's."""
    try:
        texts = [answer.sighting.as_text, *(one.record.to_json() for one in answer.readings)]
        if any(len(text) > MOST_TEXT for text in texts):
            return False
        records = [PhotoRecord.from_json(text) for text in texts[1:]]
        lengths = [one for record in records for one in record.lengths.values()]
        return (
            Sighting.from_text(texts[0]) == answer.sighting
            and all(re.fullmatch(r"[0-9a-f]{64}", one.inputs_hash) for one in answer.readings)
            and all(0 <= one.value <= MOST_MM and 0 <= one.u95 <= MOST_MM for one in lengths)
        )
    except Exception:  # what a worker sends is not ours, and its fields may be of any kind
        return False


def _distributed() -> Any:
    """Load the extra; it is typed only in part, so that it counts as untyped."""
    return importlib.import_module("dask.distributed")


def _connected(address: str, tls: Path | None) -> Any:
    try:
        distributed = _distributed()
    except ImportError as error:
        raise DayError(
            "Reading on a cluster needs dask.distributed.", "Install it: pip install 'strandline[cluster]'."
        ) from error
    security = None if tls is None else _security(distributed, tls)
    try:
        return distributed.Client(address, timeout=CONNECT_S, set_as_default=False, security=security)
    except (OSError, TimeoutError, ValueError, RuntimeError) as error:
        raise DayError(
            f"No cluster answers at {address} ({error}).",
            "Check the address of its scheduler"
            + (", which starts with tls:// and needs certificates of the same authority." if tls else "."),
        ) from error


def _security(distributed: Any, folder: Path) -> Any:
    """Make the settings of an encrypted connection; the engine refuses every other kind then."""
    for name in TLS_FILES:
        if not (folder / name).is_file():
            raise DayError(
                f"{folder} has no {name}.",
                f"The folder of --cluster-tls holds {', '.join(TLS_FILES)}: see docs/cluster.md.",
            )
    authority, certificate, key = (str(folder / name) for name in TLS_FILES)
    return distributed.Security(
        tls_ca_file=authority, tls_client_cert=certificate, tls_client_key=key, require_encryption=True
    )
