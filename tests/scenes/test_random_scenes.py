"""Random scenes: the same seed gives the same scene, and corners and finishes are as common as they are meant to be."""

from __future__ import annotations

import numpy as np

from scenes.random_scenes import GLOSSY_COAT_SHARE, LIT_CORNERS_SHARE, POLISHED_SHARE, draw
from scenes.scene import Part

DRAWS = 400


def test_a_seed_is_a_scene() -> None:
    one, again = draw(17), draw(17)
    for a, b in zip(one.scene, again.scene, strict=True):
        np.testing.assert_array_equal(a, b)
    assert one.declared_diameter_mm == again.declared_diameter_mm


def test_lit_corners_and_mirrors_are_as_common_as_they_are_meant_to_be() -> None:
    """Within four standard deviations of a binomial; no draw of finishes alone is as pale or as black."""
    scenes = [draw(seed).scene for seed in range(DRAWS)]
    metal = np.array([s.metal[Part.SHAFT] for s in scenes])
    pale = np.array([s.albedo[Part.SHAFT].mean() for s in scenes])
    lit = np.array([s.shade < 0.4 for s in scenes])
    for seen, share in (
        (lit, LIT_CORNERS_SHARE),
        ((metal == 1) & (pale > 0.855), POLISHED_SHARE),
        (metal == 0, GLOSSY_COAT_SHARE),
    ):
        assert abs(seen.mean() - share) < 4 * np.sqrt(share * (1 - share) / DRAWS)
    assert (np.array([s.shade for s in scenes]) <= 1.0).all() and pale.max() <= 1.0
