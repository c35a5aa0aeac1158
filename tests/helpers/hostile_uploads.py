"""Photos and forms that are made to break a garage, sent by several clients at once, and what became of them.

``python -m tests.helpers.hostile_uploads COUNT [SEED]`` prints the figures; `tests/strandline/garage` checks them.
"""

from __future__ import annotations

import contextlib
import http.client
import io
import json
import os
import random
import socket
import subprocess
import sys
import tempfile
import threading
import time
import zipfile
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from strandline.garage.photos.store import PhotoStore
from tests.helpers.broken_files import SEEDS, mutated
from tests.helpers.garage_server import BIKE, FORK, ROOT, SAMPLES, Answer, Served, filled, free_port

# Clients at once, as on a tech day.
CLIENTS = 8
# Answers that refuse in words (RFC 9110): wrong form, no pairing, wrong page,
# too slow, too large, wrong kind, busy, full.
REFUSALS = {400, 403, 404, 405, 408, 411, 413, 414, 415, 421, 422, 431, 501, 503, 507}
BUSY = 503
NAMES = [
    "IMG_1.jpg",
    "../../../etc/passwd",
    "..\\..\\x.jpg",
    "CON",
    "NUL.jpg",
    "a.jpg.",
    "a.jpg ",
    "a\x00b.jpg",
    "\u202egpj.exe",
    "e\u0301.jpg",
    "\u00e9.jpg",
    "-rf",
    "x" * 3_000,
    '"; filename="b',
    "<script>alert(1)</script>",
    "$(reboot).jpg",
    "\r\nX-Forged: 1",
    "",
]
KINDS = [
    b"",
    b"GIF89a",
    b"%PDF-1.7\n",
    b"\x7fELF\2\1\1",
    b"MZ",
    b"<svg onload='x'>",
    b"{}",
    b"\x1f\x8b\x08",
    b"RIFF....WAVE",
]
FIELDS = {
    "bike": ["", "..", "none", BIKE * 400, "sand\x00piper", "../bikes/sandpiper", BIKE.upper()],
    "leg": ["", "rear", "middle", "front", "front-left\x00", "9" * 5_000],
    "state": ["", "sideways", "on-wheels\n", "\U0001f600"],
    "purpose": ["", "day", "sag", "other"],
    "phase": ["", "before", "x"],
    "approach": ["", "pushed-down", "x"],
    "print_scale": ["", "1", "nan", "1e400", "0.99x0.98x0.97", "-1", "\u0661", "9" * 4_000],
    "key": ["", "0" * 36, "-" * 36, "x", "../" * 12],
    "unknown": ["", "x" * 5_000],
}


@dataclass
class Tally:
    """What became of the uploads.

    Attributes
    ----------
    answers : Counter
        By status; "cut" where the client ended before it sent all, "closed" where the server hung up.
    taken : list of str
        Numbers of photos that were answered for.
    wrong : list of str
        What must not happen.
    slowest_page_s : float
        Of pages asked for in between.
    pages : int
    growth_mb : float
        Of the server's memory, above that after its first photo.
    outcomes : Counter
        "read", "refused by reading", "no photo"; "waiting" is one that is stuck.
    """

    answers: Counter[str] = field(default_factory=Counter)
    taken: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    slowest_page_s: float = 0.0
    pages: int = 0
    growth_mb: float = 0.0
    outcomes: Counter[str] = field(default_factory=Counter)

    def add(self, other: Tally) -> None:
        """Count another garage's with this one's."""
        self.answers += other.answers
        self.outcomes += other.outcomes
        self.taken += other.taken
        self.wrong += other.wrong
        self.pages += other.pages
        self.slowest_page_s = max(self.slowest_page_s, other.slowest_page_s)
        self.growth_mb = max(self.growth_mb, other.growth_mb)


def content_of(chance: random.Random) -> bytes:
    """Make a file: mostly a broken photo, sometimes something else, seldom a whole large one that is damaged."""
    which = chance.random()
    if which < 0.80:
        return mutated(chance.choice(SEEDS).read_bytes(), chance)
    if which < 0.82:
        whole = bytearray(chance.choice([FORK, SAMPLES / "fork-without-card.jpg"]).read_bytes())
        for _ in range(chance.choice((1, 20, 400))):
            whole[chance.randrange(len(whole))] = chance.randrange(256)
        return bytes(whole[: chance.choice((len(whole), chance.randrange(len(whole))))])
    if which < 0.85:
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("../a.jpg", b"\0" * 1_000_000)
        return packed.getvalue()
    return chance.choice(KINDS) + chance.randbytes(chance.choice((0, 1, 100, 60_000)))


def form_of(chance: random.Random) -> tuple[bytes, str]:
    """Write a form with a photo, most of them as the page does; give it with its content type."""
    fields = {"bike": BIKE, "leg": "front-left", "state": "on-wheels"}
    for _ in range(chance.choice((0, 0, 0, 0, 0, 1, 2))):
        name = chance.choice(list(FIELDS))
        fields[name] = chance.choice(FIELDS[name])
    name = chance.choice(NAMES) if chance.random() < 0.5 else "photo.jpg"
    head = (
        f'Content-Disposition: form-data; name="photo"; filename="{name}"\r\nContent-Type: image/jpeg\r\n\r\n'
    )
    parts = [
        f'Content-Disposition: form-data; name="{key}"\r\n\r\n{value}'.encode()
        for key, value in fields.items()
    ]
    parts.append(head.encode() + content_of(chance))
    kind = "multipart/form-data; boundary=XX"
    form = b"".join(b"--XX\r\n" + part + b"\r\n" for part in parts) + b"--XX--\r\n"
    which = chance.random()
    if which < 0.80:
        return form, kind
    if which < 0.84:
        return form[: chance.randrange(1, len(form))], kind  # a form that ends early, and says so
    if which < 0.88:
        return form, chance.choice(
            ["", "text/plain", "multipart/form-data", 'multipart/form-data; boundary="YY"']
        )
    if which < 0.92:
        return mutated(form[:400], chance) + form[400:], kind
    if which < 0.95:
        return b"--XX\r\nX: " + b"y" * 100_000 + form, kind  # a part's head without end
    if which < 0.98:
        return form[:-8] + b"\r\n" + form, kind  # two photos in one form
    return form.replace(b"XX", b"X" * 70), f"multipart/form-data; boundary={'X' * 70}"


def _send(garage: Served, chance: random.Random, tally: Tally) -> None:
    form, kind = form_of(chance)
    if chance.random() < 0.06:
        _cut(garage, form, kind, chance)
        tally.answers["cut"] += 1
        return
    until = time.monotonic() + 600
    while True:
        try:
            answer = garage.ask("POST", "/photos", form, Content_Type=kind, Accept="application/json")
        except (OSError, http.client.HTTPException):
            # A server that refuses a form while it is being sent closes: the client sees a reset.
            tally.answers["closed"] += 1
            return
        if answer.status != BUSY:
            break
        tally.answers["busy, sent again"] += 1
        if time.monotonic() > until:
            tally.wrong.append("stayed busy for ten minutes")
            return
        time.sleep(0.2)
    tally.answers[str(answer.status)] += 1
    _judge(answer, form, tally)


def _judge(answer: Answer, form: bytes, tally: Tally) -> None:
    if answer.status == 201:
        tally.taken.append(json.loads(answer.body)["page"].rpartition("/")[2])
    elif answer.status not in REFUSALS or not answer.body.strip():
        tally.wrong.append(f"{answer.status}: {answer.body[:200]!r} for {form[:300]!r}")


def _cut(garage: Served, form: bytes, kind: str, chance: random.Random) -> None:
    """Announce a form and hang up inside it."""
    head = (
        f"POST /photos HTTP/1.1\r\nHost: 127.0.0.1:{garage.port}\r\nOrigin: {garage.address}\r\n"
        f"Content-Type: {kind}\r\nContent-Length: {len(form)}\r\n\r\n"
    )
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", garage.port), 10) as raw:
        raw.sendall(head.encode() + form[: chance.randrange(len(form))])


@contextlib.contextmanager
def served_by_command(folder: Path) -> Iterator[tuple[Served, subprocess.Popen[bytes], Path]]:
    """Open a garage by its command, what it says on standard error kept."""
    port, said = free_port(), folder / "said.txt"
    command = [sys.executable, "-m", "strandline", "garage", "--json", "--port", str(port), "--logbook"]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])}
    with said.open("wb") as errors:
        process = subprocess.Popen(
            [*command, str(filled(folder))],
            stdout=subprocess.DEVNULL,
            stderr=errors,
            cwd=ROOT,
            env=environment,
        )
    try:
        until = time.monotonic() + 120
        while True:
            assert process.poll() is None and time.monotonic() < until, said.read_text()
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
                break
            time.sleep(0.1)
        yield Served(port), process, said
    finally:
        process.kill()
        process.wait()


def resident_mb(pid: int) -> float:
    """Memory of a process, MB; 0 where the system does not say."""
    try:
        text = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0.0
    return int(next(line for line in text.splitlines() if line.startswith("VmRSS")).split()[1]) / 1024


def attack(folder: Path, count: int, seed: int) -> Tally:
    """Send files to a garage of its own, and wait until each that it took is read or refused.

    Parameters
    ----------
    folder : Path
        For its logbook and its photos.
    count : int
        Fewer than a garage keeps (2,000).
    seed : int
    """
    tally = Tally()
    with served_by_command(folder) as (garage, process, said):
        assert garage.send_photo(FORK.read_bytes()).status == 201
        store = folder / "garage" / "photos"
        wait_until_read(store, 1)
        before, stop = resident_mb(process.pid), threading.Event()

        def look() -> None:
            while not stop.wait(0.1):
                begun = time.monotonic()
                for page in ("/", f"/bike/{BIKE}/ride"):
                    if garage.get(page).status != 200:
                        tally.wrong.append(f"{page} did not answer")
                tally.pages += 2
                tally.slowest_page_s = max(tally.slowest_page_s, time.monotonic() - begun)
                tally.growth_mb = max(tally.growth_mb, resident_mb(process.pid) - before)

        looker = threading.Thread(target=look)
        looker.start()
        chances = [random.Random(f"{seed} {number}") for number in range(count)]
        try:
            with ThreadPoolExecutor(CLIENTS) as pool:
                list(pool.map(lambda chance: _send(garage, chance, tally), chances))
            wait_until_read(store, len(set(tally.taken)) + 1)
            # A good photo at the end is read as one at the beginning is.
            last = garage.send_photo(FORK.read_bytes())
            tally.taken.append(json.loads(last.body)["page"].rpartition("/")[2])
            wait_until_read(store, len(set(tally.taken)) + 1)
        finally:
            stop.set()
            looker.join()
        if process.poll() is not None:
            tally.wrong.append("the server has ended")
        words = said.read_text(errors="replace")
        if words.strip():
            tally.wrong.append(f"standard error: {words[-2_000:]}")
    _look_at_store(folder, tally)
    return tally


def wait_until_read(folder: Path, count: int) -> None:
    """Wait until so many photos are there and none is waiting; give up after a while without any progress."""
    last, since = -1, time.monotonic()
    while time.monotonic() - since < 120:
        texts = [one.read_text() for one in folder.glob("*.json")]
        done = sum('"automatic": null, ' not in one or '"problem": ""' not in one for one in texts)
        if done >= count:
            return
        if done > last:
            last, since = done, time.monotonic()
        time.sleep(0.2)


def _look_at_store(folder: Path, tally: Tally) -> None:
    """Find photos that were answered for and lost, stuck, or read by a fault; and files that nobody asked for."""
    kept = {one.id: one for one in PhotoStore(folder / "garage" / "photos").photos()}
    tally.wrong += [f"lost: {one}" for one in tally.taken if one not in kept]
    for one in kept.values():
        codes = [] if one.automatic is None else [reason.code for reason in one.automatic.reasons]
        if one.is_waiting:
            tally.outcomes["waiting"] += 1
            tally.wrong.append(f"stuck: {one}")
        elif one.problem:
            tally.outcomes["no photo"] += 1
            if "fault" in one.problem:
                tally.wrong.append(one.problem)
        else:
            tally.outcomes["read" if one.is_good else "refused by reading"] += 1
        if "program_fault" in codes:
            tally.wrong.append(f"fault: {one}")
    strange = [
        path.name
        for path in (folder / "garage" / "photos").iterdir()
        if len(path.name.partition(".")[0]) != 32 or path.suffix in (".raw", ".part")
    ]
    tally.wrong += [f"left behind: {name}" for name in strange]


def main() -> int:
    """Attack one garage after the other, 1,600 files each."""
    count, seed = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1
    whole, begun = Tally(), time.monotonic()
    for start in range(0, count, 1_600):
        with tempfile.TemporaryDirectory(prefix="hostile-") as folder:
            whole.add(attack(Path(folder), min(1_600, count - start), seed * 1_000_000 + start))
        print(
            start, dict(whole.answers), dict(whole.outcomes), f"{time.monotonic() - begun:.0f} s", flush=True
        )
        print(
            f"{whole.growth_mb:.0f} MB more, {whole.pages} pages, slowest {whole.slowest_page_s:.2f} s",
            flush=True,
        )
        print("\n".join(whole.wrong[:20]) or "nothing wrong", flush=True)
    return 1 if whole.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
