"""A process that reads photos one by one, and that can be stopped and replaced at any time.

It is started by itself, not forked: OpenCV and forks do not go together, and a worker of a cluster may start one
too. Parent and child talk through the child's standard input and output in pickles; both ends are this program.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import pickle
import signal
import struct
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from typing import IO, Any

# Until a worker has loaded OpenCV and the networks, s: two take some 3 s on an idle machine, and a busy one with
# a cold disk some twenty times that [estimated].
START_S = 120.0
# A worker checks this often whether its parent still lives, s: it outlives a killed run by no more.
PARENT_S = 0.5
_LENGTH = struct.Struct(">Q")
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OPENCV_FOR_THREADS_NUM")


@dataclass(frozen=True)
class Lost:
    """A photo without an answer: its worker was stopped or crashed.

    Attributes
    ----------
    kind : str
        "time", "memory" or "died".
    what : str
        In words.
    """

    kind: str
    what: str


@dataclass(frozen=True)
class Limits:
    """Limits on reading one photo.

    Attributes
    ----------
    seconds : float
    memory_mb : int
        Address space of a worker, MB; 0 for no limit.
    """

    # Photos of 12 megapixels take 1 to 3 s and 1.1 GB of address space on a small machine, one of 200 some ten
    # times that [measured on two cores]. What takes longer is broken, or made to be.
    seconds: float = 60.0
    memory_mb: int = 6000


class Worker:
    """Start, ask and stop one worker process: the parent's end.

    Parameters
    ----------
    reader : str
        ``module:function`` that takes a job and gives an answer. Where the module has a function ``warm_up``, it is
        called once before the first job.
    memory_mb : int
        Address space that the process may have, MB, where the system can limit it; 0 for no limit.
    """

    def __init__(self, reader: str, memory_mb: int) -> None:
        self.reader = reader
        self.memory_mb = memory_mb
        self._process: subprocess.Popen[bytes] | None = None
        self._stopped = False

    def ask(self, job: object, limit_s: float) -> Any:
        """Do one job in the process.

        Parameters
        ----------
        job : object
            What the reader takes.
        limit_s : float
            After this many seconds the process is killed.

        Returns
        -------
        object
            The reader's answer, or `Lost`. The next call starts a new process where this one is gone.
        """
        late = threading.Event()
        try:
            process = self._running()
            timer = threading.Timer(limit_s, _kill, (process, late))
            timer.start()
            try:
                _send(process.stdin, (job, limit_s))
                answer = _receive(process.stdout)
            finally:
                timer.cancel()
        except (OSError, EOFError, pickle.UnpicklingError):
            code = self._end()
            if late.is_set():
                return Lost("time", f"Reading it took longer than {limit_s:g} s and was stopped.")
            return Lost("died", f"Reading it crashed ({_ending(code)}).")
        if isinstance(answer, Lost):
            self._end()
        return answer

    def stop(self) -> None:
        """End the process, at once and for good; may be called from any thread."""
        self._stopped = True
        self._end()

    def _running(self) -> subprocess.Popen[bytes]:
        if self._stopped:
            raise EOFError
        if self._process is None:
            self._process = _start(self.reader, self.memory_mb)
            starting = threading.Timer(START_S, self._process.kill)
            starting.start()
            try:
                _receive(self._process.stdout)
            finally:
                starting.cancel()
        return self._process

    def _end(self) -> int | None:
        process, self._process = self._process, None
        if process is None:
            return None
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(0.2)  # one that ended by itself leaves its status
        process.kill()
        code = process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        return code


def _start(reader: str, memory_mb: int) -> subprocess.Popen[bytes]:
    # -P and the parent's own path: a folder of photos that is the current one must not bring modules along.
    code = (
        f"import sys; sys.path[:] = {sys.path!r}; from strandline.shared.worker import serve; "
        f"serve({reader!r}, {memory_mb!r}, {os.getpid()!r})"
    )
    environment = {**os.environ, **dict.fromkeys(_ONE_THREAD, "1")}
    return subprocess.Popen(
        [sys.executable, "-P", "-c", code],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=environment,
    )


def serve(reader: str, memory_mb: int, parent: int) -> None:
    """Do jobs until there are no more: the child's end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches all of a terminal; the parent decides
    jobs = os.fdopen(os.dup(0), "rb")
    answers = os.fdopen(os.dup(1), "wb")
    _quiet_libraries()
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    _limit_memory(memory_mb)
    module, _, name = reader.partition(":")
    loaded = importlib.import_module(module)
    work = getattr(loaded, name)
    getattr(loaded, "warm_up", lambda: None)()  # before the clock of the first photo starts
    _send(answers, "ready")
    while True:
        try:
            job, limit_s = _receive(jobs)
        except EOFError:
            return
        _limit_processor(limit_s)
        try:
            answer = work(job)
        except MemoryError:
            answer = Lost("memory", f"Reading it needs more than {memory_mb} MB of memory.")
        _send(answers, answer)


def _quiet_libraries() -> None:
    """Keep standard error for Python; what libraries in C print of broken files is nothing for a terminal.

    Nor does it go among the answers, on standard output.
    """
    sys.stderr = os.fdopen(
        os.dup(2), "w", buffering=1, encoding=sys.stderr.encoding, errors="backslashreplace"
    )
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (1, 2):
        os.dup2(nowhere, stream)
    os.close(nowhere)


def _end_with(parent: int) -> None:
    """End when the parent is gone: killed, it cannot say so. (Windows keeps the number; there the pipe ends.)"""
    while os.name == "nt" or os.getppid() == parent:
        time.sleep(PARENT_S)
    os._exit(1)


def _limit_memory(memory_mb: int) -> None:
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        if memory_mb:
            resource.setrlimit(resource.RLIMIT_AS, (memory_mb << 20, memory_mb << 20))


def _limit_processor(limit_s: float) -> None:
    """Limit processor time, which ends a worker that hangs inside a library after its parent was killed."""
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        used = resource.getrusage(resource.RUSAGE_SELF)
        soft = int(used.ru_utime + used.ru_stime + 2 * limit_s + 10)
        resource.setrlimit(resource.RLIMIT_CPU, (soft, resource.RLIM_INFINITY))


def _kill(process: subprocess.Popen[bytes], late: threading.Event) -> None:
    late.set()
    process.kill()


def _ending(code: int | None) -> str:
    if code is not None and code < 0:
        try:
            return f"signal {signal.Signals(-code).name}"
        except ValueError:
            return f"signal {-code}"
    return f"status {code}"


def _send(pipe: IO[bytes] | None, value: object) -> None:
    assert pipe is not None
    content = pickle.dumps(value, pickle.HIGHEST_PROTOCOL)
    pipe.write(_LENGTH.pack(len(content)))
    pipe.write(content)
    pipe.flush()


def _receive(pipe: IO[bytes] | None) -> Any:
    assert pipe is not None
    head = pipe.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        raise EOFError
    (length,) = _LENGTH.unpack(head)
    content = pipe.read(length)
    if len(content) < length:
        raise EOFError
    return pickle.loads(content)
