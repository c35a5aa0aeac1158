"""Clean scenes and what can be done to one: mark it, see it from elsewhere, lay its card, put a leg beside it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from . import board, finishes
from .random_scenes import FULL_SHADE, LIP_WITHOUT_EDGE, NO_BOSS, ROUNDED, WALL_WITHOUT_END, Drawn
from .scene import N_RINGS, Part, Scene, as_float32

# Scenes that were drawn at random once; stored, so that they stay what they are when other scenes are drawn.
BASES = Path(__file__).with_name("bases.npz")
CARD = 3
CARD_CENTRE_MM = np.array([18.0, 84.0, 0.0])
CLUTTER = (*range(Part.FINGER, Part.LEG_SHAFT), *range(Part.LEG_SHAFT, Part.WALL))
SKIN = np.array(finishes.SKIN[0])
TIE_MM = (3.6, 1.2)  # width and thickness of a usual strap


def changed(drawn: Drawn, **fields: Any) -> Drawn:
    """With fields of its scene replaced."""
    return replace(drawn, scene=as_float32(drawn.scene._replace(**fields)))


def switched(drawn: Drawn, *parts: Part, off: tuple[int, ...] = ()) -> Drawn:
    """With some parts there and others gone."""
    on = drawn.scene.on.copy()
    on[list(off)] = 0.0
    on[list(parts)] = 1.0
    return changed(drawn, on=on)


def finished(drawn: Drawn, part: Part, albedo: Any, rough: float, metal: float = 0.0) -> Drawn:
    """With one part in another finish."""
    s = drawn.scene
    albedos, roughs, metals = s.albedo.copy(), s.rough.copy(), s.metal.copy()
    albedos[part], roughs[part], metals[part] = albedo, rough, metal
    return changed(drawn, albedo=albedos, rough=roughs, metal=metals)


def card_centre_mm(drawn: Drawn) -> np.ndarray:
    """Return the card's middle (3,), shaft frame."""
    return np.asarray(drawn.scene.card_rot @ CARD_CENTRE_MM + drawn.scene.card_origin, float)


def with_card_at(drawn: Drawn, rot: np.ndarray, centre_mm: np.ndarray) -> Drawn:
    """Place the card, turned by `rot` (3, 3), its middle at `centre_mm`, shaft frame."""
    return changed(drawn, card_rot=rot, card_origin=centre_mm - rot @ CARD_CENTRE_MM)


@dataclass(frozen=True)
class Base:
    """A scene that special ones start from, and what the person would have typed in of it."""

    name: str  # in BASES
    layout: str
    diameter_mm: float
    declared_mm: float
    seed: int  # that it was once drawn with; of the noise, now


CHROME_FORK = Base("chrome-fork", "fork", 41.0, 41.01, 9008)
BLACK_FORK = Base("black-fork", "fork", 40.5, 40.49, 9028)
GOLD_FORK = Base("gold-fork", "upside_down_fork", 36.0, 36.01, 9002)
BARE_SHOCK = Base("bare-shock", "bare_shock", 13.0, 13.01, 9017)
THIN_ROD = Base("thin-rod", "bare_shock", 6.0, 6.02, 9018)
COIL_OVER = Base("coil-over", "coil_over", 11.5, 11.51, 9029)


def stored(base: Base) -> Scene:
    """Return the base's scene as it was drawn, with card 3 in it."""
    with np.load(BASES) as data:
        fields = {f: data[f"{base.name}/{f}"] for f in Scene._fields if f"{base.name}/{f}" in data}
    # stored before walls could end, lips were worn, shade differed and clamps were bevelled
    fields.setdefault("wall_box", np.array(WALL_WITHOUT_END))
    fields.setdefault("lip_edge", np.array(LIP_WITHOUT_EDGE))
    fields.setdefault("lip_gap", np.array(0.0))
    fields.setdefault("shade", np.array(FULL_SHADE))
    fields.setdefault("far_bevel", np.array(ROUNDED))
    fields.setdefault("far_boss", np.array(NO_BOSS))
    return Scene(**fields, card_bits=board.cells(CARD))


def clean(base: Base) -> Drawn:
    """Return the base's scene without special features."""
    s = stored(base)
    drawn = Drawn(
        scene=s,
        layout=base.layout,
        eye_mm=np.zeros(3),
        target_mm=np.zeros(3),
        roll_rad=0.0,
        declared_diameter_mm=base.declared_mm,
        card_number=CARD,
        marker_kind="tie",
        marker_colour="black",
        marker_width_mm=TIE_MM[0],
        has_marker=False,
        exposure_ev=0.0,
        seed=base.seed,
    )
    centre = card_centre_mm(drawn)
    light = np.array([-0.45, -0.75, 0.5])
    drawn = changed(
        drawn,
        radius=0.5 * base.diameter_mm,
        dirt=np.zeros_like(s.dirt),
        rings=np.zeros((N_RINGS, 9)),
        scratches=0.0,
        card_curl=np.zeros(2),
        card_scale=np.ones(2),
        card_text=float(CARD),
        light_dir=light / np.linalg.norm(light),
        light_rgb=np.array([1.3, 1.25, 1.15]),
        light_flash=0.0,
        light_soft=0.15,
        env_fine=np.array([0.3, *s.env_fine[1:]]),
        wall=np.array([0.1, -1.0, 0.05, -260.0]) / np.sqrt(1.0125),
        wall_colours=np.array([[0.42, 0.43, 0.45], [0.30, 0.31, 0.32]]),
        wall_edge=1.5,
    )
    drawn = with_card_at(drawn, drawn.scene.card_rot, centre)
    drawn = finished(switched(drawn, Part.WALL, off=CLUTTER), Part.CARD, (0.8, 0.8, 0.78), 0.7)
    return seen(drawn)


def seen(
    drawn: Drawn, az: float = 0.12, el: float = 0.08, distance_mm: float = 270.0, roll: float = np.pi + 0.03,
    aside_mm: tuple[float, float] = (0.0, 0.0),
) -> Drawn:  # fmt: skip
    """Seen from `az`, `el` (rad) off square-on; `aside_mm` moves what is in the photo's middle."""
    card = card_centre_mm(drawn)
    low = min(-15.0, card[2] - 89.0)
    high = max(float(drawn.scene.exposed) + 10.0, card[2] + 89.0)
    target = np.array([0.45 * card[0] + aside_mm[0], 0.0, 0.5 * (low + high) + aside_mm[1]])
    way = np.array([np.sin(az) * np.cos(el), -np.cos(az) * np.cos(el), np.sin(el)])
    return replace(
        drawn,
        eye_mm=(target + distance_mm * way).astype(np.float32),
        target_mm=target.astype(np.float32),
        roll_rad=roll,
    )


def marked(
    drawn: Drawn, at_mm: float, colour: str = "orange", ring_mm: float = 0.0, lock_phi: float = 1.2
) -> Drawn:
    """Add a tie at `at_mm` with its lock at `lock_phi` (-pi/2 faces the viewer), or an O-ring `ring_mm` thick."""
    width, thick = (ring_mm, ring_mm) if ring_mm else TIE_MM
    drawn = changed(
        drawn,
        marker=np.array([at_mm, width, thick, 0.004, -0.003, float(ring_mm > 0)]),
        lock=np.array([lock_phi, 2.1, 2.5, 0.5 * width + 0.9, 1.5]),
    )
    rgb = np.array(finishes.COLOURS[colour])
    drawn = finished(finished(drawn, Part.MARKER, rgb, 0.45), Part.LOCK, rgb, 0.45)
    drawn = switched(
        drawn, *((Part.MARKER,) if ring_mm else (Part.MARKER, Part.LOCK)), off=(Part.MARKER, Part.LOCK)
    )
    kind = "o_ring" if ring_mm else "tie"
    return replace(drawn, has_marker=True, marker_kind=kind, marker_colour=colour, marker_width_mm=width)


def unmarked(drawn: Drawn) -> Drawn:
    """Without a marker."""
    return replace(switched(drawn, off=(Part.MARKER, Part.LOCK)), has_marker=False)


def ringed(drawn: Drawn, *rings: tuple[float, ...]) -> Drawn:
    """Rings of colour without thickness: s, half width, edge, opacity, r, g, b, roughness, share of the turn."""
    table = np.zeros((N_RINGS, 9))
    table[: len(rings)] = rings
    return changed(drawn, rings=table)


def with_other_leg(drawn: Drawn, offset_mm: tuple[float, float, float], marker_mm: float) -> Drawn:
    """Another leg, the same in every way but for where its marker stands."""
    for part, source in (
        (Part.LEG_SHAFT, Part.SHAFT),
        (Part.LEG_SEAL, Part.TUBE),
        (Part.LEG_CLAMP, Part.FAR),
        (Part.LEG_MARKER, Part.MARKER),
    ):
        s = drawn.scene
        drawn = finished(drawn, part, s.albedo[source], float(s.rough[source]), float(s.metal[source]))
        drawn = switched(drawn, part)
    return changed(drawn, leg_offset=np.array(offset_mm), leg_marker=marker_mm)


def with_fingers(drawn: Drawn, *fingers: tuple[float, float, float]) -> Drawn:
    """Fingers across the card from its outer edge: tip's reach from that edge, y on the card, radius, mm."""
    s = drawn.scene
    a, b, r = s.capsule_a.copy(), s.capsule_b.copy(), s.capsule_r.copy()
    outer = -5.0 if card_centre_mm(drawn)[0] > 0 else 41.0  # card x runs against the shaft frame's x
    inwards = 1.0 if outer < 0 else -1.0
    for i, (reach, y, radius) in enumerate(fingers):
        tip = np.array([outer + inwards * reach, y, -radius - 0.5])
        root = np.array([outer - inwards * 45.0, y + 8.0, -radius + 6.0])
        a[i], b[i] = (s.card_rot @ p + s.card_origin for p in (tip, root))
        r[i] = radius
        drawn = switched(finished(drawn, Part(Part.FINGER + i), SKIN, 0.5), Part(Part.FINGER + i))
    return changed(drawn, capsule_a=a, capsule_b=b, capsule_r=r)


def with_glare(drawn: Drawn, glare_at_y_mm: float) -> Drawn:
    """Laminate the card: its film reflects the lamp at one place on it."""
    s = drawn.scene
    p = s.card_rot @ np.array([18.0, glare_at_y_mm, 0.0]) + s.card_origin
    n = -np.asarray(s.card_rot[:, 2], float)
    d = p - drawn.eye_mm
    d /= np.linalg.norm(d)
    drawn = changed(
        drawn, light_dir=d - 2 * (d @ n) * n, light_rgb=np.array([2.6, 2.5, 2.4]), light_soft=0.03
    )
    return finished(drawn, Part.CARD, (0.8, 0.8, 0.78), 0.08)
