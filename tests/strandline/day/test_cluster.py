"""The same work on a real cluster: two worker processes of dask.distributed, one killed midway.

The scheduler and the workers are started as people start them, from the command line.
"""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from strandline.day.errors import DayError
from tests.helpers.made_day import MadeDay, codes, run
from tests.helpers.stub_reader import Scene

pytest.importorskip("distributed", reason="the extra “cluster” is not installed")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """Address of a scheduler, and its two workers' processes."""
    folder = tmp_path_factory.mktemp("cluster")
    address = f"tcp://127.0.0.1:{_free_port()}"
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONWARNINGS": "ignore"}

    def started(*words: str) -> subprocess.Popen[bytes]:
        quiet = subprocess.DEVNULL
        return subprocess.Popen(
            [sys.executable, "-m", *words], env=environment, cwd=folder, stdout=quiet, stderr=quiet
        )

    scheduler = started("distributed.cli.dask_scheduler", "--host", address, "--no-dashboard")
    one = ("distributed.cli.dask_worker", address, "--nthreads", "1", "--nworkers", "1", "--no-nanny")
    workers = [started(*one, "--no-dashboard", "--name", str(n)) for n in range(2)]
    try:
        yield address, workers
    finally:
        for process in (*workers, scheduler):
            process.kill()
            process.wait()


def _wait_for_workers(address: str) -> None:
    import distributed

    connect: Any = distributed.Client
    with connect(address, timeout=60, set_as_default=False) as client:
        client.wait_for_workers(2, timeout=60)


@pytest.mark.long
@pytest.mark.filterwarnings("ignore")  # distributed's own, of its event loops and sockets
def test_a_worker_killed_midway_costs_nothing(
    cluster: tuple[str, list[subprocess.Popen[bytes]]], tmp_path: Path
) -> None:
    address, workers = cluster
    _wait_for_workers(address)
    day = MadeDay(tmp_path / "day", pool=True)
    for number in range(30):
        day.put(f"{number:02d} fl.jpg", Scene(card=4, marker=60 + number / 1000, salt=number, do="slow"))
    day.put("hang fl.jpg", card=4, do="hang")
    done: list[int] = []

    def report(so_far: int, total: int) -> None:
        done.append(so_far)
        if so_far == 8 and workers[0].poll() is None:
            workers[0].send_signal(signal.SIGKILL)

    from dataclasses import replace

    from strandline.day.pipeline import run_day
    from strandline.day.reading.pool import Limits

    limits = Limits(4.0, 6000)
    started = time.monotonic()
    results = run_day(replace(day.request, cluster=address, send=True, limits=limits), report)
    assert time.monotonic() - started < 120
    assert workers[0].poll() is not None
    assert codes(results) == {"hang fl.jpg": "lost_time"} and results.read == 30
    files = {
        path.name: path.read_bytes()
        for path in day.out.iterdir()
        if path.suffix in (".csv", ".html", ".jsonl")
    }
    alone = run_day(replace(day.request, out=tmp_path / "alone", limits=limits))
    assert alone == results
    for name, content in files.items():
        assert (tmp_path / "alone" / name).read_bytes() == content, name


@pytest.mark.filterwarnings("ignore")
def test_nobody_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("strandline.day.reading.cluster.CONNECT_S", 1)
    day = MadeDay(tmp_path / "day", pool=True)
    day.put("fl.jpg")
    with pytest.raises(DayError, match="No cluster answers"):
        day.run(cluster=f"tcp://127.0.0.1:{_free_port()}")


def test_without_the_extra(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "dask.distributed", None)
    day = MadeDay(tmp_path / "day", pool=True)
    day.put("fl.jpg")
    result = run("day", day.folder, "--cluster", "tcp://127.0.0.1:1")
    assert result.exit_code == 1 and "strandline[cluster]" in result.output
