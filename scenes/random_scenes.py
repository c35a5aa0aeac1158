"""Scenes over the whole range of the trade: forks, upside-down forks, shocks with and without spring."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from . import board, finishes
from .finishes import colour, metal, pick, random_rotation, turn
from .scene import CLASS_OF_PART, N_PARTS, N_RINGS, N_WAVES, Material, Part, Scene, as_float32

# More shocks with springs than workshops see: they are the hardest to read.
LAYOUT_WEIGHTS = {"fork": 0.29, "upside_down_fork": 0.23, "coil_over": 0.36, "bare_shock": 0.12}
NO_MARKER_SHARE = 0.10
WALL_WITHOUT_END = (0.0, 1e4, 0.0, 1e4)  # see `Scene.wall_box`
# Of lips that stand off the shaft (no source): scrapers of metal, old rubber.
STANDS_OFF_SHARE = 0.25
LIP_WITHOUT_EDGE = (0.0, 1.0, 0.7)  # see `Scene.lip_edge`
FULL_SHADE = 0.95  # see `Scene.shade`
# Scenes in which light reaches into corners, and shafts that mirror all but perfectly or are black and glossy (no
# source): clamps beside such tubes are the hardest far ends to place.
LIT_CORNERS_SHARE, POLISHED_SHARE, GLOSSY_COAT_SHARE = 0.5, 0.4, 0.12
ROUNDED, NO_BOSS = (0.0, 0.0), 0.0  # see `Scene.far_bevel`, `Scene.far_boss`


@dataclass(frozen=True)
class Drawn:
    """A scene, where it is seen from, and what the user would have typed in."""

    scene: Scene
    layout: str
    eye_mm: np.ndarray  # (3,) camera centre, shaft frame
    target_mm: np.ndarray  # (3,) point in the middle of the photo
    roll_rad: float
    declared_diameter_mm: float
    card_number: int
    marker_kind: str  # "tie", "o_ring"
    marker_colour: str
    marker_width_mm: float
    has_marker: bool
    exposure_ev: float
    seed: int


class _Builder:
    """Collects the fields of a scene part by part."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.f: dict[str, Any] = {
            "on": np.zeros(N_PARTS),
            "cls": CLASS_OF_PART.astype(float),
            "albedo": np.full((N_PARTS, 3), 0.1),
            "rough": np.full(N_PARTS, 0.5),
            "metal": np.zeros(N_PARTS),
            "dirt": np.zeros(N_PARTS),
        }

    def finish(self, part: Part, look: tuple[np.ndarray, float, float], dirt: float = 0.0) -> None:
        self.f["on"][part] = 1.0
        self.f["albedo"][part] = np.clip(look[0], 0.003, 0.95)
        self.f["rough"][part], self.f["metal"][part] = look[1], look[2]
        self.f["dirt"][part] = dirt

    def copy_finish(self, part: Part, source: Part) -> None:
        for name in ("albedo", "rough", "metal", "dirt"):
            self.f[name][part] = self.f[name][source]
        self.f["on"][part] = 1.0


def _u(rng: np.random.Generator, low: float, high: float) -> float:
    return float(rng.uniform(low, high))


def _seal_side(b: _Builder, radius: float, shock: bool, dirt: float) -> float:
    """Lip, wiper flange and tube or damper body; return the tube's radius."""
    rng, f = b.rng, b.f
    if shock:
        tube_r = radius * _u(rng, 1.6, 3.0)
        height = _u(rng, 0.8, 4.5)
        face = min(radius * _u(rng, 1.08, 1.7), radius + 7.0, 0.95 * tube_r)
        foot = min(face + _u(rng, 0.0, 2.0), 0.98 * tube_r)
    else:
        tube_r = max(radius * _u(rng, 1.15, 1.6), radius + 3.0)
        height = _u(rng, 1.5, 7.0)
        face = radius * _u(rng, 1.03, 1.15)
        foot = min(face + _u(rng, 0.0, 0.6) * (tube_r - face), tube_r)
    wiper = (
        rng.random() < 0.6
    )  # a rubber cone with a thin edge on a rubber ring: the usual shape of dust wipers
    if wiper:
        height = _u(rng, 0.8, 4.5)
        face = radius + _u(rng, 0.25, 1.6)
        foot = face + _u(rng, 0.4, 1.2) * min(height, 3.5)
        tube_r = max(tube_r, foot + 1.0)
    lip_round = min(_u(rng, 0.1, 0.9), 0.4 * height, 0.45 * (face - radius))
    f["lip"] = [height, face, foot, lip_round]
    own = rng.spawn(1)[0]  # leaves the draws that follow as they were
    f["lip_edge"] = list(LIP_WITHOUT_EDGE)
    if own.random() < 0.4:  # a ring worn smooth, wet with oil or grey with dust
        f["lip_edge"] = [_u(own, 0.1, 1.2), own.lognormal(0.2, 0.8), _u(own, 0.15, 0.95)]
    f["lip_gap"] = 0.0
    if own.random() < STANDS_OFF_SHARE:  # a scraper, or rubber grown hard
        f["lip_gap"] = min(_u(own, 0.1, 1.0), 0.7 * (face - radius))
    flange_h = _u(rng, 1.0, 6.0)
    flange_r = foot + _u(rng, 0.2, 1.0) * max(tube_r - foot, 0.5) * (0.95 if rng.random() < 0.8 else 1.2)
    if wiper:
        flange_h, flange_r = _u(rng, 1.5, 6.5), min(foot + _u(rng, 0.0, 2.5), tube_r + 1.0)
    f["flange"] = [-height - flange_h, -height, flange_r, min(0.4 * flange_h, _u(rng, 0.2, 1.2))]
    top = -height - (flange_h if rng.random() < 0.75 else 0.0)
    bottom = top - (_u(rng, 60, 160) if shock else _u(rng, 150, 400))
    f["tube"] = [bottom, top, tube_r, _u(rng, 0.2, 2.5) if rng.random() < 0.7 else _u(rng, 2.0, 5.0)]
    lip_look = (
        metal(rng, "rubber")
        if wiper or rng.random() < 0.7
        else metal(rng, pick(rng, satin=2, dark=2, chrome=1))
    )
    if wiper:  # new rubber shines, old rubber is grey
        lip_look = (lip_look[0] * rng.lognormal(0.3, 0.6) * own.lognormal(0.4, 0.6), _u(rng, 0.3, 0.95), 0.0)
    b.finish(Part.LIP, lip_look, dirt)
    same = rng.random() < (0.8 if wiper else 0.5)
    b.finish(Part.FLANGE, lip_look if same else metal(rng, pick(rng, rubber=2, satin=2, dark=1)), dirt)
    b.finish(Part.TUBE, metal(rng, pick(rng, satin=4, dark=3, gloss=2, gold=1, bronze=0.6, chrome=0.4)), dirt)
    f["collar"] = [-60.0, -55.0, tube_r + 1.0, 0.5]
    if wiper and not shock and rng.random() < 0.6:  # a step between cone and ring
        step = _u(rng, 0.4, 2.0)
        f["collar"] = [-height - step, -height, foot + _u(rng, 0.1, 0.7) * max(flange_r - foot, 0.3), 0.2]
        f["flange"][1] = -height - step
        f["flange"][0] = f["flange"][1] - flange_h
        b.finish(Part.COLLAR, lip_look, dirt)
    return float(tube_r)


def _fork_far(b: _Builder, radius: float, exposed: float, dirt: float) -> None:
    """Lower clamp with the tube going on, or an axle foot that ends it."""
    rng, f = b.rng, b.f
    height = _u(rng, 24, 60)
    cylinder = rng.random() < 0.25
    wide = _u(rng, 1.25, 1.9) * radius
    half = [max(wide, radius + 4), max(_u(rng, 1.2, 1.7) * radius, radius + 4), 0.5 * height]
    off = [0.0, 0.0]
    foot = rng.random() < 0.25
    if foot and not cylinder:
        off = [_u(rng, -12, 12), _u(rng, -6, 14)]
        half[0] += 6
    elif not cylinder and rng.random() < 0.35:  # a bridge that reaches to the other leg
        side = rng.choice([-1, 1])
        half[0] += 20
        off[0] = side * 20.0
    f["far_centre"] = [off[0], off[1], exposed + 0.5 * height]
    f["far_half"] = half
    f["far_round"] = _u(rng, 0.6, 4.0) if rng.random() < 0.85 else _u(rng, 4.0, 9.0)
    f["far_turn"] = rng.normal(0, 0.12) if rng.random() < 0.6 else _u(rng, -0.6, 0.6)
    f["far_is_cylinder"] = float(cylinder)
    own = rng.spawn(1)[0]  # leaves the draws that follow as they were
    _bevel(b, own)
    f["far_boss"] = NO_BOSS
    if not cylinder and own.random() < 0.45:
        # A round boss holds the tube, and the block stands back from its front or beside it.
        f["far_boss"] = max(_u(own, 1.12, 1.7) * radius, radius + 3.0)
        half[1] = max(_u(own, 0.5, 1.3) * radius, 8.0)
        off[1] = half[1] - _u(own, -0.2, 0.9) * radius
        if own.random() < 0.4:
            side = own.choice([-1, 1])
            off[0] = side * _u(own, 0.2, 1.3) * radius
        f["far_centre"][:2] = off
    f["shaft_z"] = [-300.0, exposed + (0.5 * height if foot else height + _u(rng, 60, 300))]
    b.finish(Part.FAR, metal(rng, pick(rng, satin=4, dark=2, gloss=2, chrome=0.7, gold=0.4)), dirt)
    f["bumper"] = [exposed, exposed + 10, radius * 1.3, radius * 1.3, 0.5, 0.0, 0.0]
    f["perch"] = [exposed + 10, exposed + 14, radius * 2, 0.5]


def _bevel(b: _Builder, own: np.random.Generator) -> None:
    """Half of all blocks are milled, with flat bevels of one facet or two; the others are cast or forged, and round."""
    b.f["far_bevel"] = ROUNDED
    if own.random() < 0.5:
        b.f["far_bevel"] = [min(_u(own, 0.5, 5.0), 0.3 * min(b.f["far_half"])), float(own.integers(1, 3))]
        b.f["far_round"] = _u(own, 0.05, 0.4)


def _shock_far(b: _Builder, radius: float, exposed: float, spring_r: float, dirt: float) -> float:
    """Bumper, perch disc and end eye; return the perch's z."""
    rng, f = b.rng, b.f
    length = _u(rng, 10, 30)
    foot_r = radius * _u(rng, 1.5, 2.2) if radius > 5 else radius + _u(rng, 3, 8)
    face_r = max(radius * 1.25, foot_r * _u(rng, 0.65, 1.05))
    grooves = float(rng.integers(1, 4)) if rng.random() < 0.55 else 0.0
    groove = _u(rng, 0.1, 0.3) * (face_r - radius) if grooves else 0.0
    face_round = min(_u(rng, 0.3, 7.0), 0.45 * (face_r - radius), 0.3 * length)
    f["bumper"] = [exposed, exposed + length, face_r, foot_r, face_round, groove, grooves]
    name = pick(rng, black=5, yellow=3, white=1, red=1, grey=1, blue=0.5, orange=0.5, natural=0.5)
    b.finish(Part.BUMPER, (colour(rng, name), _u(rng, 0.4, 0.9), 0.0), dirt)
    perch_z = exposed + length
    thick = _u(rng, 3, 8)
    perch_r = spring_r + _u(rng, 0, 3) if spring_r else max(foot_r * _u(rng, 1.05, 1.9), radius + 6)
    f["perch"] = [perch_z, perch_z + thick, perch_r, _u(rng, 0.3, 1.2)]
    b.finish(Part.PERCH, metal(rng, pick(rng, satin=4, chrome=1, dark=2, gold=0.5, gloss=1)), dirt)
    height = _u(rng, 20, 36)
    side = _u(rng, 8, 14)
    f["far_centre"] = [0.0, 0.0, perch_z + thick + 0.5 * height]
    f["far_half"] = [side, side * _u(rng, 0.8, 1.2), 0.5 * height]
    f["far_round"] = _u(rng, 0.8, 5.0)
    f["far_turn"] = _u(rng, -0.8, 0.8)
    f["far_is_cylinder"] = float(rng.random() < 0.2)
    _bevel(b, rng.spawn(1)[0])
    f["far_boss"] = NO_BOSS
    f["shaft_z"] = [-40.0, perch_z + thick]
    b.finish(Part.FAR, metal(rng, pick(rng, satin=4, chrome=1, dark=2, gloss=1)), dirt)
    return float(perch_z)


def _spring(b: _Builder, present: bool, outer: float, tube_r: float, perch_z: float) -> None:
    rng, f = b.rng, b.f
    wire = min(_u(rng, 6, 13), 2 * (outer - tube_r - 0.5), outer * 0.5) if present else 8.0
    wire = max(wire, 4.0)
    mean = outer - 0.5 * wire
    high = perch_z - 0.5 * wire
    low_target = -_u(rng, 40, 140)
    pitch = max(_u(rng, 9, 22), wire * (_u(rng, 1.4, 2.0) if rng.random() < 0.85 else 1.1))
    turns = max(2.0, round((high - low_target) / pitch))
    low = high - turns * pitch
    f["spring"] = [mean, 0.5 * wire, pitch, low, turns, _u(rng, 0, 6.283), float(rng.choice([-1, 1]))]
    if not present:
        return
    if rng.random() < 0.4:
        look = metal(rng, "chrome") if rng.random() < 0.8 else metal(rng, "satin")
    else:
        name = pick(rng, black=8, red=2, yellow=2, white=1, blue=1.5, grey=1, orange=0.7, green=0.4)
        look = (colour(rng, name), _u(rng, 0.08, 0.4), 0.0)
    b.finish(Part.SPRING, look, _u(rng, 0.0, 0.2))
    f["tube"][0] = min(f["tube"][0], low - 30)
    f["collar"] = [
        low - 0.5 * wire - _u(rng, 5, 14),
        low - 0.5 * wire,
        outer + _u(rng, 0, 3),
        _u(rng, 0.3, 1.5),
    ]
    b.finish(Part.COLLAR, metal(rng, pick(rng, satin=3, dark=2, chrome=1, gold=0.5)), 0.1)


def _marker(b: _Builder, radius: float, exposed: float, shock: bool) -> tuple[str, str, float, bool]:
    rng, f = b.rng, b.f
    ring = rng.random() < 0.38
    width = _u(rng, 2.0, 4.0) if ring else float(rng.choice([2.5, 3.6, 4.8]))
    thick = width if ring else _u(rng, 1.0, 1.45)
    where = rng.random()
    if where < 0.07:
        m = _u(rng, 0.0, 2.0)
    elif where < 0.22:
        m = exposed - width - _u(rng, 0.0, 3.0)
        if shock and rng.random() < 0.5:  # pushed into the rubber
            m = exposed - _u(rng, 0.0, 0.9) * width
    else:
        m = _u(rng, 0.03, 0.97) * (exposed - width)
    m = max(m, 0.0)
    tilt = np.tan(abs(rng.normal(0, 0.012))) if not ring else np.tan(abs(rng.normal(0, 0.008)))
    way = _u(rng, 0, 6.283)
    f["marker"] = [m, width, thick, tilt * np.cos(way), tilt * np.sin(way), float(ring)]
    half_z = 0.5 * width + 0.9  # the lock overhangs the strap by about 0.9 mm on each side
    lock_phi = _u(rng, 0, 6.283)
    f["lock"] = [lock_phi, _u(rng, 1.6, 2.6), _u(rng, 1.8, 3.2), half_z, _u(rng, 0.2, 3.0)]
    if rng.random() < 0.15:
        f["lock"][4] = _u(rng, 5, 30)
    name = pick(rng, black=4, red=2, orange=2, yellow=2, white=1.3, blue=1.5, green=1, natural=0.8, pink=0.5)
    rgb = colour(rng, name)
    has = rng.random() >= NO_MARKER_SHARE
    if has:
        b.finish(Part.MARKER, (rgb, _u(rng, 0.25, 0.6), 0.0), _u(rng, 0.0, 0.25))
        if not ring:
            b.finish(Part.LOCK, (rgb, _u(rng, 0.3, 0.6), 0.0), _u(rng, 0.0, 0.2))
    f["marker"] = np.array(f["marker"])
    return ("o_ring" if ring else "tie"), name, width, has


def _look_alikes(b: _Builder, exposed: float) -> None:
    rng, f = b.rng, b.f
    rings = np.zeros((N_RINGS, 9))
    count = rng.choice([0, 1, 2, 3, 4, 6], p=[0.4, 0.18, 0.16, 0.12, 0.08, 0.06])
    for i in range(count):
        kind = pick(rng, dirt=3, grease=1.5, paint=1.5, oil=1.5, line=2)
        s = _u(rng, -2, exposed + 4)
        half, edge, opacity, rough = _u(rng, 0.5, 3), _u(rng, 0.2, 1.5), _u(rng, 0.3, 0.9), 0.8
        rgb = np.array([0.16, 0.13, 0.10]) * rng.lognormal(0, 0.5)
        if kind == "grease":
            half, edge, rgb, rough = _u(rng, 2, 12), _u(rng, 1, 4), np.full(3, 0.05), _u(rng, 0.3, 0.6)
        elif kind == "paint":
            half, edge, opacity = _u(rng, 0.4, 2.0), 0.05, _u(rng, 0.7, 1.0)
            rgb, rough = colour(rng, str(rng.choice(list(finishes.COLOURS)))), _u(rng, 0.2, 0.6)
        elif kind == "oil":
            half, edge, opacity, rgb, rough = _u(rng, 4, 40), _u(rng, 0.1, 1), _u(rng, 0.15, 0.5), rgb, 0.25
        elif kind == "line":
            half, edge, rgb = _u(rng, 0.1, 0.5), 0.1, np.full(3, rng.choice([0.02, 0.6]))
        rings[i] = [s, half, edge, opacity, *rgb, rough, 1.0 if rng.random() < 0.7 else _u(rng, 0.2, 0.8)]
    f["rings"] = rings
    f["scratches"] = _u(rng, 0.0, 0.8) if rng.random() < 0.5 else 0.0


def _card(b: _Builder, exposed: float, clear: float) -> int:
    """Place the card on one side of the shaft, beyond everything up to radius `clear`."""
    rng, f = b.rng, b.f
    number = int(rng.integers(0, 47))
    side = rng.choice([-1, 1])
    base = np.array([[-1.0, 0, 0], [0, 0, 1.0], [0, 1.0, 0]]).T  # columns: card x, y, z in the shaft frame
    tilt = turn(2, rng.normal(0, 0.04)) @ turn(0, rng.normal(0, 0.03)) @ turn(1, rng.normal(0, 0.025))
    rot = tilt @ base
    centre_x = side * (clear + abs(rng.normal(1.5, 1.5)) + 23.0)
    centre_z = 0.42 * exposed + _u(rng, -42, 42)
    depth = np.clip(rng.normal(0, 3.0), -9, 9)
    scale = np.ones(2)
    if rng.random() < 0.3:
        scale = 1 + rng.normal(0, 0.012, 2)
    f["card_rot"] = rot
    f["card_origin"] = np.array([centre_x, depth, centre_z]) - rot @ np.array(
        [18 * scale[0], 84 * scale[1], 0]
    )
    f["card_scale"] = scale
    curl = [0.0, 0.0]
    if rng.random() < 0.08:
        curl = [rng.normal(0, 2e-3), rng.normal(0, 3e-4)]
    f["card_curl"] = curl
    f["card_bits"] = board.cells(number)
    f["card_text"] = float(number)
    paper = _u(rng, 0.62, 0.9) * (1 + rng.normal(0, 0.02, 3))
    glossy = rng.random() < 0.25
    b.finish(Part.CARD, (paper, _u(rng, 0.05, 0.2) if glossy else _u(rng, 0.5, 0.9), 0.0), _u(rng, 0, 0.12))
    # a finger that holds it by a long edge
    a = np.zeros((4, 3))
    e = np.ones((4, 3))
    r = np.full(4, 5.0)
    edge = rng.choice([-5.0, 41.0])
    y = _u(rng, 5, 165)
    away = np.sign(edge - 18)
    tip = np.array([edge - away * _u(rng, 1, 11), y, -_u(rng, 4, 8)])
    root = tip + np.array([away * _u(rng, 12, 60), _u(rng, -25, 25), _u(rng, -4, 4)])
    if rng.random() < 0.5:
        root = tip + np.array([away * _u(rng, 3, 10), _u(rng, -18, 18), 0])
    a[0], e[0] = (rot @ v + f["card_origin"] for v in (tip, root))
    r[0] = _u(rng, 4.5, 9)
    if rng.random() < 0.5:
        b.finish(Part.FINGER, (np.array(finishes.SKIN[rng.integers(4)]), _u(rng, 0.4, 0.6), 0.0), 0.05)
    f["capsule_a"], f["capsule_b"], f["capsule_r"] = a, e, r
    return number


def _clutter(b: _Builder, exposed: float, clear: float) -> None:
    rng, f = b.rng, b.f
    mid = np.array([0.0, 0.0, 0.5 * exposed])
    for i in (1, 2, 3):
        front = i == 3
        y = -clear - _u(rng, 12, 40) if front else clear + _u(rng, 15, 220)
        c = mid + np.array([_u(rng, -130, 130), y, _u(rng, -140, 140)])
        way = rng.normal(size=3) * [1, 0.15 if front else 0.6, 1]
        way *= _u(rng, 20, 120) / np.linalg.norm(way)
        f["capsule_a"][i], f["capsule_b"][i] = c - way, c + way
        f["capsule_r"][i] = _u(rng, 1.5, 5) if front else _u(rng, 2.5, 16)
        part = Part(Part.FINGER + i)
        if rng.random() < (0.12 if front else 0.45):
            b.finish(part, metal(rng, pick(rng, rubber=3, dark=2, satin=2, chrome=1, gloss=1)), 0.1)
        f["cls"][part] = Material.OCCLUDER if front else Material.OTHER
    f["box_centre"] = np.array(
        [[_u(rng, -160, 160), clear + _u(rng, 35, 260), mid[2] + _u(rng, -170, 170)] for _ in range(2)]
    )
    f["box_rot"] = np.stack([random_rotation(rng) for _ in range(2)])
    f["box_half"] = rng.uniform(10, 45, (2, 3))
    for part in (Part.BOX_A, Part.BOX_B):
        if rng.random() < 0.4:
            b.finish(part, metal(rng, pick(rng, rubber=2, dark=2, satin=3, gloss=3, chrome=0.5)), 0.1)
    tyre_r, tyre_w = _u(rng, 170, 300), _u(rng, 35, 70)
    f["tyre_radii"] = [tyre_r, tyre_w]
    y = clear + tyre_w + _u(rng, 15, 120)
    f["tyre_centre"] = [_u(rng, -160, 160), y, _u(rng, -260, 260)]
    f["tyre_rot"] = (turn(0, np.pi / 2 + rng.normal(0, 0.15)) @ turn(1, rng.normal(0, 0.15))).T
    if rng.random() < 0.6:
        b.finish(Part.TYRE, metal(rng, "rubber"), _u(rng, 0, 0.1))


def _wall(b: _Builder, clear: float, present: bool) -> None:
    rng, f = b.rng, b.f
    n = np.array([rng.normal(0, 0.2), -1.0, rng.normal(0, 0.2)])
    n /= np.linalg.norm(n)
    behind = np.array([0.0, clear + _u(rng, 120, 420), 0.0])
    f["wall"] = [*n, float(n @ behind)]
    base = rng.uniform(0.03, 0.75) * (1 + rng.normal(0, 0.05, 3))
    f["wall_colours"] = np.clip(np.stack([base, base * rng.uniform(0.25, 0.95)]), 0.01, 0.9)
    f["wall_edge"] = 10 ** rng.uniform(-2.0, 0.4)
    length = 10 ** rng.uniform(np.log10(6), np.log10(180), N_WAVES)
    way = rng.normal(size=(N_WAVES, 3))
    way /= np.linalg.norm(way, axis=1)[:, None]
    f["wall_waves"] = way * (2 * np.pi / length)[:, None]
    f["wall_phases"] = rng.uniform(0, 2 * np.pi, N_WAVES)
    amps = (length / 180) ** 0.7 * rng.uniform(0.5, 1.5, N_WAVES)
    f["wall_amps"] = amps / np.sqrt((amps**2).sum() / 2)
    # A board, a door, the bike's own side: what stands behind a shaft mostly ends some degrees on, and a polished
    # limb then mirrors it in its last half per cent alone.
    f["wall_box"] = list(WALL_WITHOUT_END)
    own = rng.spawn(1)[0]  # leaves the draws that follow as they were
    if own.random() < 0.6:
        half_x = 10 ** own.uniform(np.log10(25), np.log10(350))
        f["wall_box"] = [own.normal(0, 0.4 * half_x), half_x, own.normal(0, 60), _u(own, 120, 600)]
    f["on"][Part.WALL] = float(present)
    f["rough"][Part.WALL] = 0.95


def _light_in_corners(b: _Builder) -> None:
    """How dark it is where parts meet, and how well the shaft mirrors what meets it.

    Pale surroundings light up what they shade. Where they do, a polished tube hands a clamp's underside on as bright as
    it is, and nothing is seen of the line at which they meet: the clamp's front edge and its picture lie to either
    side of it. In a dark coat's gloss next to nothing is seen of either.
    """
    f = b.f
    own = b.rng.spawn(1)[0]
    f["shade"] = _u(own, 0.45, 1.0)
    if own.random() < LIT_CORNERS_SHARE:
        f["shade"] = _u(own, 0.0, 0.4)
    which = own.random()
    if which < POLISHED_SHARE:
        f["albedo"][Part.SHAFT] = np.clip(_u(own, 0.85, 1.0) * (1 + own.normal(0, 0.02, 3)), 0.0, 1.0)
        f["rough"][Part.SHAFT], f["metal"][Part.SHAFT] = _u(own, 0.02, 0.12), 1.0
    elif which < POLISHED_SHARE + GLOSSY_COAT_SHARE:
        f["albedo"][Part.SHAFT] = _u(own, 0.003, 0.04) * (1 + own.normal(0, 0.1, 3))
        f["rough"][Part.SHAFT], f["metal"][Part.SHAFT] = _u(own, 0.02, 0.15), 0.0
    if which < POLISHED_SHARE + GLOSSY_COAT_SHARE:
        f["dirt"][Part.SHAFT] *= own.random()
        f["scratches"] *= own.random()


def _other_leg(b: _Builder, exposed: float, fork: bool, card_x: float) -> None:
    rng, f = b.rng, b.f
    side = -np.sign(card_x) if rng.random() < 0.7 else np.sign(card_x)
    f["leg_offset"] = [side * _u(rng, 120, 220), _u(rng, -10, 70), rng.normal(0, 6)]
    f["leg_marker"] = _u(rng, 0.05, 0.9) * exposed
    if fork and rng.random() < 0.4:
        for part, source in (
            (Part.LEG_SHAFT, Part.SHAFT),
            (Part.LEG_SEAL, Part.TUBE),
            (Part.LEG_CLAMP, Part.FAR),
        ):
            b.copy_finish(part, source)
        if b.f["on"][Part.MARKER] and rng.random() < 0.7:
            b.copy_finish(Part.LEG_MARKER, Part.MARKER)


def _view(rng: np.random.Generator, exposed: float, card_x: float) -> tuple[np.ndarray, np.ndarray, float]:
    distance = _u(rng, 180, 750) if rng.random() < 0.5 else 330 * rng.lognormal(0, 0.25)
    distance = float(np.clip(distance, 180, 750))
    az = float(np.clip(rng.normal(0, 0.2), -0.52, 0.52))
    el = float(np.clip(rng.normal(0, 0.16), -0.52, 0.52))
    target = np.array([0.45 * card_x + rng.normal(0, 8), 0.0, 0.5 * exposed + rng.normal(0, 15)])
    way = np.array([np.sin(az) * np.cos(el), -np.cos(az) * np.cos(el), np.sin(el)])
    roll = rng.normal(0, 0.08) + np.pi * rng.integers(0, 2) if rng.random() < 0.5 else _u(rng, -np.pi, np.pi)
    return target + distance * way, target, float(roll)


def draw(seed: int, layout: str | None = None, exposed_mm: float | None = None) -> Drawn:
    """Draw scene `seed`, with this layout and exposed length where given; the same seed gives the same scene."""
    rng = np.random.default_rng(seed)
    layout_drawn = pick(rng, **LAYOUT_WEIGHTS)
    layout = layout or layout_drawn
    b = _Builder(rng)
    f = b.f
    shock = layout in ("coil_over", "bare_shock")
    diameter = _u(rng, 6, 18) if shock else _u(rng, 30, 50)
    if rng.random() < 0.6:
        diameter = round(2 * diameter) / 2
    radius = 0.5 * diameter
    exposed = _u(rng, 20, 110) if shock else (_u(rng, 60, 210) if rng.random() < 0.85 else _u(rng, 25, 80))
    exposed = exposed if exposed_mm is None else exposed_mm
    f["radius"], f["exposed"] = radius, exposed
    dirt = abs(rng.normal(0, 0.16)) if rng.random() < 0.7 else 0.0
    finish = pick(rng, chrome=5, dark=2.5, satin=0.8, gold=1.2, bronze=0.5)
    b.finish(Part.SHAFT, metal(rng, finish), 0.6 * dirt)
    tube_r = _seal_side(b, radius, shock, dirt)
    clear = tube_r
    if shock:
        coil = layout == "coil_over"
        outer = max(_u(rng, 19, 35), tube_r + 5.0)
        perch_z = _shock_far(b, radius, exposed, outer if coil else 0.0, dirt)
        _spring(b, coil, outer, tube_r, perch_z)
        clear = max(tube_r, f["perch"][2], outer + 2 if coil else 0.0)
    else:
        _fork_far(b, radius, exposed, dirt)
        _spring(b, False, 30.0, 20.0, exposed)
    kind, name, width, has = _marker(b, radius, exposed, shock)
    _look_alikes(b, exposed)
    number = _card(b, exposed, clear)
    _clutter(b, exposed, max(clear, float(np.max(f["far_half"][:2])) if not shock else clear))
    place = pick(rng, outdoors=4, workshop=3, dusk=1.6, studio=1.4)
    _wall(b, clear, rng.random() < (0.45 if place == "outdoors" else 0.8))
    up = np.array([0, 0, rng.choice([-1.0, 1.0])]) + rng.normal(0, 0.2, 3)
    f.update(finishes.surroundings(rng, place, up / np.linalg.norm(up)))
    card_x = float(f["card_origin"][0] - 18)
    _other_leg(b, exposed, not shock, card_x)
    eye, target, roll = _view(rng, exposed, card_x)
    f["gain"] = 1.0
    _light_in_corners(b)
    ev = float(rng.normal(-0.2, 0.6) + (rng.normal(-1.6, 0.6) if rng.random() < 0.18 else 0.0))
    if rng.random() < 0.06:
        ev = _u(rng, 1.0, 2.0)
    return Drawn(
        scene=as_float32(Scene(**f)),
        layout=layout,
        eye_mm=eye.astype(np.float32),
        target_mm=target.astype(np.float32),
        roll_rad=roll,
        declared_diameter_mm=round(diameter + rng.normal(0, 0.012), 2),
        card_number=number,
        marker_kind=kind,
        marker_colour=name,
        marker_width_mm=round(width, 1),
        has_marker=has,
        exposure_ev=ev,
        seed=seed,
    )
