"""Light from far away, walls and surface noise, for numpy or jax.numpy.

Everything is a sum of waves with random vectors: blurring by a rough surface is then exact, each wave
shrinking by exp(-(|k| sigma)^2 / 2).
"""

from __future__ import annotations

from typing import Any

from .scene import N_PANELS, Scene


def _step(low: Any, high: Any, x: Any, xp: Any) -> Any:
    t = xp.clip((x - low) / (high - low), 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


def radiance(scene: Scene, d: Any, rough: Any, xp: Any) -> Any:
    """Radiance (3, N) arriving along unit directions `d` (3, N), blurred by roughness (N,)."""
    w = scene.env_world @ d
    sigma = 0.004 + 0.8 * rough * rough + 0.1 * rough
    k = scene.env_waves
    fade = xp.exp(-0.5 * (k * k).sum(1)[:, None] * sigma[None, :] ** 2)
    waves = xp.cos(k @ w + scene.env_phases[:, None]) * fade
    noise = scene.env_amps.T @ waves  # (3, N)
    up = w[2] + 0.15 * noise[0]
    width = 0.03 + sigma
    high = xp.sqrt(xp.clip(up, 0.0, 1.0))
    deep = xp.sqrt(xp.clip(-up, 0.0, 1.0))
    sky, ground = scene.env_sky, scene.env_ground
    above = sky[0][:, None] * (1.0 - high) + sky[1][:, None] * high
    below = ground[0][:, None] * (1.0 - deep) + ground[1][:, None] * deep
    t = _step(-width, width, up, xp)
    light = (below * (1.0 - t) + above * t) * xp.exp(noise + _fine(scene, w, sigma, xp))
    for i in range(N_PANELS):
        c, u, v = scene.env_panel_dirs[i]
        front = c @ w
        safe = xp.maximum(front, 0.05)
        soft = 0.01 + 1.2 * sigma
        hu, hv = scene.env_panel_half[i, 0], scene.env_panel_half[i, 1]
        cover = (
            _step(-soft, soft, hu - xp.abs(u @ w) / safe, xp)
            * _step(-soft, soft, hv - xp.abs(v @ w) / safe, xp)
            * (front > 0.05)
        )
        # a small panel under a wide lobe is spread thin
        cover = cover * (hu / xp.maximum(hu, soft)) * (hv / xp.maximum(hv, soft))
        opacity = scene.env_panel_rgb[i, 3]
        light = light * (1.0 - cover * opacity) + scene.env_panel_rgb[i, :3][:, None] * cover
    return light


FINE_OCTAVES = (4.0, 9.0, 21.0, 47.0)  # cells a radian: from trees to leaves and tools on a wall


def _fine(scene: Scene, w: Any, sigma: Any, xp: Any) -> Any:
    """Log brightness (N,) of detail too fine for the waves; a hard edge where `env_fine` asks for one."""
    strength, hardness = scene.env_fine[0], scene.env_fine[1]
    total = 0.0 * sigma
    for i, cells in enumerate(FINE_OCTAVES):
        at = [w[k] * cells + scene.env_fine[2 + k] + 17.0 * i for k in range(3)]
        fade = xp.exp(-0.5 * (2.0 * cells * sigma) ** 2)
        total = total + (grain(at[0], at[1], at[2], xp) - 0.5) * fade * (0.75**i)
    return strength * xp.tanh(hardness * total)


def skylight(scene: Scene, n: Any, xp: Any) -> Any:
    """Diffuse illumination (3, N) on unpolished surfaces with normals `n`."""
    w = scene.env_world @ n
    t = 0.5 + 0.5 * w[2]
    sky = 0.5 * (scene.env_sky[0] + scene.env_sky[1])
    ground = 0.5 * (scene.env_ground[0] + scene.env_ground[1])
    light = ground[:, None] * (1.0 - t) + sky[:, None] * t
    for i in range(N_PANELS):
        facing = xp.maximum(scene.env_panel_dirs[i, 0] @ w, 0.0)
        solid = 4.0 * scene.env_panel_half[i, 0] * scene.env_panel_half[i, 1] / 3.1416
        light = light + scene.env_panel_rgb[i, :3][:, None] * (xp.minimum(solid, 1.5) * facing)
    return light


def wall_colour(scene: Scene, p: Any, xp: Any) -> Any:
    """Blotched albedo (3, N) of the wall at points `p` (3, N)."""
    waves = xp.cos(scene.wall_waves @ p + scene.wall_phases[:, None])
    n = scene.wall_amps @ waves
    t = _step(-scene.wall_edge, scene.wall_edge, n, xp)
    a, b = scene.wall_colours[0][:, None], scene.wall_colours[1][:, None]
    return (a * (1.0 - t) + b * t) * (1.0 + 0.06 * xp.clip(n, -2.0, 2.0))


def _hash(i: Any, j: Any, k: Any, xp: Any) -> Any:
    """Noise in [0, 1) at integer lattice points; integer mixing with odd constants."""
    h = (
        i.astype(xp.uint32) * xp.uint32(374761393)
        + j.astype(xp.uint32) * xp.uint32(668265263)
        + k.astype(xp.uint32) * xp.uint32(2246822519)
    )
    h = (h ^ (h >> xp.uint32(13))) * xp.uint32(1274126177)
    h = h ^ (h >> xp.uint32(16))
    return (h & xp.uint32(0xFFFF)).astype(xp.float32) / 65536.0


def grain(x: Any, y: Any, z: Any, xp: Any) -> Any:
    """Smooth noise (N,) in 0..1 with one cell per unit."""
    fx, fy, fz = xp.floor(x), xp.floor(y), xp.floor(z)
    i, j, k = (f.astype(xp.int32) for f in (fx, fy, fz))
    u, v, w = x - fx, y - fy, z - fz
    u, v, w = u * u * (3 - 2 * u), v * v * (3 - 2 * v), w * w * (3 - 2 * w)
    total = 0.0
    for a in (0, 1):
        for b in (0, 1):
            for c in (0, 1):
                weight = (u if a else 1 - u) * (v if b else 1 - v) * (w if c else 1 - w)
                total = total + weight * _hash(i + a, j + b, k + c, xp)
    return total
