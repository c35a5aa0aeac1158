"""Ends that photographs of motorcycles and mountain bikes showed and that the pool had none of, or too few.

Cast axle feet hardly wider than the shaft, which networks took for seals or for shaft; lips of bronze or mirror with
thin rubber or none; slider tubes as bright as the shaft; bellows. Ranges are judgements [no source].
"""

from __future__ import annotations

import itertools

import numpy as np

from .finishes import metal, pick
from .lathe import Look
from .lathe_builder import Builder
from .lathe_looks import any_colour, draw_look, polished
from .lathe_looks import uniform as _u
from .scene import Part

TRADE_ENDS = ("foot", "lip", "slider", "bellows")
# Of shaft radii: what photographs of upside-down forks showed of their feet, and of sliders and glands.
FOOT_U, SLIDER_U = (1.07, 1.4), (1.08, 1.4)

# Pieces are (length, radius there, radius at its end, material).
Pieces = list[tuple[float, float, float, int]]


def trade_end(
    b: Builder, rng: np.random.Generator, kind: str, radius: float, place: tuple[float, float], part: Part,
    axis: tuple[float, float],
) -> tuple[Pieces, float]:  # fmt: skip
    """Make the pieces of one of these ends, from `place` on (z, way), and the radius of what follows them."""
    if kind == "foot":
        return _foot(b, rng, radius, place, part, axis)
    return {"lip": _lip, "slider": _slider, "bellows": _bellows}[kind](b, rng, radius)


def _cast(rng: np.random.Generator) -> Look:
    """Cast or forged: grey above all, raw or painted, black now and then."""
    kind = rng.random()
    if kind < 0.65:
        rgb, rough = _u(rng, 0.1, 0.55) * (1 + rng.normal(0, 0.03, 3)), _u(rng, 0.25, 0.8)
    elif kind < 0.9:
        rgb, rough = _u(rng, 0.004, 0.05) * np.ones(3), _u(rng, 0.1, 0.6)
    else:
        rgb, rough = any_colour(rng), _u(rng, 0.1, 0.6)
    return Look(
        albedo=tuple(np.clip(rgb, 0.003, 0.95)), rough=rough, metal=_u(rng, 0, 1) if rng.random() < 0.6 else 0.0,
        dirt=abs(rng.normal(0, 0.25)) if rng.random() < 0.6 else 0.0, dirt_per_mm=_u(rng, 0.1, 0.6),
    )  # fmt: skip


def _foot(
    b: Builder, rng: np.random.Generator, R: float, place: tuple[float, float], part: Part, axis: tuple[float, float]
) -> tuple[Pieces, float]:  # fmt: skip
    """Make a sleeve hardly wider than the shaft, then the axle's eye across it."""
    z, way = place
    m = b.material(_cast(rng))
    r, c = max(R * _u(rng, *FOOT_U), R + 0.4), _u(rng, 0.0, 2.0)
    pieces: Pieces = [
        (max(c, 0.02), max(r - c, R + 0.1), r, m),
        (_u(rng, 6, 45), r, r * _u(rng, 0.97, 1.12), m),
    ]
    if rng.random() < 0.5:
        wider = r * _u(rng, 1.05, 1.4)
        pieces.append((_u(rng, 2, 12), r, wider, m))
        pieces.append((_u(rng, 4, 30), wider, wider, m))
    eye = R * _u(rng, 0.6, 1.4)
    turned, reach = rng.normal(0, 0.4), R * _u(rng, 0.6, 1.5)
    out = np.array([np.cos(turned), np.sin(turned), 0.0])
    middle = np.array([axis[0], axis[1], z + way * (sum(p[0] for p in pieces) + 0.7 * eye)])
    b.rod(middle - reach * out, middle + reach * out, eye, part, m)
    if rng.random() < 0.6:  # the axle
        steel = b.material(polished(rng) if rng.random() < 0.5 else _cast(rng))
        b.rod(
            middle - 1.3 * (reach + eye) * out,
            middle + 1.3 * (reach + eye) * out,
            eye * _u(rng, 0.3, 0.6),
            part,
            steel,
        )
    if rng.random() < 0.4:  # a brake's or a guard's lug
        half = np.array([_u(rng, 4, 14), R * _u(rng, 0.4, 1.1), _u(rng, 8, 30)])
        side = rng.choice([-1, 1]) * (R + half[0])
        at = np.array([axis[0] + side, axis[1], z + way * (half[2] + _u(rng, 0, 20))])
        b.box(at, np.eye(3), half, part, m)
    return pieces, R * _u(rng, 0.3, 0.9)


def _bright(rng: np.random.Generator) -> Look:
    """Bronze, gold, chrome or satin, as lips and scraper rings are."""
    rgb, rough, shiny = metal(rng, pick(rng, bronze=2.5, gold=1.2, chrome=3, satin=1.5))
    return Look(albedo=tuple(np.clip(rgb, 0.003, 0.97)), rough=float(rough), metal=float(shiny))


def _lip(b: Builder, rng: np.random.Generator, R: float) -> tuple[Pieces, float]:
    """Make a rolled or bevelled bright lip with thin rubber in it or none to be seen, and the gland behind it."""
    pieces: Pieces = []
    inner = R + _u(rng, 0.05, 0.8)
    if rng.random() < 0.5:
        pieces.append(
            (_u(rng, 0.05, 1.2), inner, inner + _u(rng, 0, 0.4), b.material(draw_look(rng, 0.95, 0.1)))
        )
    m = b.material(_bright(rng))
    if rng.random() < 0.6:
        bead = _u(rng, 0.5, 2.5)
        c = inner + bead
        angles = np.linspace(0.35, np.pi - 0.35, 5)
        bow = [(-np.cos(a) * bead, c + np.sin(a) * bead * 0.8) for a in angles]
        pieces += [(q[0] - p[0], p[1], q[1], m) for p, q in itertools.pairwise(bow)]
    else:
        pieces.append((_u(rng, 0.4, 4.0), inner + 0.1, inner + _u(rng, 0.5, 4.0), m))
    gland = max(R * _u(rng, 1.12, 1.6), pieces[-1][2] * _u(rng, 0.95, 1.05))
    body = m if rng.random() < 0.3 else b.material(draw_look(rng, rubbery=0.05, lively=0.5))
    pieces.append((_u(rng, 3, 40), gland, gland, body))
    return pieces, max(R * _u(rng, 1.12, 1.8), R + 1)


def _slider(b: Builder, rng: np.random.Generator, R: float) -> tuple[Pieces, float]:
    """Make the outer tube itself, as bright as the shaft or painted; of the rubber in it a dark ring at the most."""
    m = b.material(polished(rng) if rng.random() < 0.6 else draw_look(rng, rubbery=0.0, lively=0.2))
    r = max(R * _u(rng, *SLIDER_U), R + 0.8)
    c = min(_u(rng, 0.0, 2.5), 0.8 * (r - R))
    pieces: Pieces = []
    if rng.random() < 0.5:
        dark = b.material(draw_look(rng, rubbery=0.95, lively=0.0))
        pieces.append((_u(rng, 0.03, 0.6), max(r - c - _u(rng, 0.1, 1.5), R + 0.05), r - c, dark))
    pieces += [(max(c, 0.02), r - c, r, m), (_u(rng, 8, 60), r, r, m)]
    if rng.random() < 0.4:
        pieces.append(
            (_u(rng, 1, 6), r * _u(rng, 1.02, 1.15), r * _u(rng, 1.02, 1.15), b.material(_bright(rng)))
        )
    return pieces, r * _u(rng, 1.0, 1.25)


def _bellows(b: Builder, rng: np.random.Generator, R: float) -> tuple[Pieces, float]:
    """Make a boot of many folds, the first of them close to the shaft or drawn over a collar."""
    m = b.material(draw_look(rng, rubbery=0.9, lively=0.05))
    valley, depth, pitch = R * _u(rng, 1.02, 1.35), R * _u(rng, 0.1, 0.45), _u(rng, 3, 10)
    pieces: Pieces = []
    if rng.random() < 0.5:  # its cuff, or the band that clamps it
        cuff = b.material(_bright(rng)) if rng.random() < 0.3 else m
        pieces.append((_u(rng, 2, 10), R + _u(rng, 0.3, 2.0), R + _u(rng, 0.3, 2.0), cuff))
    for _ in range(int(rng.integers(4, 10))):
        pieces += [(0.5 * pitch, valley, valley + depth, m), (0.5 * pitch, valley + depth, valley, m)]
    return pieces, valley + depth * _u(rng, 0.3, 1.1)
