"""Sphere tracing, normals and occlusion; numpy drops finished rays, jax runs a fixed number of steps."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from .scene import N_PARTS, Part, Scene
from .shapes import CARD_CENTRE_MM, FAR_AWAY_MM, part_distance

SOLIDS = tuple(range(Part.WALL))  # the wall is met in closed form
GRAZING = 1.5  # a ray out of steps counts as a hit within so many tolerances: 0.007 mm at 400 mm
COMPACT_SHARE = 0.12  # numpy: drop finished rays once so many are finished
STEP = 0.9  # the distances of grooved and bent parts over-estimate by a few per cent
TOLERANCE = 1.0e-5  # of the ray's length: 0.004 mm at 400 mm, far under a pixel


def present(scene: Scene, parts: tuple[int, ...] = SOLIDS) -> tuple[int, ...]:
    """Parts switched on (numpy scenes only)."""
    return tuple(p for p in parts if scene.on[p] > 0.5)


def distance(scene: Scene, p: Any, xp: Any, parts: tuple[int, ...] = SOLIDS) -> Any:
    """Signed distance (N,) in mm from points `p` (3, N) to the nearest of `parts`."""
    return nearest(scene, p, xp, parts, want_part=False)[0]


def nearest(
    scene: Scene, p: Any, xp: Any, parts: tuple[int, ...] = SOLIDS, want_part: bool = True
) -> tuple[Any, Any]:
    """Distance to, and index of, the nearest part."""
    r_mm = xp.sqrt(p[0] * p[0] + p[1] * p[1])
    best = xp.full_like(p[0], FAR_AWAY_MM)
    which = xp.full(p[0].shape, int(Part.SKY), dtype=xp.int32) if want_part else None
    for part in parts:
        if xp is np:
            if scene.on[part] < 0.5:
                continue
            d = part_distance(part, p, r_mm, scene, xp)
        else:
            d = xp.where(scene.on[part] > 0.5, part_distance(part, p, r_mm, scene, xp), FAR_AWAY_MM)
        if want_part:
            which = xp.where(d < best, part, which)
        best = xp.minimum(best, d)
    return best, which


def bounds(scene: Scene) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Capsules round each solid: ends (P, 3), (P, 3), radii (P,), in mm."""
    a = np.zeros((N_PARTS, 3), np.float32)
    b = np.zeros((N_PARTS, 3), np.float32)
    r = np.zeros(N_PARTS, np.float32)

    def upright(part: int, low: float, high: float, radius: float) -> None:
        a[part, 2], b[part, 2], r[part] = low, high, radius

    upright(Part.SHAFT, scene.shaft_z[0], scene.shaft_z[1], scene.radius)
    upright(Part.LIP, -scene.lip[0], 0.0, max(scene.lip[1], scene.lip[2]))
    for part, spec in (
        (Part.FLANGE, scene.flange),
        (Part.TUBE, scene.tube),
        (Part.COLLAR, scene.collar),
        (Part.PERCH, scene.perch),
    ):
        upright(part, spec[0], spec[1], spec[2])
    upright(Part.BUMPER, scene.bumper[0], scene.bumper[1], max(scene.bumper[2], scene.bumper[3]))
    to_boss = float(np.linalg.norm(scene.far_centre[:2]) + scene.far_boss) if scene.far_boss > 0 else 0.0
    far_flat = max(float(np.linalg.norm(scene.far_half[:2])), to_boss)
    a[Part.FAR] = scene.far_centre - np.array([0, 0, scene.far_half[2]])
    b[Part.FAR] = scene.far_centre + np.array([0, 0, scene.far_half[2]])
    r[Part.FAR] = far_flat
    m, w = scene.marker[0], scene.marker[1]
    thick = scene.radius + max(w, scene.marker[2])
    upright(Part.MARKER, m, m + w, thick + 1.5)
    upright(Part.LOCK, m, m + w, thick + 2 * scene.lock[1] + 2 * scene.lock[2] + scene.lock[4])
    s = scene.spring
    upright(Part.SPRING, s[3], s[3] + s[2] * s[4], s[0] + s[1])
    centre = np.array([CARD_CENTRE_MM[0], CARD_CENTRE_MM[1], 0.0]) * [*scene.card_scale, 0.0]
    reach = np.array([0.0, 89.0 * scene.card_scale[1], 0.0])
    a[Part.CARD] = scene.card_rot @ (centre - reach) + scene.card_origin
    b[Part.CARD] = scene.card_rot @ (centre + reach) + scene.card_origin
    curl = float(np.abs(scene.card_curl) @ np.array([23.0**2, 89.0**2]))
    r[Part.CARD] = 26.0 * max(1.0, float(scene.card_scale[0])) + curl
    for i in range(4):
        a[Part.FINGER + i], b[Part.FINGER + i] = scene.capsule_a[i], scene.capsule_b[i]
        r[Part.FINGER + i] = scene.capsule_r[i]
    for i in range(2):
        a[Part.BOX_A + i] = b[Part.BOX_A + i] = scene.box_centre[i]
        r[Part.BOX_A + i] = float(np.linalg.norm(scene.box_half[i]))
    a[Part.TYRE] = b[Part.TYRE] = scene.tyre_centre
    r[Part.TYRE] = float(scene.tyre_radii.sum())
    for part, low, high, radius in (
        (Part.LEG_SHAFT, scene.shaft_z[0], scene.shaft_z[1], scene.radius),
        (Part.LEG_SEAL, scene.tube[0], 0.0, scene.tube[2] + 2.0),
        (Part.LEG_MARKER, scene.leg_marker, scene.leg_marker + w, thick + 1.5),
    ):
        a[part] = scene.leg_offset + np.array([0, 0, low])
        b[part] = scene.leg_offset + np.array([0, 0, high])
        r[part] = radius
    a[Part.LEG_CLAMP], b[Part.LEG_CLAMP] = a[Part.FAR] + scene.leg_offset, b[Part.FAR] + scene.leg_offset
    r[Part.LEG_CLAMP] = far_flat
    return a, b, r + 0.5


def ray_capsule_gap(o: np.ndarray, d: np.ndarray, a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Least distance (N,) between rays (3, N) and the segment a-b; a lower bound where they are parallel."""
    ab = (b - a).astype(np.float32)
    w = a[:, None].astype(np.float32) - o
    aa = np.float32(ab @ ab) + np.float32(1e-9)
    abd = ab @ d
    dw = (d * w).sum(0)
    abw = ab @ w
    # d is a unit vector: closest points of two lines, the segment's parameter clipped, then the ray's
    denom = np.maximum(aa - abd * abd, 1e-6)
    s = np.clip((abd * dw - abw) / denom, 0.0, 1.0)
    t = np.maximum(dw + s * abd, 0.0)
    gap = w + ab[:, None] * s - d * t
    found: np.ndarray = np.sqrt((gap * gap).sum(0))
    return found


class March(NamedTuple):
    """How rays are followed: most `steps`; `soft`: angular radius of a light, rad; `bound`: from `bounds` (numpy)."""

    steps: Any
    soft: Any = None
    bound: Any = None


def trace(scene: Scene, o: Any, d: Any, reach: Any, xp: Any, march: March) -> tuple[Any, Any, Any]:
    """Follow rays `o` + t `d` ((3, N) each) as far as `reach` (N,) mm.

    Returns
    -------
    t (N,) where each ray ended; hit (N,) bool; openness (N,): 1 where it met nothing and came near nothing,
    for shadows of a light of angular radius `soft` (rad); 1 throughout if `soft` is None.
    """
    return (_trace_numpy if xp is np else _trace_jax)(scene, o, d, reach, march)


def _trace_jax(scene: Scene, o: Any, d: Any, reach: Any, march: March) -> tuple[Any, Any, Any]:
    import jax
    import jax.numpy as jnp

    steps, soft, _ = march

    def body(_: int, state: tuple[Any, Any, Any]) -> tuple[Any, Any, Any]:
        t, gap, openness = state
        gap_new = distance(scene, o + t * d, jnp)
        live = (gap > TOLERANCE * (t + 50.0)) & (t < reach)
        gap = jnp.where(live, gap_new, gap)
        if soft is not None:
            openness = jnp.where(live, jnp.minimum(openness, gap_new / (soft * t + 0.05)), openness)
        t = jnp.where(live, t + STEP * jnp.maximum(gap_new, 0.0), t)
        return t, gap, openness

    zero = jnp.zeros_like(o[0])
    start = (zero, zero + FAR_AWAY_MM, zero + 1.0)
    t, gap, openness = jax.lax.fori_loop(0, steps, body, start)
    hit = (gap <= GRAZING * TOLERANCE * (t + 50.0)) & (t < reach)
    return t, hit, jnp.clip(jnp.where(hit, 0.0, openness), 0.0, 1.0)


def _trace_numpy(scene: Scene, o: Any, d: Any, reach: Any, march: March) -> tuple[Any, Any, Any]:
    steps, soft, bound = march
    n = o.shape[1]
    t_all = np.array(reach, dtype=np.float32) * np.ones(n, np.float32)
    hit_all = np.zeros(n, bool)
    open_all = np.ones(n, np.float32)
    a, b, r = bounds(scene) if bound is None else bound
    near = np.zeros(n, bool)
    parts = []
    for part in present(scene):
        margin = 0.0 if soft is None else float(soft) * 200.0
        close = ray_capsule_gap(o, d, a[part], b[part]) < r[part] + margin
        if close.any():
            parts.append(part)
            near |= close
    idx = np.nonzero(near)[0]
    if not len(idx):
        return t_all, hit_all, open_all
    ao, ad, limit = o[:, idx], d[:, idx], t_all[idx]
    t = np.zeros(len(idx), np.float32)
    openness = np.ones(len(idx), np.float32)
    chosen = tuple(parts)
    for _ in range(int(steps)):
        gap = distance(scene, ao + t * ad, np, chosen)
        if soft is not None:
            openness = np.minimum(openness, gap / (soft * t + 0.05))
        done = gap <= TOLERANCE * (t + 50.0)
        past = t >= limit
        over = done | past
        if over.mean() > COMPACT_SHARE or len(idx) < 2000:
            which = idx[over]
            hit_all[which] = done[over] & ~past[over]
            t_all[which] = np.where(done[over] & ~past[over], t[over], limit[over])
            open_all[which] = np.where(done[over] & ~past[over], 0.0, openness[over])
            keep = ~over
            idx, ao, ad, limit, t, openness, gap = (
                idx[keep], ao[:, keep], ad[:, keep], limit[keep], t[keep], openness[keep], gap[keep],
            )  # fmt: skip
            if not len(idx):
                break
            over = np.zeros(len(idx), bool)
        # finished rays that wait to be dropped stay where they are
        t = np.where(over, t, t + STEP * np.maximum(gap, 0.0))
    if len(idx):  # grazing rays
        gap = distance(scene, ao + t * ad, np, chosen)
        done = (gap <= GRAZING * TOLERANCE * (t + 50.0)) & (t < limit)
        hit_all[idx] = done
        t_all[idx] = np.where(done, t, limit)
        open_all[idx] = np.where(done, 0.0, openness)
    return t_all, hit_all, np.clip(open_all, 0.0, 1.0)


@lru_cache(maxsize=1)
def _taps() -> np.ndarray:
    """Four corners of a tetrahedron: the fewest points that give a gradient."""
    return np.array([[1, -1, -1], [-1, -1, 1], [-1, 1, -1], [1, 1, 1]], np.float32)


def normals(scene: Scene, p: Any, part: Any, xp: Any, h_mm: float = 0.04) -> Any:
    """Outward unit normals (3, N) at surface points `p` of part `part` (N,)."""
    taps = _taps()
    if xp is np:
        grad = np.zeros_like(p)
        for k in np.unique(part):
            if k >= Part.WALL:
                continue
            sel = part == k
            q = p[:, sel]
            g = np.zeros_like(q)
            for tap in taps:
                moved = q + h_mm * tap[:, None]
                g += tap[:, None] * part_distance(
                    int(k), moved, np.sqrt(moved[0] ** 2 + moved[1] ** 2), scene, np
                )
            grad[:, sel] = g
    else:
        import jax

        corners = xp.asarray(taps)
        grad = jax.lax.fori_loop(
            0,
            4,
            lambda i, g: g + corners[i][:, None] * distance(scene, p + h_mm * corners[i][:, None], xp),
            xp.zeros_like(p),
        )
    return grad / xp.maximum(xp.sqrt((grad * grad).sum(0)), 1e-12)


# Taps: reach in mm, slant (0 along the normal, else towards one or the other end of the shaft), weight. The
# slanted ones see the clamp above a tube and the seal's body below it, which the normal passes by.
AO_TAPS = np.array(
    [
        (1.5, 0.0, 0.22), (5.0, 0.0, 0.22), (14.0, 0.0, 0.18),
        (5.0, 0.9, 0.12), (14.0, 0.9, 0.14), (36.0, 0.8, 0.16),
        (5.0, -0.9, 0.12), (14.0, -0.9, 0.14), (36.0, -0.8, 0.16),
    ],
    np.float32,
)  # fmt: skip


def ambient_openness(scene: Scene, p: Any, n: Any, xp: Any, mirror: Any = 0.0) -> Any:
    """Share (N,) of the sky that nearby parts leave open, from taps along the normal and slanted to it.

    `mirror` is the share of light that the shaft gives back as a mirror does: a lip's face beside a polished tube is
    not in its shade, for it sees the sky's picture where the tube hides the sky.
    """
    r = xp.maximum(xp.sqrt(p[0] * p[0] + p[1] * p[1]), 1e-3)
    zero = xp.zeros_like(n[0])
    flat = xp.abs(n[2]) > 0.7  # a face square to the shaft: slant towards and away from the shaft
    slant = xp.where(flat, xp.stack([p[0] / r, p[1] / r, zero]), xp.stack([zero, zero, zero + 1.0]))
    slant = slant - n * (slant * n).sum(0)
    slant = slant / xp.maximum(xp.sqrt((slant * slant).sum(0)), 1e-6)

    def tap(reach_mm: Any, lean: Any, weight: Any) -> Any:
        way = n * xp.sqrt(1.0 - lean * lean) + slant * lean
        q = p + reach_mm * way
        gap = distance(scene, q, xp)
        by_shaft = xp.sqrt(q[0] * q[0] + q[1] * q[1]) - scene.radius < gap + 1e-3
        # free space for a lone flat surface is the height above it
        open_mm = reach_mm * xp.sqrt(1.0 - lean * lean)
        shut = weight * xp.clip(1.0 - gap / open_mm, 0.0, 1.0)
        return shut * xp.where(by_shaft, 1.0 - mirror, 1.0)

    if xp is np:
        shut = sum(tap(*row) for row in AO_TAPS)
    else:
        import jax

        taps = xp.array(AO_TAPS)
        shut = jax.lax.fori_loop(0, len(AO_TAPS), lambda i, s: s + tap(*taps[i]), xp.zeros_like(p[0]))
    return xp.maximum(1.0 - scene.shade * shut, 0.02)
