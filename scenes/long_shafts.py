"""Photos of long shafts, as off-road forks have them: ``python -m scenes.long_shafts --out FOLDER``.

The exposed lengths are 220 to 320 mm, the phone stands 0.6 to 0.9 m away. Four scenes are plain ones of the special
photos with a longer shaft, the others are drawn at random with the dirt, clutter and light of the training scenes.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

import numpy as np

from .random_scenes import Drawn, draw
from .shots import GOOD_PHONE, Shot, ray_function, take
from .staging import BLACK_FORK, CHROME_FORK, GOLD_FORK, Base, changed, clean, marked, seen

# Width of the picture by its lens, mm: either shows some 2 to 3 px/mm.
_WIDTH_PX = {26.2: 1536, 51.6: 1104}


def lengthened(drawn: Drawn, exposed_mm: float) -> Drawn:
    """With its far end at another place; what lies beyond the end moves with it."""
    s = drawn.scene
    more = exposed_mm - float(s.exposed)
    centre, z = s.far_centre.copy(), s.shaft_z.copy()
    centre[2] += more
    z[1] += more
    return changed(drawn, exposed=exposed_mm, far_centre=centre, shaft_z=z)


def _plain(base: Base, exposed_mm: float, at_mm: float, distance_mm: float, **marker: float | str) -> Drawn:
    drawn = marked(lengthened(clean(base), exposed_mm), at_mm, **marker)  # type: ignore[arg-type]
    return seen(drawn, distance_mm=distance_mm)


def _drawn(seed: int, layout: str, exposed_mm: float, distance_mm: float) -> Drawn:
    """Draw a scene, its shaft this long and the camera this far away."""
    drawn = draw(seed, layout, exposed_mm)
    way = drawn.eye_mm - drawn.target_mm
    eye = drawn.target_mm + distance_mm / np.linalg.norm(way) * way
    return replace(drawn, eye_mm=eye.astype(np.float32))


def _shot(drawn: Drawn, shows: str, f35_mm: float = 26.2) -> Shot:
    phone = replace(GOOD_PHONE, exposure_ev=drawn.exposure_ev)
    return Shot(
        drawn, shows, phone=phone, f35_mm=f35_mm, exif_f35_mm=round(f35_mm), width_px=_WIDTH_PX[f35_mm]
    )


_FORK, _USD = "fork", "upside_down_fork"
# Seed, layout, exposed length and distance, mm, and the lens: a phone's main one, or its twice longer one.
_AT_RANDOM = (
    (701, _FORK, 226.0, 600.0, 26.2),
    (702, _USD, 244.0, 620.0, 26.2),
    (703, _FORK, 262.0, 700.0, 26.2),
    (704, _USD, 281.0, 750.0, 51.6),
    (705, _FORK, 290.0, 800.0, 51.6),
    (706, _USD, 301.0, 680.0, 26.2),
    (707, _FORK, 310.0, 850.0, 51.6),
    (708, _USD, 320.0, 900.0, 51.6),
)


def shots() -> dict[str, Shot]:
    """Give the photos by their names."""
    plain = {
        "long-chrome-fork": _shot(_plain(CHROME_FORK, 300.0, 171.0, 700.0), "A chrome tube of 300 mm."),
        "long-gold-fork": _shot(
            _plain(GOLD_FORK, 268.0, 209.0, 620.0, colour="black", ring_mm=2.8),
            "A gold upside-down tube of 268 mm with an O-ring.",
        ),
        "long-black-fork": _shot(
            _plain(BLACK_FORK, 238.0, 60.0, 600.0, colour="white"), "A black tube of 238 mm."
        ),
        "long-gold-fork-tele": _shot(
            _plain(GOLD_FORK, 318.0, 250.0, 900.0, colour="orange"),
            "A gold upside-down tube of 318 mm through a longer lens.",
            51.6,
        ),
    }
    return plain | {
        f"long-{seed}": _shot(_drawn(seed, layout, mm, away), f"A tube of {mm:.0f} mm, at random.", lens)
        for seed, layout, mm, away, lens in _AT_RANDOM
    }


def main() -> None:
    """Render every photo, or those named."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("names", nargs="*", help="which; by default all")
    parser.add_argument("--out", type=Path, required=True)
    args = parser.parse_args()
    known = shots()
    unknown = set(args.names) - set(known)
    if unknown:
        parser.error(f"no photo called {', '.join(sorted(unknown))}")
    args.out.mkdir(parents=True, exist_ok=True)
    see = ray_function()
    for name in args.names or known:
        take(name, known[name], see, args.out)
        print(name, flush=True)


if __name__ == "__main__":
    main()
