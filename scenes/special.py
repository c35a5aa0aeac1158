"""Photos of the cases that need one each: ``python -m scenes.special --out tests/vision/photos``.

Every scene starts from a clean one (no clutter, the card flat, printed and laid correctly) and then
gets its one special feature.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from . import board, finishes
from .degrade import Phone
from .random_scenes import Drawn
from .scene import Part
from .shots import Shot, ray_function, take
from .staging import (
    BARE_SHOCK,
    BLACK_FORK,
    CHROME_FORK,
    COIL_OVER,
    GOLD_FORK,
    THIN_ROD,
    TIE_MM,
    card_centre_mm,
    changed,
    clean,
    finished,
    marked,
    ringed,
    seen,
    stored,
    switched,
    unmarked,
    with_card_at,
    with_fingers,
    with_glare,
    with_other_leg,
)


def _chrome_fork(at_mm: float = 48.0) -> Drawn:
    return marked(clean(CHROME_FORK), at_mm)


def _black_fork(at_mm: float = 61.0) -> Drawn:
    return marked(clean(BLACK_FORK), at_mm, "white")


def _gold_fork(at_mm: float = 57.0) -> Drawn:
    return marked(clean(GOLD_FORK), at_mm, "black", ring_mm=2.8)


def _bare_shock(at_mm: float = 22.0) -> Drawn:
    return marked(clean(BARE_SHOCK), at_mm, "red", ring_mm=2.4)


def _several_cards() -> Shot:
    drawn = _chrome_fork()
    centre = card_centre_mm(drawn)
    other = with_card_at(drawn, drawn.scene.card_rot, centre * [-1.15, 1.0, 1.0] + [0.0, 6.0, 10.0])
    other = changed(other, card_bits=board.cells(7), card_text=7.0)
    aside = (-0.45 * centre[0], 0.0)
    drawn = seen(drawn, distance_mm=300.0, aside_mm=aside)
    return Shot(
        drawn, "Two cards, numbers 3 and 7, one on either side.", "several_cards", more_cards=(other,)
    )


def _backwards() -> Shot:
    drawn = _chrome_fork()
    rot = drawn.scene.card_rot @ np.diag([-1.0, -1.0, 1.0]).astype(np.float32)
    drawn = with_card_at(drawn, rot, card_centre_mm(drawn))
    return Shot(drawn, "The card's arrow points away from the seal.", "card_backwards")


def _two_shafts() -> Shot:
    drawn = _chrome_fork()
    x = card_centre_mm(drawn)[0]
    drawn = with_other_leg(drawn, (2.0 * x, 0.0, 0.0), 75.0)
    drawn = seen(drawn, az=0.0, aside_mm=(0.55 * x, 0.0), distance_mm=300.0)
    return Shot(drawn, "The card lies midway between two legs; their markers differ.", "two_shafts")


def _other_leg() -> Shot:
    drawn = _chrome_fork()
    x = card_centre_mm(drawn)[0]
    drawn = with_other_leg(drawn, (-2.2 * x, 12.0, 0.0), 75.0)
    return Shot(seen(drawn, aside_mm=(-0.7 * x, 0.0), distance_mm=310.0), "The fork's other leg is in view.")


def _painted_rings() -> Shot:
    orange = finishes.COLOURS["orange"]
    drawn = ringed(unmarked(_chrome_fork()), (50.0, 1.8, 0.05, 1.0, *orange, 0.45, 1.0))
    return Shot(drawn, "No marker: a sharp ring of orange paint as wide as a tie.", "no_marker")


def _dirty_rings() -> Shot:
    drawn = ringed(
        unmarked(_chrome_fork()),
        (31.0, 1.6, 0.4, 0.85, 0.10, 0.08, 0.06, 0.8, 1.0),
        (46.0, 9.0, 1.5, 0.45, 0.05, 0.05, 0.05, 0.5, 1.0),
        (72.0, 2.2, 0.8, 0.70, 0.16, 0.13, 0.10, 0.8, 0.7),
    )
    return Shot(drawn, "No marker: rings of dirt and grease where the seal came to rest.", "no_marker")


def _behind_a_coil(at_mm: float) -> Drawn:
    """Hide the seal: turn the spring until the seal's facing rim lies behind a coil."""
    drawn = marked(clean(COIL_OVER), at_mm, "yellow")
    coil = drawn.scene.spring.copy()
    coil[5] = 4.8
    return changed(drawn, spring=coil)


def _cropped_off_centre() -> Shot:
    drawn = seen(_chrome_fork(), distance_mm=430.0, aside_mm=(-35.0, 30.0))
    shot = Shot(
        drawn, "Cut out of a larger photo, off its middle; EXIF keeps the whole's size.", width_px=1656
    )
    return replace(shot, crop_px=(150, 560, 1104, 1200))


def _gaiter() -> Shot:
    drawn = marked(clean(CHROME_FORK), 14.0)
    spec = np.array([30.0, 85.0, 29.0, 27.0, 1.0, 1.8, 5.0])
    drawn = finished(switched(changed(drawn, bumper=spec), Part.BUMPER), Part.BUMPER, (0.02, 0.02, 0.02), 0.8)
    return Shot(drawn, "A gaiter bunched up round the middle of the shaft.")


def _shown(shows: str, make: Callable[[], Drawn], **shot: Any) -> Callable[[], Shot]:
    return lambda: Shot(make(), shows, **shot)


def _thin_rod() -> Drawn:
    return marked(clean(THIN_ROD), 33.0, "blue")


BLURRED = Phone(blur=3.0, noise=0.0025, contrast=0.3, vignette=0.1)
DARK = Phone(exposure_ev=-3.0, blur=0.7, noise=0.008, contrast=0.3, vignette=0.2)

SHOTS: dict[str, Callable[[], Shot]] = {
    "plain": _shown("Nothing special: a chrome tube with an orange tie.", _chrome_fork),
    "plain-far": _shown(
        "The same fork from further away.", lambda: seen(_chrome_fork(), -0.1, 0.15, 430.0, 3.09)
    ),
    "plain-tele": _shown(
        "The same fork through a longer lens.",
        lambda: seen(_chrome_fork(), 0.05, -0.1, 560.0, 3.24), f35_mm=51.6, exif_f35_mm=52,
    ),
    "curled-card": _shown(
        "The card bends 4.2 mm over its length.",
        lambda: changed(_chrome_fork(), card_curl=np.array([0.0, 6e-4])), trap="card_curled",
    ),
    "slightly-curled-card": _shown(
        "The card bends 0.5 mm over its length.",
        lambda: changed(_chrome_fork(), card_curl=np.array([0.0, 7e-5])),
    ),
    "glare-on-card": _shown("A laminated card mirrors a lamp.", lambda: with_glare(_chrome_fork(), 60.0)),
    "thin-rod": _shown("A damper rod of 6 mm.", _thin_rod),
    "two-shafts": _two_shafts,
    "other-leg": _other_leg,
    "card-backwards": _backwards,
    "several-cards": _several_cards,
    "finger-on-card": _shown("A finger on the card.", lambda: with_fingers(_chrome_fork(), (26.0, 118.0, 8.0))),
    "hand-over-card": _shown(
        "A hand lies over most of the card.",
        lambda: with_fingers(_chrome_fork(), *((38.0, y, 14.0) for y in (24.0, 52.0, 80.0, 108.0))),
        trap="card_hidden",
    ),
    "dirt-rings": _dirty_rings,
    "paint-ring": _painted_rings,
    "black-on-black": _shown("A black tie on a black tube.", lambda: marked(_black_fork(), 61.0, "black")),
    "o-ring": _shown("An O-ring on a gold upside-down fork.", _gold_fork),
    "tie-lock": _shown(
        "The tie's lock faces the camera.",
        lambda: marked(_black_fork(), 61.0, "white", lock_phi=-0.5 * np.pi + 0.15),
    ),
    "hidden-seal": _shown("A coil of the spring hides the seal.", lambda: _behind_a_coil(45.0)),
    "hidden-edge": _shown(
        "One coil hides the seal, the next the marker's edge towards it.", lambda: _behind_a_coil(23.5)
    ),
    "marker-in-bumper": _shown(
        "An O-ring pushed halfway into the bumper.",
        lambda: _bare_shock(float(stored(BARE_SHOCK).exposed) - 1.2), trap="marker_in_bumper",
    ),
    "marker-at-clamp": _shown(
        "A tie pushed against the lower clamp.",
        lambda: _chrome_fork(float(stored(CHROME_FORK).exposed) - TIE_MM[0]),
    ),
    "printed-small": _shown(
        "The card was printed at 0.95 and nobody measured it.",
        lambda: changed(_chrome_fork(), card_scale=np.array([0.95, 0.95])), trap="wrong_card_scale",
    ),
    "cropped": _shown(
        "Two thirds of a photo, saved so that EXIF holds nothing of the rest.",
        lambda: seen(_chrome_fork(), distance_mm=400.0), f35_mm=39.3,
    ),
    "cropped-off-centre": _cropped_off_centre,
    "no-exif": _shown("A photo without EXIF.", _chrome_fork, exif_f35_mm=None),
    "blurred": _shown("Far out of focus.", _chrome_fork, phone=BLURRED, trap="blurred"),
    "dark": _shown("Three stops too dark, with the noise of that.", _chrome_fork, phone=DARK),
    "seal-right": _shown("The shaft lies across, its seal to the right.", lambda: seen(_gold_fork(), roll=1.5)),
    "seal-bottom": _shown("The seal is at the bottom.", lambda: seen(_black_fork(), roll=0.06)),
    "seal-left": _shown("The seal is to the left.", lambda: seen(_bare_shock(), roll=-1.62)),
    "gaiter": _gaiter,
}  # fmt: skip


def main() -> None:
    """Render every shot, or those named."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("names", nargs="*", help="which; by default all")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--width", type=int, help="px, for trials; truth stays that of the full size")
    args = parser.parse_args()
    unknown = set(args.names) - set(SHOTS)
    if unknown:
        parser.error(f"no shot called {', '.join(sorted(unknown))}")
    args.out.mkdir(parents=True, exist_ok=True)
    see = ray_function()
    for name in args.names or SHOTS:
        take(name, SHOTS[name](), see, args.out, args.width)
        print(name, flush=True)


if __name__ == "__main__":
    main()
