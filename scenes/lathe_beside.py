"""What stands beside, before and on the shaft of a lathe scene: other shafts, cables, covers, reflectors, fingers, mud.

Shares and ranges are judgements [no source]; the kinds are what real photographs showed: see docs/measured.md.
"""

from __future__ import annotations

import numpy as np

from .finishes import SKIN, metal, pick, random_rotation, turn
from .lathe import Look
from .lathe_builder import Builder
from .lathe_looks import any_colour, draw_look
from .lathe_parts import FAR_LIKES, SEAL_LIKES, end
from .scene import Part

NEIGHBOUR_SHARE, TOUCHING_SHARE, COVER_SHARE = 0.35, 0.45, 0.25
WALL_SHARE = 0.2
FINGER_SHARE, REFLECTOR_SHARE, LUMP_SHARE = 0.14, 0.1, 0.12
# Of those across the shaft, how many lie over an end of it and square to it: such a finger's edge is the rim's own
# curve, and networks took it for a clamp.
OVER_AN_END_SHARE = 0.6
# Reflectors are orange, red or white, in a black or bright frame; linear RGB.
REFLECTORS = ((0.75, 0.2, 0.02), (0.6, 0.03, 0.02), (0.7, 0.7, 0.7))


def _u(rng: np.random.Generator, low: float, high: float) -> float:
    return float(rng.uniform(low, high))


def _log(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def shaft_look(rng: np.random.Generator) -> Look:
    """Any finish that shafts have: chrome above all, dark coats, gold and bronze ones, paint."""
    kind = pick(rng, chrome=5, dark=2.5, satin=1.2, gold=1.6, bronze=0.8, paint=0.8, gloss_black=1.2)
    if kind == "paint":
        rgb, rough, shiny = any_colour(rng), _u(rng, 0.1, 0.5), float(rng.random() < 0.4)
    elif kind == "gloss_black":
        rgb, rough, shiny = _u(rng, 0.003, 0.03) * np.ones(3), _u(rng, 0.02, 0.15), 0.0
    else:
        rgb, rough, shiny = metal(rng, kind)
        if kind == "chrome" and rng.random() < 0.5:
            rgb = _u(rng, 0.8, 1.0) * np.ones(3)
    return Look(
        albedo=tuple(np.clip(rgb, 0.003, 0.99)), rough=float(rough), metal=float(shiny),
        dirt=abs(rng.normal(0, 0.15)) if rng.random() < 0.4 else 0.0, dirt_per_mm=_log(rng, 0.03, 0.5),
        streak=_u(rng, 0, 0.3) if rng.random() < 0.12 else 0.0,
    )  # fmt: skip


def neighbours(
    b: Builder, rng: np.random.Generator, R: float, exposed: float, wide: float, card_x: float
) -> None:
    """Other shafts beside and behind, cables along the edges, rods, boxes, wheels, plates before an end."""
    if rng.random() < NEIGHBOUR_SHARE:
        other = R if rng.random() < 0.7 else R * _log(rng, 0.4, 2.0)
        x = rng.choice([-1, 1]) * (R + other) * _log(rng, 1.02, 4.0)
        if (
            x * card_x > 0 and abs(x) < 1.8 * abs(card_x) + other
        ):  # the card lies beside the shaft that is meant
            x = -x
        axis = (x, _u(rng, -0.3, 3.0) * R)
        shift = rng.normal(0, 25) if rng.random() < 0.6 else 0.0
        m = 0 if rng.random() < 0.6 else b.material(shaft_look(rng))
        length = exposed if rng.random() < 0.7 else _log(rng, 30, 250)
        b.stack(shift, 1.0, other, [(length, other, other, m)], Part.LEG_SHAFT, axis, end_r=other)
        end(b, rng, other, shift, -1.0, Part.LEG_SEAL, SEAL_LIKES, axis, few=True)
        end(b, rng, other, shift + length, 1.0, Part.LEG_CLAMP, FAR_LIKES, axis, few=True)
    if rng.random() < TOUCHING_SHARE:  # along a silhouette: cables, lines, tie rods, guards
        for _ in range(int(rng.integers(1, 4))):
            r = _u(rng, 0.8, 5) if rng.random() < 0.75 else _u(rng, 5, 20)
            x = rng.choice([-1, 1]) * (
                R + r * _u(rng, -1.2, 1.5) + (_u(rng, 0, 6) if rng.random() < 0.5 else 0)
            )
            y = rng.choice([-1, 1], p=[0.35, 0.65]) * (R + r) * _u(rng, 0.3, 1.8)
            lean = rng.normal(0, 0.08, 2)
            z0 = _u(rng, -60, 0.6 * exposed)
            z1 = z0 + _log(rng, 40, 400)
            b.rod(
                [x, y, z0],
                [x + lean[0] * (z1 - z0), y + lean[1] * (z1 - z0), z1],
                r,
                Part.ROD_A,
                b.material(draw_look(rng, rubbery=0.5)),
            )
    for _ in range(int(rng.integers(0, 5))):  # spokes, frames, exhausts behind; a cable across now and then
        front = rng.random() < 0.12
        y = -wide - _u(rng, 8, 40) if front else wide + _u(rng, 4, 220)
        c = np.array([_u(rng, -130, 130), y, _u(rng, -80, exposed + 80)])
        way = rng.normal(size=3) * [1, 0.2, 1]
        way *= _u(rng, 30, 160) / np.linalg.norm(way)
        b.rod(
            c - way,
            c + way,
            _u(rng, 1, 4) if front else _log(rng, 1, 25),
            Part.ROD_B,
            b.material(draw_look(rng, rubbery=0.3)),
        )
    if (
        rng.random() < 0.35
    ):  # a wheel's rim, a tyre's side, a tank: something large and round behind or beside
        r = _u(rng, 60, 250)
        c = np.array([_u(rng, -200, 200), wide + r + _u(rng, 3, 80), _u(rng, -200, exposed + 200)])
        b.rod(
            c - np.array([200.0, 0, _u(rng, -80, 80)]),
            c + np.array([200.0, 0, 0]),
            r,
            Part.ROD_C,
            b.material(draw_look(rng, rubbery=0.4)),
        )
    if rng.random() < WALL_SHARE:  # a wall, a floor, a garage door right behind
        way = turn(2, rng.normal(0, 0.4)) @ turn(0, rng.normal(0, 0.3))
        near = wide + 60.0 + _log(rng, 5, 300)
        look = draw_look(rng, rubbery=0.3, lively=0.2)
        if rng.random() < 0.5:
            look = Look(albedo=tuple(any_colour(rng)), rough=_u(rng, 0.3, 1.0))
        b.box([0, near, 0.5 * exposed], way, [900.0, 4.0, 900.0], Part.BOX_A, b.material(look))
    for _ in range(int(rng.integers(0, 3))):
        spot = [_u(rng, -150, 150), wide + _u(rng, 30, 200), _u(rng, -120, exposed + 120)]
        b.box(spot, random_rotation(rng), rng.uniform(4, 50, 3), Part.BOX_A, b.material(draw_look(rng)))
    if rng.random() < 0.25:  # a plate or a guard beside the shaft, along one silhouette
        side = rng.choice([-1, 1])
        half = np.array([_u(rng, 5, 60), _u(rng, 0.5, 5), _u(rng, 20, 150)])
        x = side * (R * _u(rng, 0.75, 1.8) + half[0])
        y = rng.choice([-1, 1], p=[0.3, 0.7]) * (R + _u(rng, 2, 30))
        b.box(
            [x, y, _u(rng, 0, exposed)],
            turn(2, rng.normal(0, 0.3)) @ turn(1, rng.normal(0, 0.15)),
            half,
            Part.BOX_B,
            b.material(draw_look(rng, rubbery=0.1)),
        )


def covers(b: Builder, rng: np.random.Generator, R: float, exposed: float, wide: float) -> None:
    """Put a fender, a lamp or a plate before an end or a middle piece; reflectors on the parts about it."""
    if rng.random() < COVER_SHARE:  # a fender, a lamp, a plate that hides an end or a middle piece
        place = pick(rng, seal=1, far=2, middle=0.5)
        m = b.material(draw_look(rng, rubbery=0.1))
        y = -(wide + _u(rng, 3, 45))
        if place == "middle":
            z, reach = _u(rng, 0.2, 0.8) * exposed, _u(rng, 3, 18)
        else:
            reach = _u(rng, 20, 120)
            over = _u(rng, -4, 0.35 * exposed)
            z = over - reach if place == "seal" else exposed - over + reach
        if rng.random() < 0.5:
            b.box(
                [_u(rng, -30, 30), y, z],
                turn(0, rng.normal(0, 0.2)) @ turn(1, rng.normal(0, 0.35)),
                [_u(rng, 15, 120), _u(rng, 0.5, 8), reach],
                Part.BOX_B,
                m,
            )
        else:
            r = reach
            way = np.array([150.0, _u(rng, -30, 30), _u(rng, -80, 80)])
            c = np.array([_u(rng, -60, 60), min(y, -wide) - r * _u(rng, 0.0, 0.6) - 2, z])
            b.rod(c - way, c + way, r, Part.ROD_C, m)
    if rng.random() < REFLECTOR_SHARE:
        half = np.array([_u(rng, 6, 28), _u(rng, 1, 4), _u(rng, 7, 32)])
        at_seal = rng.random() < 0.5
        z = -half[2] + _u(rng, -25, 5) if at_seal else exposed + half[2] + _u(rng, -5, 25)
        centre = np.array([rng.normal(0, 0.4 * R), -(wide + half[1] + _u(rng, 0.5, 8)), z])
        rot = turn(2, rng.normal(0, 0.25)) @ turn(0, rng.normal(0, 0.08))
        colour = np.array(REFLECTORS[rng.integers(3)]) * rng.lognormal(0, 0.15)
        glass = Look(
            albedo=tuple(np.clip(colour, 0.003, 0.95)), rough=_u(rng, 0.05, 0.25), groove=_u(rng, 0, 0.3)
        )
        frame = draw_look(rng, rubbery=0.5, lively=0.0)
        b.box(centre, rot, half, Part.BOX_A, b.material(glass))
        rim = half + np.array([_u(rng, 0.5, 3), -0.4, _u(rng, 0.5, 3)])
        b.box(centre + np.array([0, 0.8, 0]), rot, rim, Part.BOX_B, b.material(frame))


def fingers(b: Builder, rng: np.random.Generator, R: float, exposed: float, card_x: float) -> None:
    """Fingers that hold the card, now and then across the shaft."""
    if rng.random() >= FINGER_SHARE:
        return
    skin = np.array(SKIN[rng.integers(len(SKIN))]) * rng.lognormal(0, 0.1)
    look = b.material(Look(albedo=tuple(np.clip(skin, 0.02, 0.8)), rough=_u(rng, 0.4, 0.7)))
    z, side = _u(rng, -10, exposed + 10), np.sign(card_x)
    across = rng.random() < 0.5  # from the other side, over the shaft
    square = across and rng.random() < OVER_AN_END_SHARE
    if square:
        z = exposed - 17.0 * _u(rng, -0.2, 1.5) if rng.random() < 0.7 else _u(rng, -15, 8)
    tip = _u(rng, -R, R) if across else card_x - side * _u(rng, 0, 22)
    from_hand = -side if across else side
    for k in range(int(rng.integers(1, 4))):
        clear = _u(rng, 6, 12) + (R if across else 0.0)
        start = np.array([tip + rng.normal(0, 3), -clear, z + 17.0 * k])
        if square:  # its tip lies beyond the shaft, so that both of its edges cross it
            start[0] = -from_hand * R * _u(rng, 0.6, 2.0)
        way = np.array([from_hand * _u(rng, 120, 220), rng.normal(0, 20), rng.normal(0, 8 if square else 30)])
        b.rod(start, start + way, _u(rng, 6.5, 9.5), Part.FINGER, look)


def lumps(b: Builder, rng: np.random.Generator, R: float, exposed: float) -> None:
    """Add drops of water or lumps of mud on the shaft's near side."""
    if rng.random() >= LUMP_SHARE:
        return
    if rng.random() < 0.5:
        mud = np.array([0.16, 0.12, 0.08]) * rng.lognormal(0, 0.5)
        look = Look(albedo=tuple(np.clip(mud, 0.003, 0.6)), rough=_u(rng, 0.7, 1.0))
    else:  # water mirrors, and is near enough black by itself
        look = Look(albedo=(0.05, 0.05, 0.05), rough=_u(rng, 0.02, 0.08), metal=_u(rng, 0.0, 0.6))
    m = b.material(look)
    for _ in range(int(rng.integers(2, 8))):
        phi, r = _u(rng, -np.pi, 0), _log(rng, 0.5, 3.0)
        at = np.array([R * np.cos(phi), R * np.sin(phi), _u(rng, -5, exposed + 5)])
        b.rod(at, at + np.array([0, 0, _u(rng, 0.01, 1.5)]), r, Part.ROD_A, m)
