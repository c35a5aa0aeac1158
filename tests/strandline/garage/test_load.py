"""Twenty phones at once, and a server that is killed: all are answered, none of their photos is lost."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from strandline.garage.photos.store import PhotoStore
from tests.helpers.garage_server import FORK, PATIENCE_S, ROOT, Served, command, filled, free_port

PHONES = 20
# A phone's own number of its photo.
KEY = "{:08x}-0000-4000-8000-000000000000"
# The server holds no photo whole; Python's own pools and the threads' stacks grow by 15 MB [measured].
MOST_GROWTH_MB = 40


def resident_mb(pid: int | str = "self") -> float:
    text = Path(f"/proc/{pid}/status").read_text()
    return int(next(line for line in text.splitlines() if line.startswith("VmRSS")).split()[1]) / 1024


@pytest.mark.long
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="memory is read from /proc")
def test_twenty_phones_at_once_are_all_answered_and_memory_stays(tmp_path: Path) -> None:
    """Twenty photos of 6 MB, which together would be 120 MB if the server held them; the pages answer meanwhile."""
    port = free_port()
    server = command(filled(tmp_path), port)
    most = [0.0]
    stop = threading.Event()

    def watch() -> None:
        while not stop.wait(0.05):
            most[0] = max(most[0], resident_mb(server.process.pid))

    watcher = threading.Thread(target=watch)
    try:
        server.wait_until_open()
        garage = Served(port)
        garage.get("/bike/sandpiper/ride")
        assert garage.send_photo(FORK.read_bytes()).status == 201
        before = resident_mb(server.process.pid)
        watcher.start()
        content = FORK.read_bytes() + bytes(5_200_000)  # behind a JPEG's end anything may stand
        with ThreadPoolExecutor(PHONES) as pool:
            answers = list(pool.map(lambda _: garage.send_photo(content), range(PHONES)))
            assert [one.status for one in answers] == [201] * PHONES
            pages = [json.loads(one.body)["page"] for one in answers]
            assert len(set(pages)) == PHONES
            until = time.monotonic() + PATIENCE_S
            left = pages
            while left and time.monotonic() < until:
                assert garage.get("/").status == 200
                left = [one for one in left if "drawn.jpg" not in garage.get(one).text]
        assert not left
        assert most[0] - before < MOST_GROWTH_MB, f"{most[0] - before:.0f} MB more"
    finally:
        stop.set()
        server.kill()
        watcher.join()


def test_a_photo_that_was_answered_for_outlives_the_server(tmp_path: Path) -> None:
    """Killed while photos are on their way and being read; after the next start all that were answered are read."""
    logbook, port = filled(tmp_path), free_port()
    first = command(logbook, port)
    answered: list[str] = []
    try:
        first.wait_until_open()
        garage = Served(port)
        content = FORK.read_bytes()

        def send(number: int) -> None:
            try:
                found = garage.send_photo(content, {"key": KEY.format(number)})
                if found.status == 201:
                    answered.append(json.loads(found.body)["page"].rpartition("/")[2])
            except (OSError, ValueError, AssertionError, Exception):
                pass

        threads = [threading.Thread(target=send, args=(number,)) for number in range(4)]
        for one in threads:
            one.start()
        until = time.monotonic() + PATIENCE_S
        while not answered and time.monotonic() < until:
            time.sleep(0.005)
        first.kill()
        for one in threads:
            one.join(30)
        assert answered
        # A number whose photo is on the disk, and nothing half done beside it.
        kept = PhotoStore(tmp_path / "garage" / "photos")
        assert {one.id for one in kept.photos()} >= set(answered)
        second = command(logbook, port)
        try:
            second.wait_until_open()
            for number in range(4):  # the phones send again what was not answered, and what was
                assert garage.send_photo(content, {"key": KEY.format(number)}).status == 201
            until = time.monotonic() + PATIENCE_S
            for photo_id in answered:
                while "drawn.jpg" not in garage.get(f"/photo/{photo_id}").text:
                    assert time.monotonic() < until
        finally:
            second.kill()
        assert len(PhotoStore(tmp_path / "garage" / "photos")) == 4  # none twice
    finally:
        first.kill()


def test_ctrl_c_ends_it_without_a_word(tmp_path: Path) -> None:
    """Twice in a row, as some terminals send it; its workers end with it."""
    words = [sys.executable, "-m", "strandline", "garage", "--json", "--port", str(free_port())]
    process = subprocess.Popen(
        [*words, "--logbook", str(filled(tmp_path))],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=ROOT,
        text=True,
    )
    assert process.stdout is not None
    assert "here" in json.loads(process.stdout.readline())
    time.sleep(1.0)
    for _ in range(2):
        process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=PATIENCE_S)
    assert (process.returncode, said) == (0, "")


@pytest.mark.long
def test_twelve_megapixels_take_less_than_a_second_and_a_half_of_a_core(tmp_path: Path) -> None:
    """Time of the processor, which a busy machine does not stretch; what a worker does once it is warm."""
    from PIL import Image

    from ridelog.names import LegName
    from strandline.garage.photos.reading import inputs_for
    from strandline.garage.photos.store import Subject
    from strandline.garage.photos.worker_job import PhotoJob, warm_up
    from strandline.garage.settings import GarageSettings
    from suspension.stroke.leg import State

    settings = GarageSettings(filled(tmp_path))
    with Image.open(FORK) as image:
        large = image.resize((4032, 3024), Image.Resampling.BICUBIC)
        large.save(tmp_path / "raw", "JPEG", quality=92, exif=image.info["exif"])
    warm_up()
    inputs = inputs_for(settings, Subject("sandpiper", LegName.FRONT_LEFT, State.ON_WHEELS))
    raw, kept, picture, drawn = (tmp_path / name for name in ("raw", "kept", "picture", "drawn"))
    limits = settings.limits
    begun = time.process_time()
    answer = PhotoJob(raw, kept, picture, drawn, inputs, limits.pixels, limits.scans).run()
    assert answer.record is not None and answer.record.status == "read"
    assert time.process_time() - begun < 1.5
