"""What a ray sees: linear colour and part, with shadows and two mirror bounces."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any, NamedTuple

import numpy as np

from . import surroundings, tracing
from .scene import Part, Scene
from .shapes import CARD_CENTRE_MM, CARD_HALF_THICK_MM, to_card

REACH_MM = 3000.0
SAMPLES = ((-0.375, -0.125), (0.125, -0.375), (0.375, 0.125), (-0.125, 0.375))  # rotated grid, pixel units
HIGHLIGHT_LIMIT = 12.0  # a single sample's radiance, so that one glint does not fill a pixel
BOUNCES = 2
TRACE_STEPS = (96, 40, 28)  # of the first ray and of each reflection
SHADOW_STEPS = (28, 14, 0)
FAINT = 0.05  # numpy: a reflection weaker than this is not traced
MIRROR_ROUGHNESS = 0.45  # rougher than this, a surface shows only the far surroundings
CHUNK_RAYS = 49152  # numpy: few enough for the caches, enough to spread the interpreter's overhead


def wall_distance(scene: Scene, o: Any, d: Any, xp: Any) -> Any:
    """Length (N,) of rays to the wall; `REACH_MM` where there is none."""
    n, offset = scene.wall[:3], scene.wall[3]
    toward = -(n @ d)
    t = (n @ o - offset) / xp.maximum(toward, 1e-6)
    x, half_x, z, half_z = (scene.wall_box[i] for i in range(4))
    within = (xp.abs(o[0] + t * d[0] - x) < half_x) & (xp.abs(o[2] + t * d[2] - z) < half_z)
    return xp.where(within & (toward > 1e-3) & (scene.on[Part.WALL] > 0.5) & (t > 0), t, REACH_MM)


def card_print(scene: Scene, p: Any, xp: Any) -> Any:
    """Reflectance (N,) of the card's face: 1 paper, 0 ink. Squares 12 mm, markers 9 mm of 7 x 7 cells."""
    x, y, z = to_card(p, scene, xp)
    x, y = x / scene.card_scale[0], y / scene.card_scale[1]
    col = xp.clip(xp.floor(x / 12.0), 0, 2).astype(xp.int32)
    row = xp.clip(xp.floor(y / 12.0), 0, 13).astype(xp.int32)
    inside = (x > 0) & (x < 36.0) & (y > 0) & (y < 168.0)
    black = (col + row) % 2 == 0  # the top-left square of row 0 is black
    u = x - 12.0 * col - 1.5
    v = y - 12.0 * row - 1.5
    in_marker = (u > 0) & (u < 9.0) & (v > 0) & (v < 9.0)
    i = xp.clip(xp.floor(v * (7.0 / 9.0)), 0, 6).astype(xp.int32)
    j = xp.clip(xp.floor(u * (7.0 / 9.0)), 0, 6).astype(xp.int32)
    bit = scene.card_bits[row, col, i, j]
    white = xp.where(black, 0.0, xp.where(in_marker, bit, 1.0))
    # margin: an arrow at row 0's end, a few strokes standing for the number at the other
    arrow = (y > -4.4) & (y < -0.8) & (xp.abs(x - 18.0) < 0.6 * (y + 4.4))
    cell = xp.floor(x / 0.7) * 3.0 + xp.floor(y / 0.9) * 7.0 + scene.card_text
    strokes = (y > 169.2) & (y < 171.8) & (xp.abs(x - 18.0) < 5.5) & (xp.sin(cell * 12.99) > -0.1)
    margin = xp.where(arrow | strokes, 0.0, 1.0)
    white = xp.where(inside, white, margin)
    cx, cy = (x - CARD_CENTRE_MM[0]) * scene.card_scale[0], (y - CARD_CENTRE_MM[1]) * scene.card_scale[1]
    bend = scene.card_curl[0] * cx * cx + scene.card_curl[1] * cy * cy
    return xp.where(z - bend < CARD_HALF_THICK_MM, white, 0.8)  # behind: plain board


def _surface(scene: Scene, p: Any, part: Any, xp: Any) -> tuple[Any, Any, Any]:
    """Albedo (3, N), roughness (N,) and metalness (N,) at surface points."""
    albedo = scene.albedo[part].T
    rough = scene.rough[part]
    metal = scene.metal[part]
    dirt = scene.dirt[part]
    big = surroundings.grain(p[0] * 0.13 + 7.0, p[1] * 0.13, p[2] * 0.13, xp)
    fine = surroundings.grain(p[0] * 0.9, p[1] * 0.9 + 3.0, p[2] * 0.9, xp)
    grime = xp.clip(dirt * (1.3 * big * big + 0.7 * fine * fine - 0.2), 0.0, 0.7)
    speck = surroundings.grain(p[0] * 2.3, p[1] * 2.3, p[2] * 1.1 + 11.0, xp)
    on_shaft = (part == Part.SHAFT) | (part == Part.LEG_SHAFT)
    marks = xp.where(on_shaft, scene.scratches * xp.clip((speck * fine - 0.62) * 8.0, 0.0, 1.0), 0.0)
    rough = xp.clip(rough + 0.35 * grime + 0.4 * marks, 0.02, 1.0)
    ink = xp.where(part == Part.CARD, card_print(scene, p, xp), 1.0)
    albedo = albedo * (0.045 + 0.955 * ink)
    dust = xp.array([0.30, 0.25, 0.19], dtype=xp.float32)[:, None]
    albedo = albedo * (1.0 - grime) + dust * grime
    albedo = albedo * (1.0 - marks) + 0.6 * marks
    metal = metal * (1.0 - 0.8 * grime)
    edge_mm, edge_albedo, edge_rough = (scene.lip_edge[i] for i in range(3))
    on_edge = (part == Part.LIP) & (p[2] > -edge_mm)
    albedo = xp.where(on_edge, xp.clip(albedo * edge_albedo, 0.0, 0.9), albedo)
    rough = xp.where(on_edge, edge_rough, rough)
    # look-alike rings: colour without thickness
    angle = xp.arctan2(p[1], p[0]) / 6.2831853 + 0.5
    for i in range(scene.rings.shape[0]):
        s, half, edge, opacity = (scene.rings[i, j] for j in range(4))
        wobble = edge * 2.0 * (surroundings.grain(angle * 9.0 + i, p[2] * 0.2, p[2] * 0.0 + i, xp) - 0.5)
        cover = xp.clip((half - xp.abs(p[2] - s + wobble)) / (edge + 0.05) + 0.5, 0.0, 1.0)
        turn = angle + s * 0.37
        turn = turn - xp.floor(turn)
        cover = xp.where(on_shaft & (turn <= scene.rings[i, 8]), cover * opacity, 0.0)
        albedo = albedo * (1.0 - cover) + scene.rings[i, 4:7][:, None] * cover
        rough = rough * (1.0 - cover) + scene.rings[i, 7] * cover
        metal = metal * (1.0 - 0.7 * cover)
    return albedo, rough, metal


def _light(scene: Scene, p: Any, eye: Any, xp: Any) -> tuple[Any, Any]:
    """Direction to the key light (3, N) and its distance (N,)."""
    flash = scene.light_flash > 0.5
    to_eye = eye - p
    far = xp.sqrt((to_eye * to_eye).sum(0))
    l_dir = xp.where(flash, to_eye / xp.maximum(far, 1e-6), scene.light_dir[:, None])
    return l_dir, xp.where(flash, far, REACH_MM)


def _shaft_mirror(scene: Scene, xp: Any) -> Any:
    """Share of light that the shaft gives back as a mirror does, at the middling angles at which most arrives."""
    metal, rough = scene.metal[Part.SHAFT], scene.rough[Part.SHAFT]
    share = scene.albedo[Part.SHAFT].mean() * metal + 0.08 * (1.0 - metal)
    return share * xp.clip(1.2 - 2.0 * rough, 0.0, 1.0)


def _by_the_shaft(scene: Scene, p: Any, n: Any, part: Any, l_dir: Any, xp: Any) -> Any:
    """Light (N,) that a mirroring shaft throws on what stands round it, against the light on a facing surface."""
    r = xp.maximum(xp.sqrt(p[0] * p[0] + p[1] * p[1]), 1e-3)
    outward = xp.stack([p[0] / r, p[1] / r, xp.zeros_like(r)])
    out = (l_dir * outward).sum(0)
    # The light's picture in the tube stands on the other side of the tangent plane; a convex mirror spreads it.
    picture = l_dir - 2.0 * out * outward
    height = xp.maximum(r - scene.radius, 0.0)
    spread = scene.radius / (scene.radius + 2.0 * height / xp.maximum(out, 0.1))
    beside = (p[2] > -0.2) & (p[2] < scene.exposed + 0.2) & (part != Part.SHAFT) & (r < 3.0 * scene.radius)
    return xp.where(beside & (out > 0.0), xp.maximum((n * picture).sum(0), 0.0) * spread, 0.0)


class _Paths(NamedTuple):
    """Rays under way: origins, directions (3, N), what they carry (3, N), the last surface's roughness."""

    o: Any
    d: Any
    carry: Any
    rough: Any


class _Hits(NamedTuple):
    """Surface points: positions, ray directions, parts (N,), light carried, eyes; (3, N) except the parts."""

    p: Any
    d: Any
    part: Any
    carry: Any
    eye: Any


def _bounce(
    scene: Scene, paths: _Paths, eye: Any, bounce: Any, xp: Any, bound: Any
) -> tuple[Any, _Paths, Any, Any]:
    """Follow rays to what they meet: (light gained (3, N), paths beyond, part (N,), distance (N,))."""
    o, d, carry, rough_before = paths
    first = bounce == 0
    reach = wall_distance(scene, o, d, xp)
    steps = xp.array(TRACE_STEPS)[bounce]
    t, hit, _ = tracing.trace(scene, o, d, reach, xp, tracing.March(steps, bound=bound))
    solid = hit | (reach < REACH_MM)
    t = xp.where(hit, t, reach)
    p = o + t * d
    _, which = tracing.nearest(scene, p, xp)
    part = xp.where(hit, which, xp.where(solid, int(Part.WALL), int(Part.SKY))).astype(xp.int32)

    # the rougher the last surface, the less a nearby solid stands out from the surroundings
    blend = xp.clip((rough_before - 0.25) / (MIRROR_ROUGHNESS - 0.25), 0.0, 1.0)
    keep = xp.where(solid, xp.where(first, 1.0, 1.0 - 0.6 * blend), 0.0)
    seen_blur = xp.where(first, scene.env_blur, rough_before)
    if xp is not np:
        gained = carry * (1.0 - keep) * surroundings.radiance(scene, d, seen_blur, xp)
        more, beyond = _surface_light(scene, _Hits(p, d, part, carry * keep, eye), bounce, xp, bound)
        return gained + more, beyond, part, t
    gained = np.zeros_like(d)
    away = keep < 1.0
    if away.any():
        far = surroundings.radiance(scene, d[:, away], seen_blur[away], np)
        gained[:, away] = carry[:, away] * (1.0 - keep[away]) * far
    nothing = np.zeros_like(d)
    beyond = _Paths(p, d, nothing, np.ones_like(t))
    if solid.any():
        hits = _Hits(p[:, solid], d[:, solid], part[solid], (carry * keep)[:, solid], eye[:, solid])
        more, met = _surface_light(scene, hits, bounce, np, bound)
        gained[:, solid] += more
        for whole, piece in zip(beyond, met, strict=True):
            whole[..., solid] = piece
    return gained, beyond, part, t


def _surface_light(scene: Scene, hits: _Hits, bounce: Any, xp: Any, bound: Any) -> tuple[Any, _Paths]:
    """Light (3, N) from surface points themselves, and the reflected rays that bring the rest."""
    p, d, part, carry, eye = hits
    on_wall = part == Part.WALL
    n = xp.where(on_wall, scene.wall[:3][:, None], tracing.normals(scene, p, part, xp))
    albedo, rough, metal = _surface(scene, p, part, xp)
    albedo = xp.where(on_wall, surroundings.wall_colour(scene, p, xp), albedo)
    p_out = p + 0.05 * n
    facing = xp.maximum(-(d * n).sum(0), 0.0)
    l_dir, l_far = _light(scene, p, eye, xp)
    lit = xp.maximum((n * l_dir).sum(0), 0.0)
    # Reflections show shadows too: the dark underside of a clamp in a polished tube.
    mirror = _shaft_mirror(scene, xp)
    open_sky = tracing.ambient_openness(scene, p, n, xp, mirror)
    steps = int(np.array(SHADOW_STEPS)[bounce]) if xp is np else xp.array(SHADOW_STEPS)[bounce]
    _, _, sun = tracing.trace(
        scene, p_out + 0.25 * n, l_dir, l_far, xp, tracing.March(steps, scene.light_soft, bound)
    )
    l_rgb = scene.light_rgb[:, None]
    lit_diffuse = lit + mirror * _by_the_shaft(scene, p, n, part, l_dir, xp)
    diffuse = (
        albedo * (1.0 - metal) * (surroundings.skylight(scene, n, xp) * open_sky + l_rgb * lit_diffuse * sun)
    )

    # Towards grazing everything becomes a mirror; of a rough surface only the facets that face the eye are seen,
    # half their slope (rough squared) off grazing in the mean.
    fresnel = (1.0 - facing) ** 5
    f0 = 0.04 * (1.0 - metal) + albedo * metal
    grazing = (1.0 - 0.5 * rough * rough) ** 5
    spec = f0 + (xp.maximum(grazing, f0) - f0) * fresnel
    half = l_dir - d
    half = half / xp.maximum(xp.sqrt((half * half).sum(0)), 1e-6)
    a2 = (rough * rough + 0.3 * scene.light_soft) ** 2 + 1e-4
    nh = xp.maximum((n * half).sum(0), 0.0)
    lobe = a2 / (3.1416 * (nh * nh * (a2 - 1.0) + 1.0) ** 2)
    glint = l_rgb * (xp.minimum(0.25 * lobe, 40.0) * sun * lit)
    # a rough surface's lobe is partly shut off by its neighbours
    shut = rough * (1.0 - open_sky)
    return carry * (diffuse + spec * glint), _Paths(
        p_out, d - 2.0 * (d * n).sum(0) * n, carry * spec * (1.0 - shut), rough
    )


def _see(scene: Scene, d: Any, eye: Any, xp: Any, bound: Any) -> tuple[Any, Any, Any]:
    """Colour (3, N), first part (N,) and distance (N,) along rays `d` (3, N) from `eye` (3, N)."""
    start = _Paths(eye, d, xp.ones_like(d), xp.zeros_like(d[0]))
    if xp is not np:
        import jax

        def body(bounce: Any, state: Any) -> Any:
            colour, paths, part, t = state
            gained, beyond, part_met, t_met = _bounce(scene, paths, eye, bounce, xp, None)
            first = bounce == 0
            return colour + gained, beyond, xp.where(first, part_met, part), xp.where(first, t_met, t)

        zero = xp.zeros_like(d[0])
        colour, paths, part, t = jax.lax.fori_loop(
            0, BOUNCES + 1, body, (xp.zeros_like(d), start, zero.astype(xp.int32), zero)
        )
        return colour + paths.carry * surroundings.radiance(scene, paths.d, paths.rough, xp), part, t
    colour, paths, part, t = _bounce(scene, start, eye, 0, np, bound)
    idx = np.arange(d.shape[1])
    for bounce in range(1, BOUNCES + 2):
        weight = paths.carry.max(0)
        # faint or rough reflections see only the surroundings; spent rays nothing
        faint = (weight > 0) & ((paths.rough >= MIRROR_ROUGHNESS) | (weight < FAINT) | (bounce > BOUNCES))
        if faint.any():
            far = surroundings.radiance(scene, paths.d[:, faint], paths.rough[faint], np)
            colour[:, idx[faint]] += paths.carry[:, faint] * far
        go = (weight > 0) & ~faint
        if not go.any():
            break
        idx = idx[go]
        onward = _Paths(*(np.ascontiguousarray(field[..., go]) for field in paths))
        gained, paths, _, _ = _bounce(scene, onward, np.ascontiguousarray(eye[:, idx]), bounce, np, bound)
        colour[:, idx] += gained
    return colour, part, t


def look(scene: Scene, origin_mm: Any, directions: Any, xp: Any = np) -> tuple[Any, Any, Any]:
    """Trace rays from one point.

    Parameters
    ----------
    origin_mm : (3,) the camera's centre, shaft frame.
    directions : (N, 3) unit vectors.

    Returns
    -------
    rgb_linear (N, 3); part (N,) of `Part`; distance_mm (N,).
    """
    if xp is not np:
        d = directions.T
        o = xp.broadcast_to(origin_mm[:, None], d.shape)
        colour, part, t = _see(scene, d, o, xp, None)
        return scene.gain * colour.T, part, t
    directions = np.asarray(directions, np.float32)
    bound = tracing.bounds(scene)
    origin = np.asarray(origin_mm, np.float32)[:, None]

    def one(start: int) -> tuple[Any, Any, Any]:
        d = np.ascontiguousarray(directions[start : start + CHUNK_RAYS].T)
        o = np.repeat(origin, d.shape[1], axis=1)
        return _see(scene, d, o, np, bound)

    with ThreadPoolExecutor(2) as pool:  # numpy lets go of the interpreter inside its loops
        done = list(pool.map(one, range(0, len(directions), CHUNK_RAYS)))
    rgb = np.concatenate([c.T for c, _, _ in done])
    return (
        (scene.gain * rgb).astype(np.float32),
        np.concatenate([k for _, k, _ in done]),
        np.concatenate([t for _, _, t in done]),
    )


def shade(scene: Scene, origin_mm: Any, directions: Any, xp: Any = np) -> tuple[Any, Any]:
    """Return (rgb_linear (N, 3), material (N,)) for rays from `origin_mm` (3,) along `directions` (N, 3)."""
    rgb, part, _ = look(scene, origin_mm, directions, xp)
    return rgb, scene.cls[part].astype(xp.int32)
