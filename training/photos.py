"""Photograph random scenes for measuring: ``python training/photos.py --count N --seed S --out DIR``.

Writes ``sNNNNNN.jpg`` with EXIF and ``sNNNNNN.json`` with the exact truth and the values a user would
declare. Scenes with seeds kept out of training show the effect of a change to the reading.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from scenes.camera import Camera, framed, save_jpeg, truth_of
from scenes.degrade import develop, draw_phone
from scenes.random_scenes import Drawn, draw
from scenes.shading import HIGHLIGHT_LIMIT, SAMPLES, look

WIDTH_PX, HEIGHT_PX = 1512, 2016
RAYS = 1 << 18  # a call of the compiled function


def scene_to_photograph(seed: int) -> tuple[Drawn, Camera, int]:
    """Draw the scene, a phone's camera that shows it, and the 35 mm equivalent in its EXIF."""
    drawn = draw(seed)
    rng = np.random.default_rng([seed, 3])
    f35 = float(rng.choice([23.0, 24.0, 26.0, 27.0, 28.0]))
    # A user who measured one bar gives one number: the same along and across.
    scale = float(drawn.scene.card_scale[1])
    drawn = replace(drawn, scene=drawn.scene._replace(card_scale=np.array([scale, scale], np.float32)))
    true_f35 = f35 + rng.uniform(-0.5, 0.5)  # EXIF rounds to whole millimetres
    camera = framed(drawn, WIDTH_PX, HEIGHT_PX, true_f35, k1=float(rng.normal(0, 0.01)))
    return replace(drawn, eye_mm=camera.eye_mm.astype(np.float32)), camera, int(f35)


def tracer() -> Any:
    """Return a function from a scene and a camera to a linear picture."""
    import jax
    import jax.numpy as jnp

    shade = jax.jit(lambda scene, eye, d: jnp.minimum(look(scene, eye, d, jnp)[0], HIGHLIGHT_LIMIT))

    def run(drawn: Drawn, camera: Camera) -> np.ndarray:
        yy, xx = np.mgrid[0:HEIGHT_PX, 0:WIDTH_PX]
        pixels = np.stack([xx.ravel(), yy.ravel()], 1).astype(float)
        total = np.zeros((len(pixels), 3), np.float32)
        eye = np.asarray(camera.eye_mm, np.float32)
        for offset in SAMPLES:
            d = camera.directions(pixels + offset).astype(np.float32)
            d = np.concatenate([d, np.repeat(d[-1:], -len(d) % RAYS, axis=0)])
            parts = [shade(drawn.scene, eye, d[i : i + RAYS]) for i in range(0, len(d), RAYS)]
            total += np.concatenate([np.asarray(p) for p in parts])[: len(pixels)]
        return (total / len(SAMPLES)).reshape(HEIGHT_PX, WIDTH_PX, 3)

    return run


def write(seed: int, linear: np.ndarray, folder: Path) -> None:
    """Develop one picture and write it with its truth."""
    drawn, camera, f35 = scene_to_photograph(seed)
    rng = np.random.default_rng([seed, 4])
    phone = draw_phone(rng, drawn.exposure_ev, px_mm=1.0)
    picture = develop(linear, phone, rng)
    save_jpeg(folder / f"s{seed:06d}.jpg", picture, f35, quality=88)
    truth = truth_of(drawn, camera)
    scene = drawn.scene
    hard = drawn.layout == "coil_over" or phone.blur > 1.2 or phone.motion > 1.5 or phone.exposure_ev < -1
    middle = scene.card_rot @ np.array([18.0, 84.0, 0], np.float32) * scene.card_scale[1] + scene.card_origin
    facts = {
        "split": "tough" if hard else "plain",
        "trap": None if drawn.has_marker else "no_marker",
        "layout": drawn.layout,
        "exposed_mm": truth.exposed_mm,
        "marker_mm": truth.marker_mm,
        "remaining_mm": truth.remaining_mm,
        "seal_visible": truth.seal_visible,
        "marker_visible": truth.marker_visible,
        "far_visible": truth.far_visible,
        "card_depth": float(-middle[1]),
        "seal_rim_px": truth.seal_rim_px.tolist(),
        "marker_rim_px": truth.marker_rim_px.tolist(),
        "far_rim_px": truth.far_rim_px.tolist(),
        "true_diameter_mm": truth.diameter_mm,
        "f_px": camera.f_px,
        "k1": camera.k1,
        "blur_px": phone.blur,
        "motion_px": phone.motion,
        "declared": {
            "shaft_diameter_mm": drawn.declared_diameter_mm,
            "layout": drawn.layout,
            "print_scale": float(scene.card_scale[1]),
            "marker_color": drawn.marker_colour,
            "marker_width_mm": drawn.marker_width_mm,
            "card": drawn.card_number,
        },
    }
    (folder / f"s{seed:06d}.json").write_text(json.dumps(facts))


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, required=True)
    parser.add_argument("--seed", type=int, required=True, help="seed of the first scene")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--workers", type=int, default=4)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    import multiprocessing

    started = time.monotonic()
    with ProcessPoolExecutor(args.workers, multiprocessing.get_context("spawn")) as pool:
        run = tracer()
        done = []
        for seed in range(args.seed, args.seed + args.count):
            drawn, camera, _ = scene_to_photograph(seed)
            done.append(pool.submit(write, seed, run(drawn, camera).astype(np.float16), args.out))
        for d in done:
            d.result()
    print(f"{time.monotonic() - started:.0f} s  {args.count} photographs")


if __name__ == "__main__":
    main()
