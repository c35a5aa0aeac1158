"""From a scene to a photo file: what a shot is, its picture (jax where there is one, else numpy), its truth."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from .camera import Camera, framed, truth_of
from .degrade import Phone, develop
from .random_scenes import Drawn
from .scene import Part, Scene
from .shading import HIGHLIGHT_LIMIT, SAMPLES, look

WIDTH_PX, HEIGHT_PX = 1104, 1472
JPEG_QUALITY = 88
RIM_POINTS = 9  # of a rim, in the truth beside a photo
RAYS = 1 << 18  # a call of the compiled function
GOOD_PHONE = Phone(blur=0.6, noise=0.0025, contrast=0.3, sharpen=0.3, vignette=0.1)

Look = Callable[[Scene, np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray, np.ndarray]]


@dataclass(frozen=True)
class Shot:
    """One photo to be taken.

    Attributes
    ----------
    drawn : Drawn
    shows : str
        Its special feature, one sentence.
    trap : str or None
        Why it must not be answered like a usual photo; names as in bench/score.py.
    f35_mm : float
        The lens's true 35 mm equivalent, of the photo as it is stored unless `crop_px` is set.
    exif_f35_mm : int or None
        EXIF's value; None: the file has no EXIF.
    width_px : int
        Of the frame; its height is 4/3 of that.
    crop_px : tuple of four int, or None
        Left, top, width, height cut out of the frame; EXIF keeps the frame's size.
    print_scale : float
        As declared by the user.
    more_cards : tuple of Drawn
        The same scene with the card elsewhere; each is in the photo too.
    """

    drawn: Drawn
    shows: str
    trap: str | None = None
    phone: Phone = field(default_factory=lambda: GOOD_PHONE)
    f35_mm: float = 26.2
    exif_f35_mm: int | None = 26
    width_px: int = WIDTH_PX
    crop_px: tuple[int, int, int, int] | None = None
    print_scale: float = 1.0
    more_cards: tuple[Drawn, ...] = ()

    def camera(self, width_px: int | None = None) -> Camera:
        """Return the camera that takes it; `width_px` other than the shot's own gives a smaller trial picture."""
        width = width_px or self.width_px
        return framed(self.drawn, width, width * 4 // 3, self.f35_mm)


def ray_function() -> Look:
    """Return a function from scene, eye (3,) and directions (N, 3) to colour (N, 3), part (N,), distance (N,)."""
    try:
        import jax
        import jax.numpy as jnp
    except ImportError:
        return look
    traced = jax.jit(lambda scene, eye, d: look(scene, eye, d, jnp))

    def run(scene: Scene, eye: np.ndarray, d: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        n = len(d)
        padded = np.concatenate([d, np.repeat(d[-1:], -n % RAYS, axis=0)])
        done = [traced(scene, eye, padded[i : i + RAYS]) for i in range(0, n, RAYS)]
        rgb, part, far = (
            np.concatenate([np.asarray(x) for x in column])[:n] for column in zip(*done, strict=True)
        )
        return rgb, part, far

    return run


def linear_picture(shot: Shot, camera: Camera, see: Look) -> np.ndarray:
    """Linear picture (H, W, 3), four rays a pixel."""
    yy, xx = np.mgrid[0 : camera.height_px, 0 : camera.width_px]
    pixels = np.stack([xx.ravel(), yy.ravel()], 1).astype(float)
    eye = np.asarray(camera.eye_mm, np.float32)
    total = np.zeros((len(pixels), 3), np.float32)
    for offset in SAMPLES:
        d = camera.directions(pixels + offset).astype(np.float32)
        rgb, _, far = see(shot.drawn.scene, eye, d)
        for other in shot.more_cards:  # a scene holds one card: another one is composited by its distance
            rgb_other, part, far_other = see(other.scene, eye, d)
            front = (part == Part.CARD) & (far_other < far)
            rgb, far = np.where(front[:, None], rgb_other, rgb), np.where(front, far_other, far)
        total += np.minimum(rgb, HIGHLIGHT_LIMIT)
    return (total / len(SAMPLES)).reshape(camera.height_px, camera.width_px, 3)


def _cut(shot: Shot) -> tuple[int, int, int, int]:
    return shot.crop_px or (0, 0, shot.width_px, shot.width_px * 4 // 3)


def _save(path: Path, image: np.ndarray, shot: Shot) -> None:
    """Write the JPEG with EXIF as phones write it (CIPA DC-008), or with none."""
    from PIL import Image

    picture = Image.fromarray(np.ascontiguousarray(image))
    if shot.exif_f35_mm is None:
        picture.save(path, quality=JPEG_QUALITY)
        return
    exif = Image.Exif()
    exif[0x0112] = 1
    sub = exif.get_ifd(0x8769)
    sub[0xA405] = shot.exif_f35_mm
    sub[0xA002], sub[0xA003] = shot.width_px, shot.width_px * 4 // 3
    picture.save(path, quality=JPEG_QUALITY, exif=exif)


def facts(shot: Shot, camera: Camera) -> dict[str, Any]:
    """Return the exact truth of a shot and the options a user would give, as the JSON beside a photo."""
    drawn, truth = shot.drawn, truth_of(shot.drawn, camera)
    left, top = _cut(shot)[:2]

    def inside(points_px: np.ndarray) -> list[list[float]]:
        few = points_px[np.rint(np.linspace(0, len(points_px) - 1, RIM_POINTS)).astype(int)]
        found: list[list[float]] = np.round(few - [left, top], 2).tolist()
        return found

    return {
        "shows": shot.shows,
        "split": "trap" if shot.trap else "tough",
        "trap": shot.trap,
        "layout": drawn.layout,
        "exposed_mm": truth.exposed_mm,
        "marker_mm": truth.marker_mm,
        "remaining_mm": truth.remaining_mm,
        "seal_visible": truth.seal_visible,
        "marker_visible": truth.marker_visible,
        "far_visible": truth.far_visible,
        "seal_rim_px": inside(truth.seal_rim_px),
        "marker_rim_px": inside(truth.marker_rim_px) if drawn.has_marker else None,
        "far_rim_px": inside(truth.far_rim_px),
        "true_diameter_mm": truth.diameter_mm,
        "f_px": camera.f_px,
        "distance_mm": float(np.linalg.norm(camera.eye_mm - drawn.target_mm)),
        "declared": {
            "shaft_diameter_mm": drawn.declared_diameter_mm,
            "layout": drawn.layout,
            "print_scale": shot.print_scale,
            "marker_kind": drawn.marker_kind,
            "marker_color": drawn.marker_colour,
            "marker_width_mm": drawn.marker_width_mm,
            "card": drawn.card_number,
        },
    }


def take(name: str, shot: Shot, see: Look, folder: Path, width_px: int | None = None) -> None:
    """Photograph a shot: `name`.jpg and its truth, `name`.json, in `folder`."""
    camera = shot.camera(width_px)
    scale = camera.width_px / shot.width_px
    phone = replace(shot.phone, blur=shot.phone.blur * scale, motion=shot.phone.motion * scale)
    rng = np.random.default_rng([shot.drawn.seed, 5])
    picture = develop(linear_picture(shot, camera, see), phone, rng)
    left, top, width, height = (round(x * scale) for x in _cut(shot))
    _save(folder / f"{name}.jpg", picture[top : top + height, left : left + width], shot)
    state(name, shot, folder)


def state(name: str, shot: Shot, folder: Path) -> None:
    """Write a shot's truth beside its photo."""
    text = json.dumps(facts(shot, shot.camera()))
    (folder / f"{name}.json").write_text(text + "\n", encoding="utf-8")
