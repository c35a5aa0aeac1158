"""Standard gravity: scales show kilograms, springs carry newtons."""

from __future__ import annotations

# Standard acceleration of free fall, m/s², exact: NIST SP 811 (2008), B.8.
GRAVITY_M_PER_S2 = 9.80665


def weight_n(mass_kg: float) -> float:
    """Weight of a mass, N."""
    return mass_kg * GRAVITY_M_PER_S2


def mass_kg(weight_n: float) -> float:
    """Mass whose weight this is, kg: what a pair of scales shows."""
    return weight_n / GRAVITY_M_PER_S2
