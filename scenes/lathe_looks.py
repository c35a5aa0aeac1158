"""Looks of the second renderer's parts: turned, polished, anodised, painted, cast, rubber.

Weights and ranges are judgements [no source]; the kinds are what real photographs showed: see docs/measured.md.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from .finishes import COLOURS, colour, metal, pick
from .lathe import Look


def uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """Draw a number between two."""
    return float(rng.uniform(low, high))


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """Draw a number between two, its logarithm evenly."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def any_colour(rng: np.random.Generator) -> np.ndarray:
    """Draw a named colour or any other."""
    if rng.random() < 0.6:
        return colour(rng, str(rng.choice(list(COLOURS))))
    return np.clip(rng.uniform(0, 1, 3) ** 2.0 * rng.uniform(0.2, 1.0), 0.003, 0.9)


def draw_look(rng: np.random.Generator, rubbery: float = 0.2, lively: float = 0.5) -> Look:
    """Any finish: turned, polished, anodised, painted, cast, rubber; now and then with rings, letters, grooves."""
    kind = rng.random()
    if kind < rubbery:
        rgb = rng.uniform(0.01, 0.06) * np.ones(3) if rng.random() < 0.75 else any_colour(rng)
        rough, shiny = uniform(rng, 0.25, 0.95), 0.0
    elif kind < rubbery + 0.25:
        rgb, rough, shiny = any_colour(rng), uniform(rng, 0.06, 0.7), 0.0
    elif kind < rubbery + 0.35:  # anodised
        rgb, rough, shiny = any_colour(rng), uniform(rng, 0.1, 0.45), uniform(rng, 0.5, 1.0)
    else:
        name = pick(rng, chrome=1.3, satin=4, dark=3, gold=0.6, bronze=0.7, gloss=1)
        rgb, rough, shiny = metal(rng, name)
    second = any_colour(rng) if rng.random() < 0.6 else np.clip(rgb * log_uniform(rng, 0.3, 3), 0.003, 0.95)
    more: dict[str, Any] = {}
    if rng.random() < 0.18 * 2 * lively:
        more |= {
            "ring_mm": log_uniform(rng, 1.0, 40),
            "ring_share": uniform(rng, 0.05, 0.6),
            "ring_phase_mm": uniform(rng, 0, 40),
        }
    if rng.random() < 0.14 * 2 * lively:
        low = uniform(rng, -150, 250)
        more |= {
            "letter_mm": uniform(rng, 0.6, 3.0), "letter_share": uniform(rng, 0.2, 0.6),
            "letter_low_mm": low, "letter_high_mm": low + log_uniform(rng, 4, 150),
        }  # fmt: skip
    if rng.random() < 0.2 * 2 * lively:
        more |= {"groove": uniform(rng, 0.05, 0.5), "groove_mm": log_uniform(rng, 0.8, 6)}
    if rng.random() < 0.1 * 2 * lively:
        more |= {"flutes": float(rng.integers(6, 60)), "flute": uniform(rng, 0.1, 0.5)}
    return Look(
        albedo=tuple(np.clip(rgb, 0.003, 0.97)), rough=float(rough), metal=float(shiny),
        second=tuple(np.clip(second, 0.003, 0.95)), second_rough=uniform(rng, 0.1, 0.9),
        second_metal=float(rng.random() < 0.3),
        dirt=abs(rng.normal(0, 0.2)) if rng.random() < 0.5 else 0.0, dirt_per_mm=log_uniform(rng, 0.05, 0.6),
        streak=uniform(rng, 0, 0.5) if rng.random() < 0.2 else 0.0, **more,
    )  # fmt: skip


def polished(rng: np.random.Generator) -> Look:
    """So bright that it mirrors the shaft, as the shaft mirrors it."""
    rgb, rough, shiny = metal(rng, pick(rng, chrome=3, dark=1, satin=0.5))
    return Look(albedo=tuple(np.clip(rgb, 0, 0.97)), rough=min(float(rough), 0.15), metal=float(shiny))


def ring_look(rng: np.random.Generator) -> Look:
    """Of a thin ring: spring rings, circlips, coloured rubber, a light line."""
    if rng.random() < 0.4:
        return draw_look(rng, rubbery=0.1, lively=0.0)
    if rng.random() < 0.5:
        rgb = any_colour(rng)
        return Look(albedo=tuple(rgb), rough=uniform(rng, 0.2, 0.8), second=tuple(rgb))
    rgb, rough, shiny = metal(rng, pick(rng, chrome=2, satin=2, gold=1))
    return Look(albedo=tuple(np.clip(rgb, 0, 0.97)), rough=float(rough), metal=float(shiny))
