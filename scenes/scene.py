"""The description of a scene: a fixed-length tree of arrays, so that one compilation serves all."""

from __future__ import annotations

from enum import IntEnum
from typing import Any, NamedTuple

import numpy as np


class Part(IntEnum):
    """Every solid that a scene may hold; `Scene.on` says which are present."""

    SHAFT = 0
    LIP = 1
    FLANGE = 2
    TUBE = 3
    COLLAR = 4
    BUMPER = 5
    PERCH = 6
    FAR = 7
    MARKER = 8
    LOCK = 9
    SPRING = 10
    CARD = 11
    FINGER = 12
    ROD_A = 13
    ROD_B = 14
    ROD_C = 15
    BOX_A = 16
    BOX_B = 17
    TYRE = 18
    LEG_SHAFT = 19
    LEG_SEAL = 20
    LEG_CLAMP = 21
    LEG_MARKER = 22
    WALL = 23
    SKY = 24


class Material(IntEnum):
    """Classes of a label image."""

    OTHER = 0
    SHAFT = 1
    SEAL_SIDE = 2
    MARKER = 3
    FAR = 4
    OCCLUDER = 5
    LOCK = 6
    CARD = 7


# Clutter, the other leg and the wall are OTHER; a rod that passes in front is set to OCCLUDER by the scene.
CLASS_OF_PART = np.array(
    [1, 2, 2, 2, 2, 4, 4, 4, 3, 6, 5, 7, 5, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0], dtype=np.int32
)
N_PARTS = len(Part)
N_RINGS = 6
N_WAVES = 24
N_PANELS = 6


class Scene(NamedTuple):
    """One scene. Every field is a float32 array (or a stack of them); lengths in mm, shaft frame.

    Fields named ``*_zr`` describe solids of revolution about the axis.
    """

    radius: Any  # shaft
    exposed: Any  # seal lip to far end
    shaft_z: Any  # (2,) from, to
    lip: Any  # (4,) height, radius at z=0, radius at its foot, rounding
    lip_edge: (
        Any  # (3,) worn or wet edge of the lip: how far back from its face, mm, factor of albedo, roughness
    )
    lip_gap: Any  # between shaft and lip, mm: 0 where it touches
    flange: Any  # (4,) z low, z high, radius, rounding
    tube: Any  # (4,)
    collar: Any  # (4,)
    bumper: Any  # (7,) z low, z high, radii at free face and foot, rounding, groove depth, grooves
    perch: Any  # (4,)
    far_centre: Any  # (3,)
    far_half: Any  # (3,) half sizes
    far_round: Any  # rounding
    far_turn: Any  # rotation about the axis, rad
    far_is_cylinder: Any  # 1: a cylinder of radius far_half[0]
    far_bevel: Any  # (2,) width of its bevels, mm, and flat facets in each: 1, 2; 0: rounded instead
    far_boss: Any  # radius of a round boss about the axis, as high as the block and one with it; 0: none
    marker: Any  # (6,) seal-side edge s, width, thickness, tilt about x, tilt about y (rad), 1 for an O-ring
    lock: Any  # (5,) angle phi, half sizes radial, tangential, axial, length of tail
    spring: Any  # (7,) mean radius, wire radius, pitch, z low, turns, phase, hand (+1, -1)
    card_rot: Any  # (3, 3) card frame -> shaft frame
    card_origin: Any  # (3,) board's outer corner in the shaft frame
    card_curl: Any  # (2,) bend per mm^2 along x, along y
    card_scale: Any  # (2,) print scale along x, y
    card_bits: Any  # (14, 3, 7, 7) 1 white, 0 black, of each square's marker
    card_text: Any  # seed of the number printed in the margin
    capsule_a: Any  # (4, 3) finger, rods: ends
    capsule_b: Any  # (4, 3)
    capsule_r: Any  # (4,)
    box_centre: Any  # (2, 3)
    box_rot: Any  # (2, 3, 3) shaft frame -> box frame
    box_half: Any  # (2, 3)
    tyre_centre: Any  # (3,)
    tyre_rot: Any  # (3, 3) shaft frame -> tyre frame (z: wheel axle)
    tyre_radii: Any  # (2,)
    leg_offset: Any  # (3,) the other leg's seal lip
    leg_marker: Any  # its marker's s
    wall: Any  # (4,) unit normal towards the viewer, offset: n.x = offset
    wall_box: Any  # (4,) where it ends: middle and half width along x, middle and half height along z
    wall_colours: Any  # (2, 3)
    wall_edge: Any  # softness of the blotches
    wall_waves: Any  # (N_WAVES, 3) wave vectors, rad/mm
    wall_phases: Any  # (N_WAVES,)
    wall_amps: Any  # (N_WAVES,)
    on: Any  # (N_PARTS,) 1 if present
    cls: Any  # (N_PARTS,) Material
    albedo: Any  # (N_PARTS, 3)
    rough: Any  # (N_PARTS,) 0 mirror .. 1 matt
    metal: Any  # (N_PARTS,)
    dirt: Any  # (N_PARTS,)
    rings: Any  # (N_RINGS, 9) s, half width, edge, opacity, r, g, b, roughness, share of the turn
    scratches: Any  # strength of marks on the shaft
    light_dir: Any  # (3,) towards the light
    light_rgb: Any  # (3,)
    light_flash: Any  # 1: the light sits at the camera
    light_soft: Any  # tangent of its angular radius
    shade: Any  # how much of the sky nearby parts take away: 1 all that `tracing.AO_TAPS` say
    env_world: Any  # (3, 3) shaft frame -> world (z up)
    env_sky: Any  # (2, 3) horizon, zenith
    env_ground: Any  # (2, 3) horizon, nadir
    env_waves: Any  # (N_WAVES, 3)
    env_phases: Any  # (N_WAVES,)
    env_amps: Any  # (N_WAVES, 3)
    env_panel_dirs: Any  # (N_PANELS, 3, 3) rows: centre, across, up
    env_panel_half: Any  # (N_PANELS, 2) half sizes as tangents
    env_panel_rgb: Any  # (N_PANELS, 4) colour and opacity
    env_fine: Any  # (5,) strength and hardness of fine detail (leaves, tools on a wall), where its noise starts (3,)
    env_blur: Any  # how far out of focus the background is
    gain: Any  # exposure: linear image = gain * radiance


def stack(scenes: list[Any]) -> Any:
    """Return one scene, of the kind given, whose every field carries a leading axis over `scenes`."""
    return type(scenes[0])(*(np.stack(field) for field in zip(*scenes, strict=True)))


def as_float32(scene: Scene) -> Scene:
    """Return `scene` with every field as a float32 array."""
    return Scene(*(np.asarray(field, dtype=np.float32) for field in scene))
