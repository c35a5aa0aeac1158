"""Colours, finishes and surroundings to draw from. Linear RGB; the values are plausible, not measured."""

from __future__ import annotations

from typing import Any

import numpy as np

from .scene import N_PANELS, N_WAVES

COLOURS = {
    "black": (0.012, 0.012, 0.013),
    "white": (0.72, 0.72, 0.69),
    "grey": (0.22, 0.22, 0.22),
    "red": (0.55, 0.02, 0.015),
    "orange": (0.75, 0.17, 0.015),
    "yellow": (0.68, 0.46, 0.02),
    "green": (0.03, 0.30, 0.05),
    "blue": (0.02, 0.09, 0.45),
    "pink": (0.70, 0.12, 0.25),
    "purple": (0.18, 0.04, 0.35),
    "natural": (0.58, 0.55, 0.45),
}
SKIN = ((0.62, 0.36, 0.26), (0.45, 0.24, 0.15), (0.22, 0.11, 0.07), (0.72, 0.45, 0.34))


def colour(rng: np.random.Generator, name: str) -> np.ndarray:
    """Draw the named colour with a batch-to-batch scatter."""
    rgb = np.array(COLOURS[name])
    return np.clip(rgb * rng.lognormal(0.0, 0.18) * rng.lognormal(0.0, 0.08, 3), 0.003, 0.85)


def metal(rng: np.random.Generator, kind: str) -> tuple[np.ndarray, float, float]:
    """Albedo (3,), roughness, metalness of a finish."""
    if kind == "chrome":
        return rng.uniform(0.5, 0.85) * (1 + rng.normal(0, 0.03, 3)), rng.uniform(0.02, 0.13), 1.0
    if kind == "satin":
        return rng.uniform(0.35, 0.7) * (1 + rng.normal(0, 0.03, 3)), rng.uniform(0.12, 0.55), 1.0
    if kind == "gold":
        tint = np.array([0.85, 0.58, 0.22]) * rng.uniform(0.6, 1.0) * (1 + rng.normal(0, 0.06, 3))
        return tint, rng.uniform(0.06, 0.3), 1.0
    if kind == "dark":  # hard carbon coats and black anodising
        tint = rng.uniform(0.02, 0.14) * (1 + rng.normal(0, 0.12, 3))
        return np.abs(tint), rng.uniform(0.03, 0.4), rng.choice([0.3, 1.0])
    if kind == "bronze":
        tint = np.array([0.45, 0.27, 0.15]) * rng.uniform(0.5, 1.1) * (1 + rng.normal(0, 0.06, 3))
        return tint, rng.uniform(0.1, 0.35), 1.0
    if kind == "gloss":  # paint under lacquer
        name = str(rng.choice(["black", "black", "grey", "red", "blue", "white", "yellow"]))
        return colour(rng, name), rng.uniform(0.08, 0.35), 0.0
    if kind == "rubber":
        return rng.uniform(0.012, 0.05) * np.ones(3), rng.uniform(0.55, 0.95), 0.0
    raise ValueError(f"no finish called {kind}")


def pick(rng: np.random.Generator, **weights: float) -> str:
    """One of the names, by weight."""
    names = list(weights)
    p = np.array([weights[n] for n in names])
    return str(rng.choice(names, p=p / p.sum()))


def _random_rotation(rng: np.random.Generator) -> np.ndarray:
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    if np.linalg.det(q) < 0:
        q[:, 0] *= -1
    return q


def random_rotation(rng: np.random.Generator) -> np.ndarray:
    """Draw a rotation (3, 3) uniformly."""
    return _random_rotation(rng)


def turn(axis: int, angle: float) -> np.ndarray:
    """Rotation (3, 3) by `angle` (rad) about coordinate axis 0, 1 or 2."""
    c, s = np.cos(angle), np.sin(angle)
    i, j = [(1, 2), (2, 0), (0, 1)][axis]
    m = np.eye(3)
    m[i, i] = m[j, j] = c
    m[i, j], m[j, i] = -s, s
    return m


def _tint(rng: np.random.Generator, warm: float) -> np.ndarray:
    return np.array([1.0 + warm, 1.0, 1.0 - warm]) * (1 + rng.normal(0, 0.04, 3))


def surroundings(rng: np.random.Generator, place: str, up: np.ndarray) -> dict[str, Any]:
    """Fields ``env_*`` and ``light_*`` of a scene for outdoors, workshop, dusk, studio."""
    across = np.cross(up, rng.normal(size=3))
    across /= np.linalg.norm(across)
    world = np.stack([across, np.cross(up, across), up])  # rows: world axes in the shaft frame
    f: dict[str, Any] = {"env_world": world}
    amps_scale, top = {"outdoors": (0.75, 45.0), "workshop": (0.5, 14.0), "dusk": (0.5, 14.0)}.get(
        place, (0.25, 8.0)
    )
    size = 1.5 * (top / 1.5) ** rng.random(N_WAVES)
    direction = rng.normal(size=(N_WAVES, 3))
    direction /= np.linalg.norm(direction, axis=1)[:, None]
    f["env_waves"] = direction * size[:, None]
    f["env_phases"] = rng.uniform(0, 2 * np.pi, N_WAVES)
    common = rng.normal(size=(N_WAVES, 1)) + 0.18 * rng.normal(size=(N_WAVES, 3))
    f["env_amps"] = (
        common * amps_scale * rng.uniform(0.5, 1.2) * size[:, None] ** -0.25 / np.sqrt(N_WAVES / 3)
    )
    panels = np.zeros((N_PANELS, 3, 3))
    half = np.full((N_PANELS, 2), 0.1)
    rgb = np.zeros((N_PANELS, 4))
    count = {"outdoors": 3, "workshop": 6, "dusk": 3, "studio": 5}[place]
    for i in range(N_PANELS):
        panels[i] = _random_rotation(rng)
        if place in ("workshop", "studio") and rng.random() < 0.6:  # lamps hang above, windows stand
            c = np.array([rng.normal(), rng.normal(), abs(rng.normal()) + 0.2])
            c /= np.linalg.norm(c)
            u = np.cross(c, [0.0, 0.0, 1.0]) + 1e-6
            u /= np.linalg.norm(u)
            panels[i] = np.stack([c, u, np.cross(c, u)])
        if i >= count:
            continue
        half[i] = 10 ** rng.uniform(-1.3, 0.0, 2)
        if rng.random() < 0.35:  # a dark thing instead of a bright one
            rgb[i, :3], rgb[i, 3] = rng.uniform(0.0, 0.08), rng.uniform(0.6, 1.0)
        else:
            level = {"outdoors": 1.5, "workshop": 5.0, "dusk": 1.5, "studio": 4.0}[place]
            rgb[i, :3] = level * rng.lognormal(0, 0.6) * _tint(rng, rng.normal(0.05, 0.1))
            rgb[i, 3] = 1.0
    f["env_panel_dirs"], f["env_panel_half"], f["env_panel_rgb"] = panels, half, rgb
    if place == "outdoors":
        sky = rng.uniform(0.6, 1.4)
        blue = rng.uniform(0.0, 1.0)
        zenith = sky * (np.array([0.75, 0.8, 0.85]) * (1 - blue) + np.array([0.18, 0.34, 0.75]) * blue)
        f["env_sky"] = np.stack([sky * np.array([0.9, 0.95, 1.0]), zenith])
        soil = np.array([[0.20, 0.16, 0.10], [0.08, 0.13, 0.03], [0.22, 0.21, 0.20], [0.30, 0.22, 0.12]])
        g = soil[rng.integers(4)] * rng.uniform(0.5, 1.5)
        f["env_ground"] = np.stack([g * rng.uniform(0.5, 1.5), g])
    else:
        warm = rng.normal(0.06, 0.1)
        level = {"workshop": 0.35, "dusk": 0.2, "studio": 0.7}[place] * rng.lognormal(0, 0.3)
        wall = level * _tint(rng, warm)
        f["env_sky"] = np.stack([wall, wall * rng.uniform(0.6, 1.6)])
        f["env_ground"] = np.stack([wall * rng.uniform(0.3, 1.0), wall * rng.uniform(0.15, 0.7)])
    sun = {"outdoors": 0.6, "workshop": 0.5, "dusk": 0.25, "studio": 0.55}[place]
    f["light_flash"] = float(rng.random() < (0.3 if place == "dusk" else 0.08))
    strength = rng.uniform(0.6, 3.5) if rng.random() < sun or f["light_flash"] else 0.0
    l_dir = np.array([rng.normal(), -abs(rng.normal()) - 0.15, rng.normal()]) + 0.8 * up
    if l_dir[1] > -0.1 and rng.random() < 0.7:  # mostly from the viewer's side, else little is seen of it
        l_dir[1] = -abs(l_dir[1]) - 0.2
    f["light_dir"] = l_dir / np.linalg.norm(l_dir)
    f["light_rgb"] = strength * _tint(rng, rng.normal(0.06, 0.08))
    f["light_soft"] = 0.01 if f["light_flash"] else 10 ** rng.uniform(-2.2, -0.5)
    lively = {"outdoors": 0.85, "workshop": 0.7, "dusk": 0.7, "studio": 0.25}[place]
    strength = rng.uniform(0.3, 1.8) if rng.random() < lively else 0.0
    f["env_fine"] = [strength, 10 ** rng.uniform(0.2, 1.2), *rng.uniform(0, 50, 3)]
    f["env_blur"] = rng.uniform(0.03, 0.3) if rng.random() < 0.7 else 0.01
    return f
