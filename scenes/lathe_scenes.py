"""Random scenes of the second renderer: looks from far beyond what the first draws, and what leads readers astray.

Weights and ranges are judgements [no source]; the kinds are what real photographs showed: see docs/measured.md.
"""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np

from . import board, finishes
from .finishes import metal, pick, random_rotation, turn
from .lathe import N_BANDS, N_LAMPS, LatheScene, Look
from .lathe_beside import covers, fingers, lumps, neighbours, shaft_look
from .lathe_builder import Builder
from .lathe_looks import any_colour, draw_look
from .lathe_parts import FAR_LIKES, POOL, SEAL_LIKES, World, end
from .random_scenes import Drawn
from .scene import CLASS_OF_PART, Part

NO_MARKER_SHARE = 0.2
# A marker now and then has a second one beside it, both to be seen.
SECOND_MARKER_SHARE = 0.05
COIL_SHARE = 0.5  # of shocks
NO_SHAFT_SHARE = 0.06  # beams, pipes of another width, cones: nothing to be read
GOES_ON_SHARE = 0.25  # of far ends beyond which the tube comes out again
CUT_SHARE = 0.12  # of photographs that cut off an end
STEEP_SHARE = 0.4  # of views from well above or below
WHITE_SHARE, HALF_BLACK_SHARE = 0.22, 0.35
BEHIND_SHARE = 0.75  # of scenes whose parts mirror what stands behind them where they are seen at a slant
ONE_LINE_SHARE = 0.12  # of scenes whose parts mirror one line of light in the dark
DUSK_SHARE, BURNT_SHARE = 0.18, 0.1  # of photographs far too dark or too light
LONG_SHARE = 0.15  # of forks whose shaft is longer than a view


def _u(rng: np.random.Generator, low: float, high: float) -> float:
    return float(rng.uniform(low, high))


def _log(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _beam(b: Builder, rng: np.random.Generator, R: float, length: float) -> None:
    """Add a beam, a pipe or a cone: the card was laid where no shaft is."""
    m = b.material(draw_look(rng, rubbery=0.1))
    kind = rng.random()
    if kind < 0.45:
        half = [R * _log(rng, 0.5, 3.0), R * _log(rng, 0.3, 3.0), 0.5 * length + _u(rng, 0, 200)]
        b.box([0, R, 0.5 * length], turn(2, _u(rng, -0.8, 0.8)), half, Part.LEG_SHAFT, m)
    elif kind < 0.75:
        r = R * (_log(rng, 0.35, 0.7) if rng.random() < 0.5 else _log(rng, 1.45, 3.0))
        b.stack(0.0, 1.0, r, [(length, r, r, m)], Part.LEG_SHAFT)
    else:
        b.stack(0.0, 1.0, R, [(length, R * _log(rng, 0.4, 1.0), R * _log(rng, 1.2, 2.5), m)], Part.LEG_SHAFT)


def _coil(
    b: Builder, rng: np.random.Generator, R: float, exposed: float, present: bool
) -> tuple[dict[str, Any], float, float]:
    """Add a spring round everything, with its seats: fields, how wide what is inside may be, how wide it is."""
    if not present:
        return (
            {"spring": [1.0, 1.0, 20.0, 0.0, 0.0, 0.0, 1.0], "spring_is": [float(Part.SPRING), 0.0]},
            1e4,
            0.0,
        )
    wire = _u(rng, 2.8, 6.8)
    outer = max(R * _u(rng, 2.0, 4.0), R + 2 * wire + _u(rng, 3, 12))
    perch = exposed + _log(rng, 3, 35)
    pitch = max(_u(rng, 9, 24), 2 * wire * (_u(rng, 1.4, 2.2) if rng.random() < 0.85 else 1.1))
    high = perch - wire
    turns = max(2.0, round((high + _u(rng, 30, 150)) / pitch))
    low = high - turns * pitch
    if rng.random() < 0.35:
        rgb, rough, shiny = metal(rng, pick(rng, chrome=3, satin=1))
    else:
        name = pick(rng, black=6, red=2, yellow=2, white=2, blue=1.5, grey=1, orange=1, green=0.7, any=2)
        rgb, rough, shiny = (
            any_colour(rng) if name == "any" else finishes.colour(rng, name),
            _u(rng, 0.08, 0.6),
            0.0,
        )
    look = b.material(
        Look(
            albedo=tuple(np.clip(rgb, 0.003, 0.97)),
            rough=float(rough),
            metal=float(shiny),
            dirt=abs(rng.normal(0, 0.15)),
        )
    )
    for z, way, part in ((perch, 1.0, Part.PERCH), (low, -1.0, Part.COLLAR)):
        seat, r = b.material(draw_look(rng, rubbery=0.1)), outer + _u(rng, -1, 3)
        b.stack(z, way, 0.0, [(_u(rng, 2, 14), r, r, seat)], part)
    fields = {
        "spring": [outer - wire, wire, pitch, low, turns, _u(rng, 0, 6.283), float(rng.choice([-1, 1]))],
        "spring_is": [float(Part.SPRING), float(look)],
    }
    return fields, outer - 2 * wire - 0.5, outer


def _bands(rng: np.random.Generator, exposed: float, bait: float) -> np.ndarray:
    """Rings of colour on the shaft that are no markers; the more where there is none."""
    out = np.zeros((N_BANDS, 9))
    count = int(rng.integers(1, 7)) if rng.random() < bait else 0
    for i in range(count):
        kind = pick(rng, dirt=2.5, grease=1.5, paint=1.2, oil=1.5, line=2.5, worn=1.5, sticker=0.6)
        s, half, edge, opacity, rough = (
            _u(rng, -2, exposed + 4),
            _u(rng, 0.4, 3),
            _u(rng, 0.1, 1.5),
            _u(rng, 0.2, 0.9),
            0.8,
        )
        rgb = np.array([0.16, 0.13, 0.10]) * rng.lognormal(0, 0.7)
        if kind == "grease":
            half, edge, rgb, rough = (
                _u(rng, 1, 14),
                _u(rng, 0.5, 4),
                np.full(3, _u(rng, 0.01, 0.1)),
                _u(rng, 0.2, 0.6),
            )
        elif kind == "paint":
            half, edge, opacity, rgb = (
                _u(rng, 0.3, 2.2),
                _u(rng, 0.02, 0.3),
                _u(rng, 0.5, 1.0),
                any_colour(rng),
            )
            rough = _u(rng, 0.2, 0.6)
        elif kind == "oil":
            half, edge, opacity, rough = _u(rng, 4, 60), _u(rng, 0.1, 3), _u(rng, 0.1, 0.5), 0.25
        elif kind == "line":
            half, edge, rgb = _u(rng, 0.08, 0.5), 0.1, np.full(3, rng.choice([0.01, 0.3, 0.7]))
        elif kind == "worn":
            half, edge, opacity, rgb, rough = (
                _u(rng, 3, 50),
                _u(rng, 1, 10),
                _u(rng, 0.2, 0.7),
                rng.uniform(0.05, 0.6) * np.ones(3),
                0.4,
            )
        share = 1.0 if rng.random() < 0.55 else _u(rng, 0.1, 0.8)
        if kind == "sticker":
            half, edge, opacity, rgb, share = _u(rng, 2, 15), 0.03, 1.0, any_colour(rng), _u(rng, 0.05, 0.3)
            rough = _u(rng, 0.1, 0.6)
        out[i] = [s, half, edge, opacity, *rgb, rough, share]
    return out


def _marker(
    b: Builder,
    rng: np.random.Generator,
    R: float,
    exposed: float,
    shock: bool,
    may: bool,
    white: float = 1.3,
) -> tuple[list[float], str, float, bool, str]:
    ring = rng.random() < 0.38
    width = (
        _u(rng, 1.8, 4.5)
        if ring
        else float(rng.choice([2.5, 3.6, 4.8, 4.8, 7.6], p=[0.3, 0.35, 0.15, 0.15, 0.05]))
    )
    thick = 0.9 * width if ring else _u(rng, 0.9, 1.8)
    where = rng.random()
    if where < 0.07:
        m = _u(rng, 0, 2)
    elif where < 0.2:
        m = (
            exposed - width - _u(rng, 0, 3)
            if not shock or rng.random() < 0.5
            else exposed - width * _u(rng, 0.3, 1)
        )
    else:
        m = _u(rng, 0.03, 0.97) * (exposed - width)
    m = max(m, 0.0)
    tilt, way = abs(rng.normal(0, 0.012)), _u(rng, 0, 6.283)
    slope = (tilt * np.cos(way), tilt * np.sin(way))
    name = pick(
        rng,
        black=4,
        red=2,
        orange=2,
        yellow=2,
        white=white,
        blue=1.5,
        green=1,
        natural=0.8,
        pink=0.5,
        any=1.5,
    )
    rgb = any_colour(rng) if name == "any" else finishes.colour(rng, name)
    has = rng.random() >= NO_MARKER_SHARE and may
    if has:
        look = b.material(
            Look(
                albedo=tuple(rgb),
                rough=_u(rng, 0.15, 0.7),
                dirt=abs(rng.normal(0, 0.2)),
                second=tuple(rgb * 0.6),
                ring_mm=_u(rng, 0.5, 1.5) if rng.random() < 0.15 else 0.0,
            )
        )
        places = [m]
        if rng.random() < SECOND_MARKER_SHARE:
            places.append(_u(rng, 0.03, 0.97) * (exposed - width))
        for at in places:
            if ring:
                angles = np.linspace(0, np.pi, 8)
                pts = [
                    (0.5 * width * (1 - np.cos(a)), R + 0.5 * thick + 0.5 * thick * np.sin(a)) for a in angles
                ]
                pieces = [(q[0] - p[0], p[1], q[1], look) for p, q in itertools.pairwise(pts)]
                b.stack(at, 1.0, R, pieces, Part.MARKER, slope=slope, end_r=R)
            else:
                c = min(_u(rng, 0.05, 0.4), 0.3 * width, 0.6 * thick)
                top = R + thick
                b.stack(
                    at,
                    1.0,
                    R,
                    [(c, top - c, top, look), (width - 2 * c, top, top, look), (c, top, top - c, look)],
                    Part.MARKER,
                    slope=slope,
                    end_r=R,
                )
        if not ring and rng.random() < 0.8:
            phi = _u(rng, 0, 6.283)
            out, side = np.array([np.cos(phi), np.sin(phi), 0]), np.array([-np.sin(phi), np.cos(phi), 0])
            half = np.array([_u(rng, 1.4, 2.8), _u(rng, 1.8, 3.5), 0.5 * width + _u(rng, 0.4, 1.1)])
            centre = out * (R + half[0]) + np.array([0, 0, m + 0.5 * width])
            b.box(centre, np.stack([out, side, [0, 0, 1.0]]), half, Part.LOCK, look)
            tail = _u(rng, 0.2, 4) if rng.random() < 0.8 else _u(rng, 5, 40)
            b.box(
                centre + side * (half[1] + 0.5 * tail) + out * 0.2,
                np.stack([out, side, [0, 0, 1.0]]),
                [0.5 * min(thick, 1.3), 0.5 * tail, 0.5 * width],
                Part.LOCK,
                look,
            )
    return [m, width, thick, *slope, float(ring)], name, width, has, "o_ring" if ring else "tie"


def _card(
    b: Builder, rng: np.random.Generator, R: float, exposed: float, wide: float
) -> tuple[dict[str, Any], int]:
    number = int(rng.integers(0, 47))
    side = rng.choice([-1, 1])
    base = np.array([[-1.0, 0, 0], [0, 0, 1.0], [0, 1.0, 0]]).T  # columns: card x, y, z in the shaft frame
    tilt = turn(2, rng.normal(0, 0.07)) @ turn(0, rng.normal(0, 0.035)) @ turn(1, rng.normal(0, 0.03))
    rot = tilt @ base
    near = rng.random() < 0.5
    clear = R if near else wide
    x = side * (clear + _u(rng, 2, 18 if near else 10) + 23.0)
    depth = float(np.clip(rng.normal(0, 3.5), -12, 12))
    scale = np.ones(2) if rng.random() < 0.7 else 1 + rng.normal(0, 0.012, 2)
    centre = np.array([x, depth, 0.45 * exposed + _u(rng, -50, 50)])
    origin = centre - rot @ np.array([18 * scale[0], 84 * scale[1], 0])
    paper = _u(rng, 0.6, 0.92) * (1 + rng.normal(0, 0.02, 3))
    look = Look(
        albedo=tuple(np.clip(paper, 0, 0.95)),
        rough=_u(rng, 0.08, 0.2) if rng.random() < 0.2 else _u(rng, 0.5, 0.9),
        dirt=abs(rng.normal(0, 0.08)),
    )
    back = rot @ np.array([0, 0, 0.5])
    b.boxes.insert(
        0,
        (
            centre + back,
            rot.T,
            np.array([23.0 * scale[0], 89.0 * scale[1], 0.5]),
            int(Part.CARD),
            b.material(look),
        ),
    )
    fields = {
        "card_rot": rot, "card_origin": origin, "card_curl": np.zeros(2), "card_scale": scale,
        "card_bits": board.cells(number), "card_text": float(number),
    }  # fmt: skip
    return fields, number


def _surroundings(rng: np.random.Generator, photos: int) -> dict[str, Any]:
    f: dict[str, Any] = {}
    env = int(rng.integers(photos))
    up = turn(0, rng.normal(0, 0.35)) @ turn(1, rng.normal(0, 0.35))
    world = (
        np.array([[1.0, 0, 0], [0, 1, 0], [0, 0, rng.choice([-1.0, 1.0])]]) @ turn(2, _u(rng, 0, 6.283)) @ up
    )
    f["env_photo"], f["env_rot"] = env, world
    level = _log(rng, 0.5, 4.0)
    f["env_gain"] = level * (1 + rng.normal(0, 0.12, 3))
    f["env_gamma"] = _u(rng, 0.6, 1.8)
    f["colourful"] = _u(rng, 0.0, 0.6) if rng.random() < 0.7 else _u(rng, 0.4, 1.0)
    dark = rng.normal(size=3)
    f["env_dark"] = [*(dark / np.linalg.norm(dark)), -2.0, 0.1, 1.0]
    if rng.random() < HALF_BLACK_SHARE:
        f["env_dark"][3:] = [_u(rng, -0.4, 0.6), _log(rng, 0.01, 0.4), _u(rng, 0.0, 0.3)]
    lamps, half, rgb = np.zeros((N_LAMPS, 3, 3)), np.full((N_LAMPS, 2), 0.1), np.zeros((N_LAMPS, 3))
    one_line = rng.random() < ONE_LINE_SHARE
    if one_line:  # all else is dark: the card and the ground are lit by the same line
        f["env_gain"] = f["env_gain"] * _log(rng, 0.02, 0.3)
    for i in range(N_LAMPS):
        lamps[i] = random_rotation(rng)
        if one_line and i == 0:  # a tube of light along the shaft, on the viewer's side
            front = np.array([rng.normal(0, 0.8), -1.0, rng.normal(0, 0.3)])
            front /= np.linalg.norm(front)
            along = np.array([rng.normal(0, 0.15), 0.0, 1.0])
            across = np.cross(along, front)
            across /= np.linalg.norm(across)
            lamps[i] = np.stack([front, across, np.cross(front, across)])
            half[i] = [_log(rng, 0.01, 0.12), _log(rng, 0.5, 4.0)]
            rgb[i] = level * _log(rng, 3, 40) * (1 + rng.normal(0, 0.05, 3))
        elif rng.random() < (0.1 if one_line else 0.55):
            half[i] = 10 ** rng.uniform(-1.6, 0.1, 2)
            rgb[i] = level * _log(rng, 0.5, 15) * (1 + rng.normal(0, 0.1, 3))
    f["lamps"], f["lamp_half"], f["lamp_rgb"] = lamps, half, np.clip(rgb, 0, None)
    way = np.array([rng.normal(), -abs(rng.normal()) - 0.2, rng.normal()])
    f["sun_dir"] = way / np.linalg.norm(way)
    f["sun_rgb"] = (level * _log(rng, 0.3, 4.0) if rng.random() < 0.6 else 0.0) * (
        np.array([1.1, 1.0, 0.88]) + rng.normal(0, 0.05, 3)
    )
    f["shade"] = _u(rng, 0.0, 0.5) if rng.random() < 0.3 else _u(rng, 0.4, 1.0)
    f["back_photo"] = env if rng.random() < 0.4 else int(rng.integers(photos))
    f["back_place"] = [
        _log(rng, 0.3, 2.5),
        _u(rng, 0, 2),
        _u(rng, 0, 2),
        _u(rng, -3.14, 3.14),
        abs(rng.normal(0, 0.7)),
    ]
    f["back_gain"] = level * _log(rng, 0.2, 2.0) * (1 + rng.normal(0, 0.08, 3))
    f["behind"] = float(rng.random() < BEHIND_SHARE)
    flat = np.concatenate([any_colour(rng), any_colour(rng)]) * level
    share = 0.0 if rng.random() < 0.75 else _u(rng, 0.5, 1.0)
    if rng.random() < 0.1:  # black behind
        flat, share = rng.uniform(0.0, 0.02, 6), 1.0
    white = rng.random() < WHITE_SHARE  # a studio's white, burnt out
    if white:
        flat, share = level * _u(rng, 1.0, 5.0) * np.ones(6), _u(rng, 0.9, 1.0)
    f["back_flat"] = [*flat, share]
    return f


def _view(rng: np.random.Generator, exposed: float, card_x: float) -> tuple[np.ndarray, np.ndarray, float]:
    distance = float(np.clip(_log(rng, 150, 900), 150, 900))
    az = float(np.clip(rng.normal(0, 0.25), -0.7, 0.7))
    steep = rng.random() < STEEP_SHARE
    el = _u(rng, -0.72, 0.72) if steep else float(np.clip(rng.normal(0, 0.15), -0.5, 0.5))
    target = np.array([0.45 * card_x + rng.normal(0, 8), 0.0, 0.5 * exposed + rng.normal(0, 15)])
    way = np.array([np.sin(az) * np.cos(el), -np.cos(az) * np.cos(el), np.sin(el)])
    return target + distance * way, target, _u(rng, -np.pi, np.pi)


def _frame(rng: np.random.Generator, eye: np.ndarray, exposed: float) -> np.ndarray:
    """Planes through the eye beyond which there is no photograph: most often none is near."""
    planes = np.zeros((4, 4))
    planes[:, 3] = 1.0
    if rng.random() < CUT_SHARE:
        low = rng.random() < 0.5
        z = _u(rng, -40, 0.25 * exposed) if low else _u(rng, 0.75 * exposed, exposed + 40)
        to = np.array([0.0, 0.0, z]) - eye
        across = turn(1, rng.normal(0, 0.25)) @ np.array([1.0, 0, 0])
        n = np.cross(to, across)
        n /= np.linalg.norm(n)
        outward = -1.0 if low else 1.0
        planes[0, :3] = n * np.sign(n[2] * outward)
        planes[0, 3] = 0.0
    return planes


def draw_lathe(seed: int, photos: int = 6, world: World = POOL) -> Drawn:
    """Draw scene `seed` of the second renderer in a world, with `photos` photographs to choose from."""
    rng = np.random.default_rng([seed, 77])
    b = Builder()
    shock = rng.random() < 0.4
    diameter = _u(rng, 6, 24) if shock else _u(rng, 24, 56)
    if rng.random() < 0.6:
        diameter = round(2 * diameter) / 2
    R = 0.5 * diameter
    exposed = _log(rng, 20, 140) if shock else (_u(rng, 50, 215) if rng.random() < 0.8 else _u(rng, 20, 90))
    if not shock and rng.random() < LONG_SHARE:
        exposed = _u(rng, 200, 330)
    shaft = b.material(shaft_look(rng))
    goes_on = rng.random() < GOES_ON_SHARE
    no_shaft = rng.random() < NO_SHAFT_SHARE
    if no_shaft:
        _beam(b, rng, R, exposed)
    else:
        b.stack(0.0, 1.0, R, [(exposed, R, R, shaft)], Part.SHAFT, end_r=R)
    slope = (rng.normal(0, 0.15), rng.normal(0, 0.15)) if rng.random() < 0.06 else (0.0, 0.0)
    coil, most, outer = _coil(b, rng, R, exposed, shock and rng.random() < COIL_SHARE and not no_shaft)
    seal, far = (Part.LEG_SEAL, Part.LEG_CLAMP) if no_shaft else (Part.TUBE, Part.FAR)
    far_slope = slope
    wide = end(b, rng, R, 0.0, -1.0, seal, SEAL_LIKES, shaft_material=shaft, most=most, world=world)
    if goes_on and not no_shaft and not outer:  # a clamp, and the tube beyond it
        far_slope = (0.0, 0.0)
        reach = _log(rng, 12, 75)
        m = b.material(draw_look(rng, rubbery=0.05))
        if rng.random() < 0.5:
            half = [max(R * _u(rng, 1.1, 2.0), R + 2), max(R * _u(rng, 1.1, 1.8), R + 2), 0.5 * reach]
            side = rng.choice([-1, 1]) * 20.0 if rng.random() < 0.4 else 0.0
            b.box(
                [side, 0, exposed + 0.5 * reach],
                turn(2, rng.normal(0, 0.3)),
                [half[0] + abs(side), half[1], half[2]],
                Part.FAR,
                m,
            )
            big = half[0]
        else:
            big, c = max(R * _u(rng, 1.05, 1.9), R + 1), _u(rng, 0, 2)
            b.stack(
                exposed,
                1.0,
                R,
                [
                    (max(c, 0.02), max(big - c, R + 0.2), big, m),
                    (reach, big, big, m),
                    (max(c, 0.02), big, max(big - c, R + 0.2), m),
                ],
                Part.FAR,
            )
        b.stack(exposed + reach, 1.0, R, [(_u(rng, 60, 300), R, R, shaft)], Part.SHAFT)
        wide = max(wide, big)
    else:
        wide = max(
            wide,
            end(
                b,
                rng,
                R,
                exposed,
                1.0,
                far,
                FAR_LIKES,
                slope=slope,
                shaft_material=shaft,
                most=most,
                world=world,
            ),
        )
    wide = max(wide, outer)
    marker, name, width, has, kind = _marker(b, rng, R, exposed, shock, not no_shaft, world.white_weight)
    bands = _bands(rng, exposed, 0.5 if has else 0.85)
    card, number = _card(b, rng, R, exposed, wide)
    card_x = float((card["card_rot"] @ np.array([18.0, 84.0, 0]) + card["card_origin"])[0])
    fingers(b, rng, R, exposed, card_x)
    covers(b, rng, R, exposed, wide)
    lumps(b, rng, R, exposed)
    neighbours(b, rng, R, exposed, wide, card_x)
    fields = _surroundings(rng, photos)
    eye, target, roll = _view(rng, exposed, card_x)
    scene = LatheScene(
        radius=R, exposed=0.01 if no_shaft else exposed, far_slope=far_slope, marker=marker, **b.arrays(), **coil,
        bands=bands,
        scratches=_u(rng, 0, 0.8) if rng.random() < 0.35 else 0.0, **card,
        cls=CLASS_OF_PART.astype(float), **fields, frame=_frame(rng, eye, exposed), gain=1.0,
    )  # fmt: skip
    ev = float(rng.normal(0.0, 0.7) + (rng.normal(-1.5, 0.6) if rng.random() < DUSK_SHARE else 0.0))
    if rng.random() < BURNT_SHARE:
        ev = _u(rng, 0.6, 1.6)
    return Drawn(
        scene=LatheScene(*(np.asarray(v, dtype=np.float32) for v in scene)),  # type: ignore[arg-type]
        layout="bare_shock" if shock else "fork",
        eye_mm=eye.astype(np.float32), target_mm=target.astype(np.float32), roll_rad=roll,
        declared_diameter_mm=round(diameter + rng.normal(0, 0.012), 2), card_number=number,
        marker_kind=kind, marker_colour=name, marker_width_mm=round(width, 1), has_marker=has,
        exposure_ev=ev, seed=seed,
    )  # fmt: skip
