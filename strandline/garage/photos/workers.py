"""The processes that open and read photos; the server itself never decodes one."""

from __future__ import annotations

import queue
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

from strandline.day.reading.pool import cores
from strandline.garage.photos.worker_job import Nothing, WorkerJob
from strandline.garage.settings import Limits
from strandline.shared.worker import Lost, Worker

READER = "strandline.garage.photos.worker_job:work"
# Each holds some 300 MB when it has read 12 megapixels [measured for a tech day]; more than two help no single phone.
MOST_WORKERS = 2


class Workers:
    """Worker processes and a queue before them.

    Parameters
    ----------
    limits : Limits
    count : int, optional
    """

    def __init__(self, limits: Limits, count: int | None = None) -> None:
        self.limits = limits
        self.count = count or min(MOST_WORKERS, cores())
        self._workers = [Worker(READER, limits.worker_mb) for _ in range(self.count)]
        self._free: queue.SimpleQueue[Worker] = queue.SimpleQueue()
        for one in self._workers:
            self._free.put(one)
        self._threads = ThreadPoolExecutor(self.count, thread_name_prefix="photo")

    def submit(self, job: WorkerJob) -> Future[Any]:
        """Have a job done.

        Returns
        -------
        Future
            Of the job's answer, or `Lost` where its process was stopped or crashed.
        """
        return self._threads.submit(self._ask, job)

    def start(self) -> None:
        """Start the processes now, so that the first photo does not wait for them."""
        for _ in self._workers:
            self.submit(Nothing())

    def close(self) -> None:
        """Stop the processes."""
        for one in self._workers:
            one.stop()
        self._threads.shutdown(wait=False, cancel_futures=True)

    def _ask(self, job: WorkerJob) -> Any | Lost:
        worker = self._free.get()
        try:
            return worker.ask(job, self.limits.reading_s)
        finally:
            self._free.put(worker)
