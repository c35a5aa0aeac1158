"""Photos of a made-up tech day: ``python -m scenes.tech_day --out sample-images/tech-day``.

Four bikes with a fork and a shock, each with its own card: both fork legs and the shock before a ride, some of them
after it, and one photo with a hand over the card.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from . import board
from .random_scenes import Drawn
from .shots import Shot, ray_function, take
from .staging import (
    BARE_SHOCK,
    BLACK_FORK,
    CHROME_FORK,
    COIL_OVER,
    GOLD_FORK,
    Base,
    changed,
    clean,
    marked,
    seen,
    with_fingers,
)

# EXIF's way to write the day on which the photos say they were taken, from nine o'clock on.
DAY, FIRST_HOUR = "2026:05:09", 9
EXIF_IFD, DATE_TIME_ORIGINAL = 0x8769, 0x9003


@dataclass(frozen=True)
class Bike:
    """One entrant's bike: the number of its card, its fork and its shock, their markers, and the wall behind."""

    card: int
    fork: Base
    shock: Base
    fork_colour: str
    fork_ring_mm: float
    shock_colour: str
    wall_rgb: tuple[float, float, float]


BIKES = (
    Bike(0, CHROME_FORK, BARE_SHOCK, "orange", 0.0, "red", (0.42, 0.43, 0.45)),
    Bike(1, BLACK_FORK, COIL_OVER, "white", 0.0, "orange", (0.46, 0.42, 0.36)),
    Bike(2, GOLD_FORK, BARE_SHOCK, "black", 2.8, "blue", (0.36, 0.42, 0.38)),
    Bike(3, CHROME_FORK, BARE_SHOCK, "blue", 0.0, "red", (0.40, 0.38, 0.42)),
)


@dataclass(frozen=True)
class Photo:
    """One photo: what its name says, the minute it was taken, the bike, and where the marker stands on the leg."""

    place: str
    minute: int
    bike: int
    marker_mm: float
    has_hand: bool = False


PHOTOS = (
    Photo("front_left_before", 12, 0, 48.0),
    Photo("front_right_before", 13, 0, 47.0),
    Photo("rear_before", 15, 0, 22.0),
    Photo("front_left_before", 21, 1, 61.0),
    Photo("front_right_before", 22, 1, 62.5),
    Photo("rear_before", 24, 1, 40.0),
    Photo("front_left_before", 33, 2, 57.0),
    Photo("front_right_before", 34, 2, 56.0),
    Photo("rear_before", 36, 2, 30.0),
    Photo("front_left_before", 41, 3, 70.0),
    Photo("front_right_before", 43, 3, 66.0),
    Photo("rear_before", 44, 3, 24.0),
    Photo("front_left_after", 95, 0, 56.0),
    Photo("front_right_after", 96, 0, 55.5),
    Photo("rear_after", 97, 0, 27.0),
    Photo("front_left_after", 104, 1, 66.0),
    Photo("rear_after", 106, 1, 47.0),
    Photo("front_left_after", 115, 2, 66.0),
    Photo("rear_after", 118, 2, 36.0, has_hand=True),
    Photo("rear_after", 126, 3, 31.0),
)


def staged(photo: Photo) -> Drawn:
    """Stage the scene of one photo; people stand a little differently each time."""
    bike, rng = BIKES[photo.bike], np.random.default_rng([photo.minute, 19])
    is_fork = photo.place.startswith("front")
    base = bike.fork if is_fork else bike.shock
    colour, ring_mm = (bike.fork_colour, bike.fork_ring_mm) if is_fork else (bike.shock_colour, 2.4)
    drawn = changed(
        marked(clean(base), photo.marker_mm, colour, ring_mm),
        card_bits=board.cells(bike.card),
        card_text=float(bike.card),
        wall_colours=np.array([bike.wall_rgb, np.array(bike.wall_rgb) * 0.75]),
    )
    drawn = replace(drawn, card_number=bike.card, seed=base.seed + photo.minute)
    az, el = rng.normal(0.08, 0.06), rng.normal(0.05, 0.05)
    distance_mm, roll = float(rng.uniform(270.0, 330.0)), float(np.pi + rng.normal(0.0, 0.04))
    drawn = seen(drawn, az, el, distance_mm, roll)
    if photo.has_hand:
        drawn = with_fingers(drawn, *((38.0, y, 14.0) for y in (24.0, 52.0, 80.0, 108.0)))
    return drawn


def with_time(path: Path, minute: int) -> None:
    """Write the time at which a photo says it was taken into it; its pixels stay as they are."""
    from PIL import Image

    with Image.open(path) as image:
        exif = image.getexif()
        time = f"{DAY} {FIRST_HOUR + minute // 60:02d}:{minute % 60:02d}:00"
        exif.get_ifd(EXIF_IFD)[DATE_TIME_ORIGINAL] = time
        image.save(path, quality="keep", exif=exif)


def main() -> None:
    """Render all photos: seconds each with jax on a graphics card, a minute each without."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--width", type=int, help="px, for trials")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    see = ray_function()
    for number, photo in enumerate(PHOTOS, start=1):
        name = f"IMG_{number:04d}_{photo.place}"
        take(name, Shot(staged(photo), "A made-up tech day."), see, args.out, args.width)
        (args.out / f"{name}.json").unlink()
        with_time(args.out / f"{name}.jpg", photo.minute)
        print(name, flush=True)


if __name__ == "__main__":
    main()
