"""A second renderer: turned parts, boxes and rods met in closed form, with photographs as their surroundings.

Its scenes share labels, views and cards with those of `scene` and `shading`, and nothing else: other shapes, other
light, other materials. Two renderers that disagree teach a network more than one. For numpy or jax.numpy.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from . import shapes
from .scene import Part
from .shading import HIGHLIGHT_LIMIT, card_print
from .surroundings import grain

N_FRUSTA, N_FACES, N_BOXES, N_RODS, N_LAMPS, N_BANDS = 80, 72, 16, 24, 4, 10
# Materials are rows of so many numbers; see `Look`.
N_MATERIALS, N_MATERIAL_FIELDS = 40, 26
NOTHING_MM = 1.0e5  # where a ray meets nothing
START_MM = 0.02  # a ray that leaves a surface meets nothing nearer than this
SPRING_STEPS, SPRING_STEP, SPRING_TOLERANCE_MM = 56, 0.9, 0.03
LEAVE_MM = 0.03  # it starts so far before it
MIRROR_FROM, MIRROR_TO = 0.15, 0.45  # between these roughnesses a near thing's picture fades out
UNROLLED = 8  # steps of a loop in one kernel; divides the numbers of solids and of a spring's steps
# Towards where the camera looks, from this cosine on and fully from that: there surroundings are what stands behind.
BEHIND_FROM, BEHIND_TO = 0.1, 0.45


class Look(NamedTuple):
    """One material. Colours are linear RGB; lengths mm."""

    albedo: tuple[float, float, float] = (0.2, 0.2, 0.2)
    rough: float = 0.5
    metal: float = 0.0
    second: tuple[float, float, float] = (0.2, 0.2, 0.2)  # colour of rings and letters
    second_rough: float = 0.5
    second_metal: float = 0.0
    ring_mm: float = 0.0  # period of rings along the axis; 0: none
    ring_share: float = 0.5
    ring_phase_mm: float = 0.0
    letter_mm: float = 0.0  # size of the blocks that stand for letters; 0: none
    letter_share: float = 0.5
    letter_low_mm: float = 0.0  # between which places along the axis they stand
    letter_high_mm: float = 0.0
    dirt: float = 0.0
    dirt_per_mm: float = 0.2
    groove: float = 0.0  # slope of turned grooves
    groove_mm: float = 1.0
    flutes: float = 0.0  # how many round the axis
    flute: float = 0.0  # their slope
    streak: float = 0.0  # brightness that changes along the axis only, as brushed metal's


class LatheScene(NamedTuple):
    """One scene: lengths in mm, shaft frame (seal's edge at z = 0, far end at z = exposed, viewer at -y)."""

    radius: Any
    exposed: Any
    far_slope: Any  # (2,) of the far end's plane, at exposed + slope . (x, y)
    marker: Any  # (6,) as `scene.Scene.marker`
    frusta: Any  # (N_FRUSTA, 10) z low, z high, radii there, axis at x, y, slopes of its end planes, part, material
    faces: Any  # (N_FACES, 9) z, radius inside, outside, axis at x, y, slopes, part, material
    box_centre: Any  # (N_BOXES, 3)
    box_rot: Any  # (N_BOXES, 3, 3) shaft frame -> box frame
    box_half: Any  # (N_BOXES, 3); negative: none
    box_is: Any  # (N_BOXES, 2) part, material
    rod_a: Any  # (N_RODS, 3) ends of round rods
    rod_b: Any
    rod_r: Any  # (N_RODS,); 0: none
    rod_is: Any  # (N_RODS, 2)
    spring: Any  # (7,) as `scene.Scene.spring`; no turns: none
    spring_is: Any  # (2,)
    materials: Any  # (N_MATERIALS, N_MATERIAL_FIELDS)
    bands: Any  # (N_BANDS, 9) look-alike rings on the shaft, as `scene.Scene.rings`
    scratches: Any
    card_rot: Any
    card_origin: Any
    card_curl: Any
    card_scale: Any
    card_bits: Any
    card_text: Any
    cls: Any  # as `scene.Scene.cls`
    env_photo: Any  # which photograph the parts mirror
    env_rot: Any  # (3, 3) shaft frame -> its frame
    env_gain: Any  # (3,)
    env_gamma: Any
    colourful: Any  # how much of the photographs' colour is left
    env_dark: Any  # (6,) direction, from where, softness, what is left: a dark half of the surroundings
    lamps: Any  # (N_LAMPS, 3, 3) rows: centre, across, up
    lamp_half: Any  # (N_LAMPS, 2) tangents
    lamp_rgb: Any  # (N_LAMPS, 3)
    sun_dir: Any
    sun_rgb: Any
    shade: Any  # how much neighbouring parts darken corners, 0 to 1
    back_photo: Any  # which photograph stands behind
    back_place: Any  # (5,) zoom, place across, up, turn (rad), level of blur
    back_gain: Any  # (3,)
    behind: Any  # how much of what stands behind is also what parts mirror there, 0 or 1
    back_flat: Any  # (7,) colours below and above, and the share of these in place of the photograph
    frame: Any  # (4, 4) planes through the eye: what lies beyond n.d > c is outside the photograph
    gain: Any


Bank = list[Any]  # photographs, linear: (photos, h, w, 3) at each level of blur, sharpest first


def _over(count: int, step: Callable[[Any, Any], Any], state: Any, xp: Any) -> Any:
    """`step(i, state)` for i from 0 to `count`, a plain number: GPUs wait in loops of unknown length.

    Several steps make one kernel: of one step each, some 600 a scene, a GPU mostly starts them.
    """
    if xp is np:
        for i in range(count):
            state = step(i, state)
        return state
    import jax

    return jax.lax.fori_loop(0, count, step, state, unroll=UNROLLED)


def _frustum(f: Any, o: Any, d: Any, xp: Any) -> Any:
    """Ray length (N,) to a cone frustum's flank; its end planes may slope."""
    x, y = o[0] - f[4], o[1] - f[5]
    z = o[2] - f[6] * x - f[7] * y
    dz = d[2] - f[6] * d[0] - f[7] * d[1]
    k = (f[3] - f[2]) / xp.maximum(f[1] - f[0], 1e-4)
    here, per = f[2] + k * (z - f[0]), k * dz
    a = d[0] * d[0] + d[1] * d[1] - per * per
    b = x * d[0] + y * d[1] - here * per
    # (x - r)(x + r) instead of x^2 - r^2 keeps a few digits more
    r = xp.sqrt(x * x + y * y)
    root = b * b - a * (r - here) * (r + here)
    half = xp.sqrt(xp.maximum(root, 0.0))
    a = xp.where(xp.abs(a) < 1e-9, 1e-9, a)

    def met(t: Any) -> Any:
        at = z + t * dz
        good = (root > 0) & (t > START_MM) & (at >= f[0]) & (at <= f[1]) & (here + t * per > 0)
        return xp.where(good, t, NOTHING_MM)

    return xp.minimum(met((-b - half) / a), met((-b + half) / a))


def _face(f: Any, o: Any, d: Any, xp: Any) -> Any:
    """Ray length (N,) to a ring-shaped face."""
    x, y = o[0] - f[3], o[1] - f[4]
    z = o[2] - f[5] * x - f[6] * y
    dz = d[2] - f[5] * d[0] - f[6] * d[1]
    t = (f[0] - z) / xp.where(xp.abs(dz) < 1e-9, 1e-9, dz)
    r = xp.hypot(x + t * d[0], y + t * d[1])
    return xp.where((t > START_MM) & (r >= f[1]) & (r <= f[2]), t, NOTHING_MM)


def _box(centre: Any, rot: Any, half: Any, o: Any, d: Any, xp: Any) -> Any:
    """Ray length (N,) to a box, from outside."""
    near, far = -NOTHING_MM + 0.0 * o[0], NOTHING_MM + 0.0 * o[0]
    x, y, z = (o[i] - centre[i] for i in range(3))
    for k in range(3):
        at = rot[k, 0] * x + rot[k, 1] * y + rot[k, 2] * z
        way = rot[k, 0] * d[0] + rot[k, 1] * d[1] + rot[k, 2] * d[2]
        way = xp.where(xp.abs(way) < 1e-9, 1e-9, way)
        one, other = (-half[k] - at) / way, (half[k] - at) / way
        near, far = xp.maximum(near, xp.minimum(one, other)), xp.minimum(far, xp.maximum(one, other))
    return xp.where((near < far) & (near > START_MM) & (half[0] > 0), near, NOTHING_MM)


def _rod(a: Any, b: Any, radius: Any, o: Any, d: Any, xp: Any) -> Any:
    """Ray length (N,) to a round rod with round ends, from outside."""
    ab = b - a
    length = xp.sqrt((ab * ab).sum()) + 1e-6
    w = ab / length
    ox, oy, oz = (o[i] - a[i] for i in range(3))
    along, dw = ox * w[0] + oy * w[1] + oz * w[2], d[0] * w[0] + d[1] * w[1] + d[2] * w[2]
    px, py, pz = ox - along * w[0], oy - along * w[1], oz - along * w[2]
    qx, qy, qz = d[0] - dw * w[0], d[1] - dw * w[1], d[2] - dw * w[2]
    aa = xp.maximum(qx * qx + qy * qy + qz * qz, 1e-9)
    bb = px * qx + py * qy + pz * qz
    root = bb * bb - aa * (px * px + py * py + pz * pz - radius * radius)
    t = (-bb - xp.sqrt(xp.maximum(root, 0.0))) / aa
    at = along + t * dw
    best = xp.where((root > 0) & (t > START_MM) & (at > 0) & (at < length), t, NOTHING_MM)
    for s in (0.0, length):
        cx, cy, cz = ox - s * w[0], oy - s * w[1], oz - s * w[2]
        b1 = cx * d[0] + cy * d[1] + cz * d[2]
        root = b1 * b1 - (cx * cx + cy * cy + cz * cz - radius * radius)
        t = -b1 - xp.sqrt(xp.maximum(root, 0.0))
        best = xp.minimum(best, xp.where((root > 0) & (t > START_MM), t, NOTHING_MM))
    return xp.where(radius > 0, best, NOTHING_MM)


def _spring(scene: LatheScene, o: Any, d: Any, xp: Any) -> Any:
    """Ray length (N,) to the coil spring, by small steps from where its outline is entered."""
    outer = scene.spring[0] + scene.spring[1] + 0.5
    a = xp.maximum(d[0] * d[0] + d[1] * d[1], 1e-9)
    b = o[0] * d[0] + o[1] * d[1]
    root = b * b - a * (o[0] * o[0] + o[1] * o[1] - outer * outer)
    half = xp.sqrt(xp.maximum(root, 0.0))
    leave = (-b + half) / a

    def gap(t: Any) -> Any:
        p = o + t * d
        return shapes.spring(p, xp.hypot(p[0], p[1]), scene, xp)  # type: ignore[arg-type]

    def step(_: Any, t: Any) -> Any:
        return t + SPRING_STEP * xp.maximum(gap(t), 0.0) * (t < leave)

    start = xp.maximum((-b - half) / a, START_MM)
    t = _over(SPRING_STEPS, step, start, xp)
    met = (root > 0) & (t < leave) & (gap(t) < SPRING_TOLERANCE_MM)
    return xp.where(met, t, NOTHING_MM)


def _spring_if_any(scene: LatheScene, o: Any, d: Any, xp: Any) -> Any:
    if xp is np:
        return _spring(scene, o, d, np) if scene.spring[4] > 0 else np.full_like(o[0], NOTHING_MM)
    import jax

    return jax.lax.cond(
        scene.spring[4] > 0, lambda: _spring(scene, o, d, xp), lambda: xp.full_like(o[0], NOTHING_MM)
    )


def meet(scene: LatheScene, o: Any, d: Any, xp: Any) -> tuple[Any, Any]:
    """Lengths (N,) of rays (3, N) to what they meet first, and which solid that is: -1 none, else counted through
    frusta, faces, boxes and rods, the spring last."""
    state = (xp.full_like(o[0], NOTHING_MM), xp.full(o[0].shape, -1, dtype=xp.int32))
    kinds: list[tuple[Any, Callable[[Any], Any]]] = [
        (scene.frusta[:, 1] > scene.frusta[:, 0], lambda i: _frustum(scene.frusta[i], o, d, xp)),
        (scene.faces[:, 2] > scene.faces[:, 1], lambda i: _face(scene.faces[i], o, d, xp)),
        (
            scene.box_half[:, 0] > 0,
            lambda i: _box(scene.box_centre[i], scene.box_rot[i], scene.box_half[i], o, d, xp),
        ),
        (scene.rod_r > 0, lambda i: _rod(scene.rod_a[i], scene.rod_b[i], scene.rod_r[i], o, d, xp)),
    ]
    first = 0
    for there, length in kinds:

        def step(i: Any, state: Any, length: Any = length, first: int = first) -> Any:
            t = length(i)
            nearer = t < state[0]
            return xp.where(nearer, t, state[0]), xp.where(nearer, i + first, state[1])

        if xp is np:  # most places are empty
            for i in np.flatnonzero(there):
                state = step(int(i), state)
        else:
            state = _over(len(there), step, state, xp)
        first += len(there)
    coil = _spring_if_any(scene, o, d, xp)
    nearer = coil < state[0]
    return xp.where(nearer, coil, state[0]), xp.where(nearer, first, state[1]).astype(xp.int32)


def normals(scene: LatheScene, p: Any, which: Any, d: Any, xp: Any) -> Any:
    """Return unit normals (3, N), turned towards the viewer, at points `p` (3, N) of solids `which` (N,)."""
    f = scene.frusta[xp.clip(which, 0, N_FRUSTA - 1)]
    x, y = p[0] - f[:, 4], p[1] - f[:, 5]
    r = xp.maximum(xp.hypot(x, y), 1e-6)
    k = (f[:, 3] - f[:, 2]) / xp.maximum(f[:, 1] - f[:, 0], 1e-4)
    n = xp.stack([x / r + k * f[:, 6], y / r + k * f[:, 7], -k])
    g = scene.faces[xp.clip(which - N_FRUSTA, 0, N_FACES - 1)]
    n = xp.where(which >= N_FRUSTA, xp.stack([-g[:, 5], -g[:, 6], 1.0 + 0.0 * x]), n)
    i = xp.clip(which - N_FRUSTA - N_FACES, 0, N_BOXES - 1)
    rot, at = scene.box_rot[i], p.T - scene.box_centre[i]
    local = (rot * at[:, None, :]).sum(2) / xp.maximum(scene.box_half[i], 1e-3)
    size = xp.abs(local)
    top = xp.argmax(size, axis=1)
    mine = (xp.arange(3)[None, :] == top[:, None]) * xp.sign(local)
    n = xp.where(which >= N_FRUSTA + N_FACES, (rot * mine[:, :, None]).sum(1).T, n)
    j = xp.clip(which - N_FRUSTA - N_FACES - N_BOXES, 0, N_RODS - 1)
    a, b = scene.rod_a[j].T, scene.rod_b[j].T
    ab = b - a
    s = xp.clip(((p - a) * ab).sum(0) / xp.maximum((ab * ab).sum(0), 1e-6), 0.0, 1.0)
    n = xp.where(which >= N_FRUSTA + N_FACES + N_BOXES, p - a - s * ab, n)
    coil = 0.0 * p
    for tap in ((1, -1, -1), (-1, -1, 1), (-1, 1, -1), (1, 1, 1)):  # corners of a tetrahedron: a gradient
        way = xp.array(tap, dtype=p.dtype)[:, None]
        q = p + 0.05 * way
        coil = coil + way * shapes.spring(q, xp.hypot(q[0], q[1]), scene, xp)  # type: ignore[arg-type]
    n = xp.where(which >= N_FRUSTA + N_FACES + N_BOXES + N_RODS, coil, n)
    n = n / xp.maximum(xp.sqrt((n * n).sum(0)), 1e-9)
    return xp.where((n * d).sum(0) > 0, -n, n)


def _identity(scene: LatheScene, which: Any, xp: Any) -> tuple[Any, Any]:
    """Part (of `Part`) and material of each solid met; -1: the sky."""
    part = xp.concatenate(
        [scene.frusta[:, 8], scene.faces[:, 7], scene.box_is[:, 0], scene.rod_is[:, 0], scene.spring_is[:1]]
    )
    material = xp.concatenate(
        [scene.frusta[:, 9], scene.faces[:, 8], scene.box_is[:, 1], scene.rod_is[:, 1], scene.spring_is[1:]]
    )
    safe = xp.maximum(which, 0)
    parts = xp.where(which < 0, int(Part.SKY), part[safe].astype(xp.int32))
    return parts.astype(xp.int32), material[safe].astype(xp.int32)


def _photo(bank: Bank, index: Any, u: Any, v: Any, level: Any, xp: Any) -> Any:
    """Look up a photograph's colour (3, N) at places in 0..1, mirrored beyond, at a level of blur (N,)."""
    total: Any = 0.0
    for n, pictures in enumerate(bank):
        picture = pictures[xp.asarray(index).astype(xp.int32)]
        h, w = picture.shape[:2]
        weight = xp.clip(1.0 - xp.abs(level - n), 0.0, 1.0)
        x = xp.abs(xp.mod(u, 2.0) - 1.0) * (w - 1)
        y = xp.abs(xp.mod(v, 2.0) - 1.0) * (h - 1)
        i, j = (
            xp.clip(xp.floor(y).astype(xp.int32), 0, h - 2),
            xp.clip(xp.floor(x).astype(xp.int32), 0, w - 2),
        )
        fy, fx = (y - i)[:, None], (x - j)[:, None]
        top = picture[i, j] * (1 - fx) + picture[i, j + 1] * fx
        low = picture[i + 1, j] * (1 - fx) + picture[i + 1, j + 1] * fx
        total = total + weight * (top * (1 - fy) + low * fy).T
    return total


def _greyed(photo: Any, colourful: Any) -> Any:
    grey = (photo[0] + photo[1] + photo[2]) / 3
    return grey + colourful * (photo - grey)


def _lamps(scene: LatheScene, w: Any, soft: Any, xp: Any) -> Any:
    light: Any = 0.0
    for i in range(N_LAMPS):
        c, u, v = scene.lamps[i]
        front = c @ w
        safe = xp.maximum(front, 0.05)
        cover = 1.0
        for half, way in ((scene.lamp_half[i, 0], u), (scene.lamp_half[i, 1], v)):
            cover = cover * xp.clip((half - xp.abs(way @ w) / safe) / soft + 0.5, 0.0, 1.0)
            cover = cover * half / xp.maximum(half, soft)
        light = light + scene.lamp_rgb[i][:, None] * (cover * (front > 0.05))
    return light


def radiance(scene: LatheScene, d: Any, rough: Any, bank: Bank, xp: Any) -> Any:
    """Light (3, N) from far away along `d` (3, N), blurred by roughness (N,)."""
    w = scene.env_rot @ d
    u = xp.arctan2(w[1], w[0]) / np.pi
    v = 0.5 - 0.5 * w[2]
    level = xp.clip(xp.sqrt(rough) * (len(bank) - 1) * 1.25 - 0.3, 0.0, len(bank) - 1.0)
    photo = _greyed(_photo(bank, scene.env_photo, u, v, level, xp), scene.colourful)
    light = scene.env_gain[:, None] * xp.maximum(photo, 0.0) ** scene.env_gamma
    dark = scene.env_dark
    soft = dark[4] + rough
    lit = xp.clip((dark[:3] @ w - dark[3]) / soft + 0.5, 0.0, 1.0)
    light = light * (dark[5] + (1.0 - dark[5]) * lit)
    # A silhouette's rim mirrors what stands beside it in the picture: a tube of the same colour looks narrower.
    share = scene.behind * xp.clip((d[1] - BEHIND_FROM) / (BEHIND_TO - BEHIND_FROM), 0.0, 1.0)
    light = light * (1.0 - share) + _background(scene, d, bank, xp, 3.0 * xp.sqrt(rough) - 0.3) * share
    return light + _lamps(scene, w, 0.01 + 1.2 * rough * rough + 0.1 * rough, xp)


def _background(scene: LatheScene, d: Any, bank: Bank, xp: Any, blur: Any = 0.0) -> Any:
    zoom, x0, y0, turn, level = (scene.back_place[i] for i in range(5))
    forward = xp.maximum(d[1], 0.2)
    a, b = d[0] / forward, d[2] / forward
    u = x0 + zoom * (xp.cos(turn) * a - xp.sin(turn) * b)
    v = y0 + zoom * (xp.sin(turn) * a + xp.cos(turn) * b)
    photo = _greyed(
        _photo(bank, scene.back_photo, u, v, xp.maximum(level, blur) + 0.0 * u, xp), scene.colourful
    )
    photo = scene.back_gain[:, None] * photo
    height = xp.clip(0.5 + 0.7 * b, 0.0, 1.0)
    flat = scene.back_flat[0:3, None] * (1 - height) + scene.back_flat[3:6, None] * height
    return photo * (1 - scene.back_flat[6]) + flat * scene.back_flat[6]


class _Surface(NamedTuple):
    albedo: Any
    rough: Any
    metal: Any
    n: Any


def _surface(scene: LatheScene, p: Any, n: Any, which: Any, xp: Any) -> _Surface:
    """Colours and the normal that grooves leave; rings, letters and grooves are on turned parts alone."""
    part, material = _identity(scene, which, xp)
    m = scene.materials[material].T
    turned = which < N_FRUSTA
    albedo, rough, metal = m[0:3], m[3], m[4]
    second, second_rough, second_metal = m[5:8], m[8], m[9]
    angle = xp.arctan2(p[1], p[0])
    z = p[2]
    ring = xp.where(m[10] > 0, xp.mod(z + m[12], xp.maximum(m[10], 1e-3)) < m[10] * m[11], False)
    cell = xp.maximum(m[13], 0.2)
    i, j = xp.floor(z / cell), xp.floor(angle * scene.radius / (0.7 * cell))
    block = xp.sin(i * 12.99 + j * 78.23 + m[13] * 3.1) * 43758.5
    block = block - xp.floor(block)
    letter = (m[13] > 0) & (block < m[14]) & (z > m[15]) & (z < m[16])
    other = ((ring | letter) & turned).astype(albedo.dtype)
    albedo = albedo * (1 - other) + second * other
    rough = rough * (1 - other) + second_rough * other
    metal = metal * (1 - other) + second_metal * other
    streak = grain(z * 6.0, z * 0.0 + 3.0, z * 0.0, xp) - 0.5
    albedo = albedo * (1.0 + m[23] * streak)
    scale = m[18]
    big = grain(p[0] * scale + 7.0, p[1] * scale, z * scale, xp)
    fine = grain(p[0] * scale * 7, p[1] * scale * 7 + 3.0, z * scale * 7, xp)
    grime = xp.clip(m[17] * (1.3 * big * big + 0.7 * fine * fine - 0.2), 0.0, 0.8)
    dust = xp.array([0.30, 0.25, 0.19], dtype=albedo.dtype)[:, None]
    albedo = albedo * (1 - grime) + dust * grime
    rough = rough + 0.4 * grime
    metal = metal * (1 - 0.8 * grime)
    on_shaft = part == int(Part.SHAFT)
    speck = grain(p[0] * 2.3, p[1] * 2.3, z * 1.1 + 11.0, xp)
    marks = xp.where(on_shaft, scene.scratches * xp.clip((speck * fine - 0.62) * 8.0, 0.0, 1.0), 0.0)
    albedo, rough = albedo * (1 - marks) + 0.6 * marks, rough + 0.4 * marks
    for k in range(N_BANDS):
        s, half, edge, opacity = (scene.bands[k, c] for c in range(4))
        turn = angle / 6.2831853 + 0.5
        wobble = edge * 2.0 * (grain(turn * 9.0 + k, z * 0.2, z * 0.0 + k, xp) - 0.5)
        cover = xp.clip((half - xp.abs(z - s + wobble)) / (edge + 0.05) + 0.5, 0.0, 1.0)
        turn = xp.mod(turn + s * 0.37, 1.0)
        cover = xp.where(on_shaft & (turn <= scene.bands[k, 8]), cover * opacity, 0.0)
        albedo = albedo * (1.0 - cover) + scene.bands[k, 4:7][:, None] * cover
        rough = rough * (1.0 - cover) + scene.bands[k, 7] * cover
        metal = metal * (1.0 - 0.7 * cover)
    printed = card_print(scene, p, xp)  # type: ignore[arg-type]  # the card's fields are named alike
    ink = xp.where(part == int(Part.CARD), printed, 1.0)
    albedo = albedo * (0.045 + 0.955 * ink)
    groove = turned * m[19] * xp.cos(6.2831853 * z / xp.maximum(m[20], 0.05))
    flute = turned * m[22] * xp.sin(m[21] * angle)
    zero = xp.zeros_like(z)
    bent = n + xp.stack([zero, zero, groove]) + xp.stack([-xp.sin(angle), xp.cos(angle), zero]) * flute
    bent = bent / xp.maximum(xp.sqrt((bent * bent).sum(0)), 1e-6)
    return _Surface(albedo, xp.clip(rough, 0.02, 1.0), metal, bent)


def _openness(scene: LatheScene, p: Any, n: Any, xp: Any) -> Any:
    """Share (N,) of the sky that wider turned parts on the same axis leave open."""
    r = xp.maximum(xp.hypot(p[0], p[1]), 1e-3)
    outward = xp.clip((n[0] * p[0] + n[1] * p[1]) / r, 0.0, 1.0)

    def step(i: Any, free: Any) -> Any:
        f = scene.frusta[i]
        height = xp.maximum(f[2], f[3]) - r
        away = xp.maximum(xp.maximum(f[0] - p[2], p[2] - f[1]), 0.0)
        shut = 0.5 * (1.0 - away / xp.maximum(xp.hypot(away, height), 1e-3))
        mine = (height > 0.15) & (xp.abs(f[4]) + xp.abs(f[5]) < 1e-3)
        return free * xp.where(mine, 1.0 - shut * outward, 1.0)

    free = _over(N_FRUSTA, step, xp.ones_like(r), xp)
    return xp.maximum(1.0 - scene.shade * (1.0 - free), 0.03)


def _lit(
    scene: LatheScene, p: Any, d: Any, s: _Surface, sun: Any, bank: Bank, xp: Any
) -> tuple[Any, Any, Any, Any]:
    """Light (3, N) that surfaces send back themselves, what they mirror (3, N), and where to (3, N)."""
    free = _openness(scene, p, s.n, xp)
    rough_sky = radiance(scene, s.n, xp.ones_like(p[0]), bank, xp)
    facing = xp.maximum((s.n * scene.sun_dir[:, None]).sum(0), 0.0) * sun
    light = rough_sky * free + scene.sun_rgb[:, None] * facing
    diffuse = s.albedo * (1.0 - s.metal) * light
    f0 = 0.04 * (1.0 - s.metal) + s.albedo * s.metal
    fresnel = (1.0 - xp.maximum(-(d * s.n).sum(0), 0.0)) ** 5
    grazing = (1.0 - 0.5 * s.rough * s.rough) ** 5
    spec = f0 + (xp.maximum(grazing, f0) - f0) * fresnel
    half = scene.sun_dir[:, None] - d
    half = half / xp.maximum(xp.sqrt((half * half).sum(0)), 1e-6)
    a2 = s.rough**4 + 2e-4
    nh = xp.maximum((s.n * half).sum(0), 0.0)
    lobe = a2 / (3.1416 * (nh * nh * (a2 - 1.0) + 1.0) ** 2)
    glint = scene.sun_rgb[:, None] * xp.minimum(0.25 * lobe, 30.0) * facing
    spec = spec * (1.0 - s.rough * (1.0 - free))
    return diffuse + spec * glint, spec, d - 2.0 * (d * s.n).sum(0) * s.n, free


def look(scene: LatheScene, eye_mm: Any, directions: Any, xp: Any, bank: Bank) -> tuple[Any, Any, Any]:
    """Trace rays from one point, as `shading.look` does: colour (N, 3), part (N,), distance (N,).

    Parameters
    ----------
    eye_mm : (3,) the camera's centre, shaft frame.
    directions : (N, 3) unit vectors.
    bank : list of arrays
        Photographs to stand behind and to be mirrored, see `photo_bank`.
    """
    d = directions.T
    o = xp.broadcast_to(eye_mm[:, None], d.shape).astype(d.dtype)
    t, which = meet(scene, o, d, xp)
    part, _ = _identity(scene, which, xp)
    p = o + xp.minimum(t, 5000.0) * d
    n = normals(scene, p, which, d, xp)
    s = _surface(scene, p, n, which, xp)
    start = p + LEAVE_MM * n
    shadow, _ = meet(scene, start + 0.3 * n, xp.broadcast_to(scene.sun_dir[:, None], d.shape), xp)
    own, spec, mirrored, _ = _lit(scene, p, d, s, (shadow >= NOTHING_MM) * 1.0, bank, xp)
    t2, which2 = meet(scene, start, mirrored, xp)
    p2 = start + xp.minimum(t2, 5000.0) * mirrored
    s2 = _surface(scene, p2, normals(scene, p2, which2, mirrored, xp), which2, xp)
    own2, spec2, mirrored2, _ = _lit(scene, p2, mirrored, s2, 0.6, bank, xp)
    near = own2 + spec2 * radiance(scene, mirrored2, s2.rough, bank, xp)
    keep = (which2 >= 0) * (
        1.0 - 0.7 * xp.clip((s.rough - MIRROR_FROM) / (MIRROR_TO - MIRROR_FROM), 0.0, 1.0)
    )
    picture = keep * near + (1.0 - keep) * radiance(scene, mirrored, s.rough, bank, xp)
    colour = xp.where(which >= 0, own + spec * picture, _background(scene, d, bank, xp))
    outside = ((scene.frame[:, :3] @ d) > scene.frame[:, 3:4]).any(0)
    colour = xp.where(outside, 0.0, xp.minimum(scene.gain * colour, HIGHLIGHT_LIMIT))
    part = xp.where(outside, int(Part.SKY), part)
    return colour.T, part.astype(xp.int32), t
