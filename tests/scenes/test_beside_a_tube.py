"""Light on what stands round a polished tube: by mirror symmetry, worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from scenes.random_scenes import draw
from scenes.scene import N_PARTS, Part, Scene, as_float32
from scenes.shading import _by_the_shaft
from scenes.tracing import ambient_openness

# On a lip's face, half a millimetre off the tube, on the side of x.
OFF_MM = 0.5


def bare(shaft: bool = True) -> Scene:
    """Make a shaft and its lip alone, or the lip alone."""
    drawn = draw(2, "fork").scene
    on = np.zeros(N_PARTS)
    on[[Part.LIP, Part.SHAFT] if shaft else [Part.LIP]] = 1.0
    return as_float32(drawn._replace(on=on, shade=0.95))


def face_point(scene: Scene) -> tuple[np.ndarray, np.ndarray]:
    point = np.array([[float(scene.radius) + OFF_MM], [0.0], [0.0]], np.float32)
    return point, np.array([[0.0], [0.0], [1.0]], np.float32)


def test_a_perfect_mirror_takes_no_sky_away() -> None:
    scene = bare()
    p, up = face_point(scene)
    alone = ambient_openness(bare(shaft=False), p, up, np)[0]
    black, mirror = (ambient_openness(scene, p, up, np, share)[0] for share in (0.0, 1.0))
    assert mirror == pytest.approx(alone, abs=1e-3)
    assert black < alone - 0.2


@pytest.mark.parametrize("degrees", [20.0, 45.0, 70.0])
def test_close_to_the_tube_the_lights_picture_is_as_strong_as_the_light(degrees: float) -> None:
    """Beside a plane mirror a face square to it gets the light once more: cos of the same angle."""
    scene = bare()
    p, up = face_point(scene)
    close = p.copy()
    close[0] = float(scene.radius) + 1e-3
    angle = np.radians(degrees)
    light = np.array([[np.cos(angle)], [0.0], [np.sin(angle)]])
    part = np.array([Part.LIP])
    assert _by_the_shaft(scene, close, up, part, light, np)[0] == pytest.approx(np.sin(angle), rel=0.01)
    # A face that leans away from the tube, by 3-4-5: the picture stands at minus cos, sin.
    leaning = np.array([[0.6], [0.0], [0.8]])
    seen = max(0.8 * np.sin(angle) - 0.6 * np.cos(angle), 0.0)
    assert _by_the_shaft(scene, close, leaning, part, light, np)[0] == pytest.approx(seen, rel=0.01, abs=1e-9)
    # Farther off a convex mirror has spread it; from behind the tube no light comes; the tube does not light itself.
    assert 0 < _by_the_shaft(scene, p, up, part, light, np)[0] < np.sin(angle)
    assert _by_the_shaft(scene, close, up, part, light * [[-1], [1], [1]], np)[0] == 0.0
    assert _by_the_shaft(scene, close, up, np.array([Part.SHAFT]), light, np)[0] == 0.0
