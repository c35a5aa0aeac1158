"""Reading on this machine: a thread waits on each worker process, and answers come as they are ready."""

from __future__ import annotations

import os
import queue
import threading
from collections.abc import Iterable, Iterator
from typing import Protocol

from strandline.day.reading.jobs import Answer, Job
from strandline.shared.worker import Limits, Lost, Worker


class Engine(Protocol):
    """Something that reads photos: processes here, or a cluster."""

    def work(self, jobs: Iterable[Job], limit_s: float) -> Iterator[tuple[Job, Answer | Lost]]:
        """Do all jobs; answers come in any order, each once."""
        ...

    def close(self) -> None:
        """Stop what still runs."""
        ...


class LocalPool:
    """Worker processes on this machine, each with one thread.

    Parameters
    ----------
    reader : str
        See `Worker`.
    limits : Limits
    count : int, optional
        As many as the process may use cores, where not given.
    """

    def __init__(self, reader: str, limits: Limits, count: int | None = None) -> None:
        self.count = count or cores()
        self.workers = [Worker(reader, limits.memory_mb) for _ in range(self.count)]

    def work(self, jobs: Iterable[Job], limit_s: float) -> Iterator[tuple[Job, Answer | Lost]]:
        """Do all jobs.

        Jobs are drawn only as workers become free, and a worker waits when answers are not taken: memory stays
        flat however many there are.
        """
        ready: queue.Queue[tuple[Job, Answer | Lost] | BaseException | None] = queue.Queue(self.count)
        source, lock, stop = iter(jobs), threading.Lock(), threading.Event()

        def put(value: tuple[Job, Answer | Lost] | BaseException | None) -> None:
            while not stop.is_set():
                try:
                    ready.put(value, timeout=0.1)
                    return
                except queue.Full:
                    continue

        def draw() -> Job | None:
            with lock:
                return None if stop.is_set() else next(source, None)

        def serve(worker: Worker) -> None:
            try:
                while (job := draw()) is not None:
                    put((job, worker.ask(job, limit_s)))
            except BaseException as error:  # an error while drawing a job ends the run, which raises it
                put(error)
            put(None)

        threads = [
            threading.Thread(target=serve, args=(worker,), daemon=True, name=f"worker {number}")
            for number, worker in enumerate(self.workers)
        ]
        for thread in threads:
            thread.start()
        try:
            waiting = len(threads)
            while waiting:
                one = ready.get()
                if one is None:
                    waiting -= 1
                elif isinstance(one, BaseException):
                    raise one
                else:
                    yield one
        finally:
            stop.set()
            if any(thread.is_alive() for thread in threads):
                self.close()
            for thread in threads:
                thread.join()

    def close(self) -> None:
        """Stop the processes."""
        for worker in self.workers:
            worker.stop()


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
