"""The pool of looks of a shaft's ends: whatever the trade puts round a shaft, for seals and far ends alike.

What a part looks like does not show at which end it is: only the side does, and a few habits of the trade
(`SEAL_LIKES`, `FAR_LIKES`).
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np

from .finishes import pick
from .lathe_builder import Builder
from .lathe_looks import draw_look, polished, ring_look
from .lathe_looks import log_uniform as _log
from .lathe_looks import uniform as _u
from .lathe_trade import TRADE_ENDS, trade_end
from .scene import Part

# Of each kind of end how often it is drawn; what both ends have in common is the larger part.
KINDS = {
    "wiper": 2.2, "gland": 2.5, "drum": 2.2, "collar": 2.0, "shoulder": 1.0, "flange": 1.4, "bumper": 1.2,
    "rolled": 1.2, "boot": 0.8, "stack": 1.6, "plain": 1.6, "block": 1.6, "scraper": 0.8, "clevis": 0.5,
}  # fmt: skip
SEAL_LIKES = {
    "wiper": 3.0, "gland": 1.5, "rolled": 1.5, "bumper": 0.4, "shoulder": 0.25, "block": 0.4, "clevis": 0.1,
    "foot": 0.12, "lip": 3.0, "slider": 1.8, "bellows": 1.6,
}  # fmt: skip
FAR_LIKES = {
    "drum": 1.6, "block": 2.5, "bumper": 2.0, "shoulder": 1.5, "wiper": 0.35, "rolled": 0.6, "scraper": 0.2,
    "foot": 3.0, "lip": 0.2, "slider": 0.5, "bellows": 0.4,
}  # fmt: skip


@dataclass(frozen=True)
class World:
    """How often things are met in a scene.

    Attributes
    ----------
    kinds : dict
        Weight of each kind of end.
    polished_share : float
        Of drums and blocks: clamps so bright that they mirror the shaft, as it mirrors them.
    white_weight : float
        Of white markers; all others together weigh about 13.
    """

    kinds: dict[str, float]
    polished_share: float
    white_weight: float


POOL = World(KINDS, 0.3, 1.3)
# What photographs of motorcycles and mountain bikes showed far more often than the pool does [by eye, some 80 shafts].
TRADE = World(KINDS | {"foot": 5.0, "lip": 4.5, "slider": 2.5, "bellows": 1.8, "boot": 1.4}, 0.5, 4.0)


def _ripples(rng: np.random.Generator, r: float, count: int, pitch: float, depth: float, m: int) -> list[Any]:
    out = []
    for _ in range(count):
        out += [(0.5 * pitch, r, r + depth, m), (0.5 * pitch, r + depth, r, m)]
    return out


def end(
    b: Builder, rng: np.random.Generator, radius: float, z: float, way: float, part: Part,
    likes: dict[str, float], axis: tuple[float, float] = (0.0, 0.0), slope: tuple[float, float] = (0.0, 0.0),
    shaft_material: int = 0, few: bool = False, most: float = 1e4, world: World = POOL,
) -> float:  # fmt: skip
    """Put one of the pool's ends round the shaft from `z` on, away from the bare shaft (`way`); its largest radius.

    `few` keeps it to a few solids: for neighbours. Nothing turned is wider than `most`.
    """
    kind = pick(rng, **{name: weight * likes.get(name, 1.0) for name, weight in world.kinds.items()})
    R = radius
    big = max(R * _log(rng, 1.12, 3.4), R + 1.5)
    body = b.material(draw_look(rng))
    pieces: list[tuple[float, float, float, int]] = []
    if rng.random() < 0.3 and kind not in (
        "shoulder",
        "wiper",
        "collar",
        *TRADE_ENDS,
    ):  # a thin lip before anything else
        lip = R + _u(rng, 0.15, 1.5)
        pieces.append((_u(rng, 0.2, 2.0), lip, lip + _u(rng, 0, 0.6), b.material(ring_look(rng))))
    if kind == "wiper":
        rubber = b.material(draw_look(rng, rubbery=0.9, lively=0.15))
        height, face = _u(rng, 0.8, 6.0), R + _u(rng, 0.2, 1.8)
        foot = face + _u(rng, 0.1, 1.3) * min(height, 4.0)
        pieces.append((height, face, foot, rubber))
        if rng.random() < 0.4:  # its spring ring
            pieces.append((_u(rng, 0.6, 1.6), foot - _u(rng, 0, 0.5), foot, b.material(ring_look(rng))))
        ring = foot + _u(rng, 0, 3)
        pieces.append((_u(rng, 1, 7), ring, ring, rubber if rng.random() < 0.6 else body))
        big = max(big if rng.random() < 0.5 else R * _u(rng, 1.1, 1.5), ring + _u(rng, -0.5, 2))
    elif kind == "gland":
        if rng.random() < 0.6:  # rubber set back in its bore, or standing out of it
            r = R + _u(rng, 0.3, 2.5)
            pieces.append((_u(rng, 0.1, 2.5), r, r, b.material(draw_look(rng, rubbery=0.8, lively=0.1))))
        gland = min(max(R * _log(rng, 1.15, 2.2), R + 2), max(big, R + 2))
        chamfer = _u(rng, 0, 2.0)
        m = b.material(draw_look(rng, rubbery=0.0, lively=0.9))
        pieces += [(max(chamfer, 0.02), gland - chamfer, gland, m), (_log(rng, 2, 30), gland, gland, m)]
        for _ in range(int(rng.integers(0, 3))):
            r = gland * _u(rng, 0.9, 1.1)
            pieces.append((_u(rng, 0.8, 4), r, r, b.material(ring_look(rng))))
    elif kind in ("drum", "plain"):
        if rng.random() < world.polished_share:
            body = b.material(polished(rng))
        chamfer = _u(rng, 0, 2.0) if rng.random() < 0.7 else 0.0
        big = R * _u(rng, 1.06, 1.9) + 0.5 if kind == "drum" else big
        pieces += [(max(chamfer, 0.02), max(big - chamfer, R + 0.1), big, body)]
        if kind == "drum":
            pieces.append((_u(rng, 14, 75), big, big, body))
            big = max(R * _u(rng, 1.0, 1.5), R + 0.2)
            body = b.material(draw_look(rng)) if rng.random() < 0.6 else body
    elif kind == "collar":  # steps, the first of the shaft's own width or hardly more
        r = R + (_u(rng, 0.0, 0.35) if rng.random() < 0.5 else _u(rng, 0.2, 0.15 * R + 0.5))
        m = b.material(draw_look(rng, rubbery=0.1))
        for _ in range(int(rng.integers(1, 5))):
            pieces.append((_log(rng, 1.0, 18), r, r + (_u(rng, 0, 2) if rng.random() < 0.3 else 0.0), m))
            r += _log(rng, 0.3, 0.5 * R + 0.5)
            m = b.material(draw_look(rng)) if rng.random() < 0.5 else m
        big = max(big, r)
    elif kind == "shoulder":
        q = R * _u(rng, 0.45, 0.92)
        m = shaft_material if rng.random() < 0.6 else b.material(draw_look(rng, rubbery=0.0))
        thread = b.materials[m]._replace(
            groove=_u(rng, 0.2, 0.6), groove_mm=_u(rng, 0.8, 2.0), rough=_u(rng, 0.2, 0.6)
        )
        pieces.append((_u(rng, 0.2, 2.0), R, q, m))
        pieces.append((_log(rng, 0.5, 25), q, q, b.material(thread) if rng.random() < 0.7 else m))
        nut = max(R * _u(rng, 1.0, 2.2), q + 1)
        nut_look = draw_look(rng, rubbery=0.05)._replace(flutes=6.0, flute=_u(rng, 0.1, 0.5))
        if rng.random() < 0.5:
            pieces.append(
                (
                    _u(rng, 0.8, 3),
                    nut * _u(rng, 0.9, 1.5),
                    nut * _u(rng, 0.9, 1.5),
                    b.material(ring_look(rng)),
                )
            )
        pieces.append((_u(rng, 4, 15), nut, nut, b.material(nut_look)))
        if rng.random() < 0.5:
            pieces.append((_log(rng, 1, 20), q, q, m))
        big = max(big, R * 1.2) if rng.random() < 0.6 else q
    elif kind == "flange":
        disc = max(R * _log(rng, 1.3, 3.6), R + 3)
        m = b.material(draw_look(rng, rubbery=0.1))
        pieces += [(_log(rng, 1, 9), disc - (_u(rng, 0, 1.5)), disc, m)]
        big = R + (disc - R) * _u(rng, 0.25, 1.05)
        if rng.random() < 0.5 and not few:  # bolts on it
            count, where = int(rng.integers(3, 7)), R + 0.7 * (disc - R)
            bolt = b.material(ring_look(rng))
            for k in range(count):
                phi = 2 * np.pi * k / count + rng.uniform(0, 0.5)
                at = np.array([where * np.cos(phi), where * np.sin(phi), z])
                b.rod(at, at - np.array([0, 0, way * _u(rng, 0.5, 3)]), _u(rng, 1.0, 3.5), part, bolt)
    elif kind == "bumper":
        m = b.material(draw_look(rng, rubbery=0.7, lively=0.1))
        face, length = R * _u(rng, 1.1, 1.7), _u(rng, 8, 35)
        foot = max(face * _u(rng, 0.9, 1.6), face)
        if rng.random() < 0.5:
            count = int(rng.integers(2, 4))
            pieces.append((_u(rng, 0.3, 4), R + 0.5 * (face - R), face, m))
            pieces += _ripples(rng, 0.5 * (face + foot), count, length / count, _u(rng, 0.5, 0.3 * face), m)
        else:
            rounding = _u(rng, 0.2, 0.45) * (face - R)
            pieces += [(rounding, face - rounding, face, m), (length, face, foot, m)]
        big = max(big, foot * _u(rng, 1.0, 1.8))
    elif kind == "rolled":  # a bright rolled lip, as a half ring
        m, bead = b.material(ring_look(rng)), _u(rng, 0.4, 2.2)
        c = R + bead + _u(rng, 0.0, 0.6)
        angles = np.linspace(0.35, np.pi - 0.35, 5)
        bow = [(-np.cos(a) * bead, c + np.sin(a) * bead * 0.8) for a in angles]
        pieces += [(q[0] - p[0], p[1], q[1], m) for p, q in itertools.pairwise(bow)]
        big = max(big, c)
    elif kind == "boot":
        m = b.material(draw_look(rng, rubbery=0.85, lively=0.1))
        count = 3 if few else int(rng.integers(3, 8))
        pitch = _u(rng, 2, 8) if rng.random() < 0.6 else _u(rng, 0.8, 2.2)  # drawn out, or folded down
        pieces += _ripples(rng, R + _u(rng, 0.5, 4), count, pitch, _u(rng, 1, 0.4 * R + 2), m)
    elif kind == "scraper":  # a thin cone of metal that touches the shaft, a gap and what holds it
        m, foot = b.material(ring_look(rng)), R + _u(rng, 0.8, 4)
        pieces.append((_u(rng, 0.3, 4), R + _u(rng, 0.02, 0.25), foot, m))
        if rng.random() < 0.5:
            pieces.append(
                (_u(rng, 0.3, 3), R + _u(rng, 0.2, 1.0), R + 1.0, b.material(draw_look(rng, rubbery=0.9)))
            )
        pieces.append((_u(rng, 1, 12), foot + _u(rng, 0, 3), foot + _u(rng, 0, 3), body))
        big = max(big, foot)
    elif kind == "clevis":  # a foot with two cheeks
        foot = max(R * _u(rng, 1.05, 1.6), R + 0.5)
        high = _u(rng, 2, 14)
        pieces.append((high, foot, foot, body))
        cheek = [_u(rng, 0.15, 0.35) * foot, _u(rng, 0.7, 1.2) * foot, _u(rng, 10, 30)]
        turned = _u(rng, 0, np.pi)
        out = np.array([np.cos(turned), np.sin(turned), 0.0])
        frame = np.array([out, [-out[1], out[0], 0.0], [0, 0, 1.0]])
        for sign in (-1, 1):
            middle = np.array([axis[0], axis[1], z + way * (high + cheek[2])])
            b.box(middle + sign * (foot - cheek[0]) * out, frame, cheek, part, body)
        big = R * _u(rng, 0.3, 0.8)
    elif kind in TRADE_ENDS:
        pieces, big = trade_end(b, rng, kind, radius, (z, way), part, axis)
    elif kind == "stack":
        for _ in range(int(rng.integers(2, 7))):
            r = R + _log(rng, 0.2, 0.6 * R + 2)
            pieces.append((_log(rng, 0.4, 7), r, r, b.material(ring_look(rng))))
    elif kind == "block":
        m = b.material(polished(rng) if rng.random() < world.polished_share else draw_look(rng, rubbery=0.05))
        half = [max(R * _u(rng, 1.05, 2.2), R + 1), max(R * _u(rng, 1.05, 1.9), R + 1), _u(rng, 6, 35)]
        turn = rng.normal(0, 0.2) if rng.random() < 0.6 else _u(rng, -0.8, 0.8)
        side = _u(rng, -1, 1) * R if rng.random() < 0.4 else 0.0
        if rng.random() < 0.3:
            half[0], side = half[0] + 25, rng.choice([-1, 1]) * 25.0
        rot = np.array([[np.cos(turn), np.sin(turn), 0], [-np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
        b.box([axis[0] + side, axis[1], z + way * half[2]], rot, half, part, m)
        if rng.random() < 0.5:
            boss = max(R * _u(rng, 1.1, 1.8), R + 1)
            pieces.append((2 * half[2] * _u(rng, 0.3, 1.1), boss, boss, m))
        big = max(R * _u(rng, 1.0, 1.4), R + 0.2) if rng.random() < 0.5 else R * 0.6
    length = _log(rng, 25, 350)
    if rng.random() < 0.4:  # a taper into the body
        pieces.append((_log(rng, 1, 20), (pieces[-1][2] if pieces else R), big, body))
    pieces.append((length, big, big * _u(rng, 0.95, 1.05), body))
    if rng.random() < 0.35 and not few:
        r = big * _u(rng, 0.7, 1.5)
        pieces.append((_u(rng, 3, 60), r, r, b.material(draw_look(rng))))
    pieces = [(length, min(r0, most), min(r1, most), m) for length, r0, r1, m in pieces]
    b.stack(z, way, R, pieces, part, axis, slope)
    return max(max(p[1], p[2]) for p in pieces)
