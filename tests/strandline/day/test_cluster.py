"""The same work on a real cluster: three worker processes of dask.distributed, in the clear and over TLS.

The scheduler and the workers are started as people start them, from the command line.
"""

from __future__ import annotations

import os
import re
import shlex
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from strandline.day.errors import DayError
from strandline.day.identify.sighting import Sighting
from strandline.day.reading.jobs import Answer, Job
from strandline.day.reading.records import PhotoRecord, ReadingRow
from strandline.day.reading.version import program_version
from strandline.shared.worker import Lost
from suspension.quantities.quantity import Quantity
from tests.helpers.made_day import MadeDay, codes, run
from tests.helpers.stub_reader import Scene
from vision.names import LengthName

pytest.importorskip("distributed", reason="the extra “cluster” is not installed")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@dataclass(frozen=True)
class Started:
    """A scheduler's address, its workers' processes, and the folder of certificates."""

    address: str
    workers: list[subprocess.Popen[bytes]]
    tls: Path | None


def made_certificates(folder: Path) -> Path:
    """Run the commands of docs/cluster.md that make them."""
    text = (Path(__file__).parents[3] / "docs" / "cluster.md").read_text("utf-8")
    commands = re.findall(r"^(?:openssl|rm) .+$", text, re.MULTILINE)
    assert len(commands) == 4
    folder.mkdir()
    for line in commands:
        subprocess.run(shlex.split(line), cwd=folder, check=True, capture_output=True)
    assert {one.name for one in folder.iterdir()} >= {"ca.pem", "cert.pem", "key.pem"}
    assert not (folder / "ca-key.pem").exists()
    return folder


@pytest.fixture(scope="module", params=["plain", "tls"])
def cluster(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Started]:
    """Start a scheduler and three workers, as docs/cluster.md does."""
    folder = tmp_path_factory.mktemp("cluster")
    tls: Path | None = None
    options: tuple[str, ...] = ()
    if request.param == "tls":
        tls = made_certificates(folder / "keys")
        files = {"--tls-ca-file": "ca.pem", "--tls-cert": "cert.pem", "--tls-key": "key.pem"}
        options = tuple(word for option, name in files.items() for word in (option, str(tls / name)))
    address = f"{'tls' if tls else 'tcp'}://127.0.0.1:{_free_port()}"
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONWARNINGS": "ignore"}

    def started(*words: str) -> subprocess.Popen[bytes]:
        quiet = subprocess.DEVNULL
        return subprocess.Popen(
            [sys.executable, "-m", *words, "--no-dashboard", *options],
            env=environment,
            cwd=folder,
            stdout=quiet,
            stderr=quiet,
        )

    scheduler = started("distributed.cli.dask_scheduler", "--host", address)
    one = ("distributed.cli.dask_worker", address, "--nthreads", "1", "--nworkers", "1", "--no-nanny")
    workers = [started(*one, "--name", str(n)) for n in range(3)]
    try:
        yield Started(address, workers, tls)
    finally:
        for process in (*workers, scheduler):
            process.kill()
            process.wait()


def _wait_for_workers(cluster: Started) -> None:
    # A loaded machine takes long to start three processes.
    alive = sum(worker.poll() is None for worker in cluster.workers)
    from strandline.day.reading.cluster import _connected

    deadline = time.monotonic() + 60
    while True:
        try:
            client = _connected(cluster.address, cluster.tls)
            break
        except DayError:
            if time.monotonic() > deadline:
                raise
    with client:
        client.wait_for_workers(alive, timeout=60)


@pytest.mark.long
@pytest.mark.filterwarnings("ignore")  # distributed's own, of its event loops and sockets
def test_of_three_workers_one_is_killed_and_one_answer_is_none(cluster: Started, tmp_path: Path) -> None:
    _wait_for_workers(cluster)
    workers = cluster.workers
    day = MadeDay(tmp_path / "day", pool=True)
    for number in range(30):
        day.put(f"{number:02d} fl.jpg", Scene(card=4, marker=60 + number / 1000, salt=number, do="slow"))
    day.put("hang fl.jpg", card=4, do="hang")
    day.put("lie fl.jpg", card=4, do="lie")
    done: list[int] = []

    def report(so_far: int, total: int) -> None:
        done.append(so_far)
        if so_far == 8 and workers[0].poll() is None:
            workers[0].send_signal(signal.SIGKILL)

    from strandline.day.pipeline import run_day
    from strandline.shared.worker import Limits

    limits = Limits(4.0, 6000)
    started = time.monotonic()
    asked = replace(day.request, cluster=cluster.address, cluster_tls=cluster.tls, send=True, limits=limits)
    results = run_day(asked, report)
    assert time.monotonic() - started < 120
    assert workers[0].poll() is not None
    assert codes(results) == {"hang fl.jpg": "lost_time", "lie fl.jpg": "lost_died"} and results.read == 30
    (day.folder / "lie fl.jpg").unlink()
    results = run_day(asked)
    files = {
        path.name: path.read_bytes()
        for path in day.out.iterdir()
        if path.suffix in (".csv", ".html", ".jsonl")
    }
    alone = run_day(replace(day.request, out=tmp_path / "alone", limits=limits))
    assert alone == results
    for name, content in files.items():
        assert (tmp_path / "alone" / name).read_bytes() == content, name


@pytest.mark.long
@pytest.mark.filterwarnings("ignore")
def test_nobody_joins_without_the_certificates(
    cluster: Started, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither in the clear nor with an authority of their own."""
    if cluster.tls is None:
        pytest.skip("of the encrypted cluster")
    _wait_for_workers(cluster)
    day = MadeDay(tmp_path / "day", pool=True)
    day.put("fl.jpg")
    for address, tls in (
        (cluster.address.replace("tls://", "tcp://"), None),
        (cluster.address, made_certificates(tmp_path / "others")),
    ):
        with monkeypatch.context() as soon, pytest.raises(DayError, match="No cluster answers"):
            soon.setattr("strandline.day.reading.cluster.CONNECT_S", 3)
            day.run(cluster=address, cluster_tls=tls)
    assert day.run(cluster=cluster.address, cluster_tls=cluster.tls, send=True).read == 1


class Future:
    """A future of the engine whose result is what a worker sent."""

    def __init__(self, result: object) -> None:
        self.sent = result

    def result(self) -> object:
        """Give it, or raise it."""
        if isinstance(self.sent, Exception):
            raise self.sent
        return self.sent


JOB = Job(Path("a.jpg"), ("a.jpg",), "5" * 64, None)  # type: ignore[arg-type]


def sent_as(*answer: object, version: str | None = None, sha256: str = JOB.sha256) -> tuple[object, ...]:
    """Give what a worker sends."""
    return (version or program_version(), sha256, *answer)


def row(
    value: float = 80.0, inputs: str = "a" * 64, picture: bytes | None = None, **more: object
) -> ReadingRow:
    """Make a reading of one length."""
    length = Quantity(80.0, 0.4)
    object.__setattr__(length, "value", value)  # as a pickle may bring it, which asks no constructor
    lengths = {LengthName.EXPOSED: length}
    return ReadingRow(inputs, PhotoRecord("read", lengths, **more), picture)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "sent",
    [
        None,
        ("version",),
        sent_as(Answer(Sighting()), version="another version"),
        sent_as(Answer(Sighting()), sha256="6" * 64),
        sent_as({"lengths": 3}),
        sent_as(Answer("no sighting")),  # type: ignore[arg-type]
        sent_as(Answer(Sighting(), thumb="text")),  # type: ignore[arg-type]
        sent_as(Answer(Sighting(), thumb=b"MZ" + bytes(200))),
        sent_as(Answer(Sighting(), thumb=b"RIFF\x00\x00\x00\x00WEBP" + bytes(5_000_000))),
        sent_as(Answer(Sighting(), readings=(1,))),  # type: ignore[arg-type]
        sent_as(Answer(Sighting(what=7))),  # type: ignore[arg-type]
        sent_as(Answer(Sighting(tags=("front", b"left")))),  # type: ignore[arg-type]
        sent_as(Answer(Sighting(what="x" * 200_000))),
        sent_as(Answer(Sighting(), readings=(row(),) * 1000)),
        sent_as(Answer(Sighting(), readings=(row(float("inf")),))),
        sent_as(Answer(Sighting(), readings=(row(float("nan")),))),
        sent_as(Answer(Sighting(), readings=(row(1e9),))),
        sent_as(Answer(Sighting(), readings=(row(-3.0),))),
        sent_as(Answer(Sighting(), readings=(row(inputs="../../x"),))),
        sent_as(Answer(Sighting(), readings=(row(remarks=("x" * 200_000,)),))),
        sent_as(Answer(Sighting(), readings=(row(marker=None),))),
        sent_as(Answer(Sighting(), readings=(row(picture=b"<script>"),))),
        sent_as(Lost("died", 7)),  # type: ignore[arg-type]
        ValueError("cannot be unpickled"),
    ],
    ids=lambda sent: str(sent)[:60],
)
def test_an_answer_that_is_none_costs_one_photo(sent: object) -> None:
    from strandline.day.reading.cluster import _result

    answer = _result(Future(sent), JOB)
    assert isinstance(answer, Lost) and answer.kind == "died" and "worker of the cluster" in answer.what


def test_an_answer_is_taken_as_it_is() -> None:
    from strandline.day.reading.cluster import _result

    picture = b"RIFF\x00\x00\x00\x00WEBP"
    answer = Answer(Sighting(card=4, tags=("front left",)), thumb=picture, readings=(row(picture=picture),))
    assert _result(Future(sent_as(answer)), JOB) is answer


def test_certificates_that_are_missing_are_named(tmp_path: Path) -> None:
    day = MadeDay(tmp_path / "day", pool=True)
    day.put("fl.jpg")
    (tmp_path / "ca.pem").touch()
    with pytest.raises(DayError, match=r"has no cert\.pem"):
        day.run(cluster="tls://127.0.0.1:1", cluster_tls=tmp_path)


def test_certificates_without_a_cluster_are_refused(tmp_path: Path) -> None:
    result = run("day", tmp_path, "--cluster-tls", tmp_path)
    assert result.exit_code == 2 and "add --cluster" in result.output


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
