"""A real folder, read by the real program, killed with SIGKILL at random moments: the result is the undisturbed one."""

from __future__ import annotations

import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from PIL import Image, ImageEnhance

from tests.helpers.made_day import MadeDay
from tests.helpers.stub_reader import Scene

ROOT = Path(__file__).parents[3]
SAMPLES, PHOTOS = ROOT / "sample-images", ROOT / "tests" / "vision" / "photos"
KILLS = 20
PICTURES = 64

FORK = 'layout = "fork"\nshaft = "{}"\nextended = "160 mm"\nstroke = "115 mm"\n'
BIKES = {
    "twin": "".join(f"[leg.front-{side}]\n" + FORK.format("41.01 mm") for side in ("left", "right")),
    "blue": "[leg.front-left]\n"
    + FORK.format("47.97 mm")
    + '[leg.front-right]\nlayout = "upside-down-fork"\n'
    'shaft = "41.01 mm"\nextended = "190 mm"\nstroke = "120 mm"\n',
    "tall": "[leg.front]\n" + FORK.format("45.00 mm"),
}
ROSTER = "card,label,bike\n3,Anna,bikes/twin.toml\n2,Béla,bikes/blue.toml\n1,Cem,bikes/tall.toml\n"


def real_day(folder: Path) -> Path:
    """Make a day of at least 60 photos: the sample photos and the vision's test photos, slightly changed."""
    (folder / "bikes").mkdir(parents=True)
    for name, text in BIKES.items():
        head = f'format = 1\nname = "{name}"\n'
        (folder / "bikes" / f"{name}.toml").write_text(head + text, encoding="utf-8")
    (folder / "roster.csv").write_text(ROSTER, encoding="utf-8")
    sources = sorted(SAMPLES.glob("*.jpg")) + sorted(PHOTOS.glob("*.jpg"))
    for number in range(PICTURES):
        source = sources[number % len(sources)]
        place = (
            folder / ("front left" if number % 2 else "front right") / ("before" if number % 3 else "after")
        )
        place.mkdir(parents=True, exist_ok=True)
        with Image.open(source) as image:
            exif = image.getexif()
            changed = ImageEnhance.Brightness(image).enhance(1 + 0.02 * (number // len(sources)))
            changed.save(place / f"{number:02d} {source.name}", quality=92, exif=exif)
    shutil.copy(PHOTOS / "plain.jpg", folder / "a copy.jpg")
    shutil.copy(PHOTOS / "plain.jpg", folder / "front left" / "plain.jpg")
    (folder / "cut short.jpg").write_bytes((PHOTOS / "plain.jpg").read_bytes()[:30_000])
    return folder


def command(folder: Path, out: Path) -> list[str]:
    return [
        *(sys.executable, "-m", "strandline", "day", str(folder), "--out", str(out)),
        *("--print-scale", "1", "--state", "on-wheels", "--quiet"),
    ]


def results(out: Path) -> dict[str, bytes]:
    return {
        path.name: path.read_bytes() for path in out.iterdir() if path.suffix in (".csv", ".html", ".jsonl")
    }


def killed_at_random(words: list[str], kills: int, longest_s: float, seed: int) -> int:
    """Start it again and again, and kill it after a random time; count how often it had not ended by itself."""
    rng, hit = random.Random(seed), 0
    for _ in range(kills):
        process = subprocess.Popen(words, cwd=ROOT, start_new_session=True)
        try:
            process.wait(rng.uniform(0.3, longest_s))
        except subprocess.TimeoutExpired:
            hit += 1
        # The process alone: its workers have to end by themselves.
        process.send_signal(signal.SIGKILL)
        process.wait()
    return hit


def workers_of(out: Path) -> int:
    """Worker processes that still run anywhere."""
    found = subprocess.run(["ps", "-eo", "args"], capture_output=True, text=True, check=True).stdout
    return sum("strandline.shared.worker" in line and "stub" not in line for line in found.splitlines())


@pytest.mark.long
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="kills as POSIX does")
def test_twenty_kills_change_nothing(tmp_path: Path) -> None:
    folder = real_day(tmp_path / "day")
    photos = sum(path.suffix == ".jpg" for path in folder.rglob("*"))
    assert photos >= 60
    started = time.monotonic()
    subprocess.run(command(folder, tmp_path / "undisturbed"), cwd=ROOT, check=False)
    whole_s = time.monotonic() - started
    hit = killed_at_random(
        command(folder, tmp_path / "killed"), KILLS, 3 + whole_s / 8, seed=random.randrange(10**6)
    )
    assert hit > KILLS / 2
    time.sleep(2)
    assert workers_of(tmp_path) == 0
    subprocess.run(command(folder, tmp_path / "killed"), cwd=ROOT, check=False)
    undisturbed, killed = results(tmp_path / "undisturbed"), results(tmp_path / "killed")
    assert set(undisturbed) == set(killed) == {
        "day.html", "day.jsonl", "exceptions.csv", "readings.csv", "sheets.html"
    }  # fmt: skip
    for name, content in undisturbed.items():
        assert killed[name] == content, name


STUB_RUN = """
import sys
sys.path[:0] = {path!r}
from pathlib import Path
from tests.helpers.made_day import MadeDay
from strandline.day.pipeline import run_day
from dataclasses import replace
day = MadeDay.__new__(MadeDay)
day.folder = Path({folder!r})
day.set_up(pool=True)
run_day(replace(day.request, out=Path({out!r})))
"""


@pytest.mark.long
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="kills as POSIX does")
def test_a_few_kills_change_nothing_of_a_made_up_day(tmp_path: Path) -> None:
    """The same with made-up photos: when it fails, it is no fault of the vision's."""
    day = MadeDay(tmp_path / "day", pool=True)
    for number in range(40):
        day.put(f"{number:02d} fl.jpg", Scene(card=4, marker=60 + number / 1000, salt=number, do="slow"))

    def words(out: Path) -> list[str]:
        path = [str(Path(__file__).parent), *sys.path]
        return [sys.executable, "-c", STUB_RUN.format(path=path, folder=str(day.folder), out=str(out))]

    assert killed_at_random(words(tmp_path / "killed"), 3, 4.0, seed=1) >= 1
    subprocess.run(words(tmp_path / "killed"), check=True)
    day.run(out=tmp_path / "undisturbed")
    for name, content in results(tmp_path / "undisturbed").items():
        assert (tmp_path / "killed" / name).read_bytes() == content, name
