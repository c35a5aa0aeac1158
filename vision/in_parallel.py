"""A check beside what the caller does meanwhile, on another core where there is one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager


@contextmanager
def in_parallel(check: Callable[[], str | None]) -> Iterator[list[str]]:
    """Run a check in parallel with the body, and raise its error in preference to the body's.

    Its remark, where it has one, is in the list once the body has ended.

    The body should occupy one core only: rims and lengths, not networks. Where OpenCV may use only one thread (one of
    several processes, each on its core) the check runs first.
    """
    import cv2

    remarks: list[str] = []
    if cv2.getNumThreads() == 1:
        remarks += filter(None, [check()])
        yield remarks
        return
    with ThreadPoolExecutor(1) as pool:
        checked = pool.submit(check)
        try:
            yield remarks
        finally:
            remarks += filter(None, [checked.result()])
