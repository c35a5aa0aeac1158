"""Signed distances (mm) of the parts, for numpy or jax.numpy.

Points are arrays (3, N). Distances may be under-estimates away from the surface, never over-estimates of
more than the tracer's step factor allows. The formulas for rounded boxes, capsules and tori are the usual
closed forms of solid geometry.
"""

from __future__ import annotations

from typing import Any

from .scene import Part, Scene

FAR_AWAY_MM = 1.0e4


def _corner(a_mm: Any, b_mm: Any, xp: Any) -> Any:
    """Distance to the intersection of two half-spaces at right angles, with a round outer corner."""
    return xp.minimum(xp.maximum(a_mm, b_mm), 0.0) + xp.hypot(xp.maximum(a_mm, 0.0), xp.maximum(b_mm, 0.0))


def ring_zr(r_mm: Any, z_mm: Any, spec: Any, xp: Any) -> Any:
    """Signed distance of a rounded cylinder about the axis; `spec`: z low, z high, radius, rounding."""
    low, high, radius, rounding = spec[0], spec[1], spec[2], spec[3]
    side = r_mm - radius + rounding
    ends = xp.abs(z_mm - 0.5 * (low + high)) - 0.5 * (high - low) + rounding
    return _corner(side, ends, xp) - rounding


def frustum_zr(r_mm: Any, z_mm: Any, spec: Any, xp: Any) -> Any:
    """Signed distance of a rounded, grooved cone frustum.

    `spec`: z low, z high, radius low, high, rounding, groove, count.
    """
    low, high, r_low, r_high, rounding, groove, count = (spec[i] for i in range(7))
    slope = (r_high - r_low) / (high - low)
    share = (z_mm - low) / (high - low)
    inside = xp.clip(share, 0.0, 1.0)
    waist = groove * 0.5 * (1.0 - xp.cos(6.2831853 * count * inside))
    side = (r_mm - (r_low + (r_high - r_low) * inside) + waist) / xp.sqrt(1.0 + slope * slope) + rounding
    ends = xp.abs(z_mm - 0.5 * (low + high)) - 0.5 * (high - low) + rounding
    return _corner(side, ends, xp) - rounding


def box(x: Any, y: Any, z: Any, half: Any, rounding: Any, xp: Any) -> Any:
    """Signed distance of a rounded box about the origin."""
    qx = xp.abs(x) - half[0] + rounding
    qy = xp.abs(y) - half[1] + rounding
    qz = xp.abs(z) - half[2] + rounding
    outside = xp.sqrt(xp.maximum(qx, 0.0) ** 2 + xp.maximum(qy, 0.0) ** 2 + xp.maximum(qz, 0.0) ** 2)
    return outside + xp.minimum(xp.maximum(xp.maximum(qx, qy), qz), 0.0) - rounding


def capsule(p: Any, a: Any, b: Any, radius: Any, xp: Any) -> Any:
    """Capsule from `a` to `b`."""
    ab = b - a
    along = ((p[0] - a[0]) * ab[0] + (p[1] - a[1]) * ab[1] + (p[2] - a[2]) * ab[2]) / (ab @ ab)
    t = xp.clip(along, 0.0, 1.0)
    dx, dy, dz = p[0] - a[0] - t * ab[0], p[1] - a[1] - t * ab[1], p[2] - a[2] - t * ab[2]
    return xp.sqrt(dx * dx + dy * dy + dz * dz) - radius


def strap(p: Any, r_mm: Any, scene: Scene, xp: Any, slide: Any = 0.0) -> Any:
    """Tie's strap or O-ring on the shaft; `slide` moves it along the axis."""
    edge, width, thick, tilt_x, tilt_y, is_ring = (scene.marker[i] for i in range(6))
    z = p[2] - (edge + slide) - 0.5 * width - tilt_x * p[0] - tilt_y * p[1]
    rounding = 0.25  # moulded edges of a tie, mm
    band = (
        _corner(
            xp.abs(r_mm - scene.radius - 0.5 * thick) - 0.5 * thick + rounding,
            xp.abs(z) - 0.5 * width + rounding,
            xp,
        )
        - rounding
    )
    ring = xp.hypot(r_mm - scene.radius - 0.5 * width, z) - 0.5 * width
    return xp.where(is_ring > 0.5, ring, band)


def lock(p: Any, scene: Scene, xp: Any) -> Any:
    """Tie's lock block with the cut tail that leaves it along the tangent."""
    phi, half_r, half_t, half_z, tail = (scene.lock[i] for i in range(5))
    edge, width, thick = scene.marker[0], scene.marker[1], scene.marker[2]
    c, s = xp.cos(phi), xp.sin(phi)
    radial = c * p[0] + s * p[1]
    tangent = -s * p[0] + c * p[1]
    z = p[2] - edge - 0.5 * width - scene.marker[3] * p[0] - scene.marker[4] * p[1]
    out = radial - scene.radius - half_r
    block = box(out, tangent, z, (half_r, half_t, half_z), 0.4, xp)
    strip = box(
        radial - scene.radius - 1.3 * half_r,
        tangent - half_t - 0.5 * tail,
        z,
        (0.5 * thick, 0.5 * tail, 0.5 * width),
        0.2,
        xp,
    )
    return xp.minimum(block, strip)


def spring(p: Any, r_mm: Any, scene: Scene, xp: Any) -> Any:
    """Coil spring: a helix of round wire, a closed ring at either end."""
    mean, wire, pitch, low, turns, phase, hand = (scene.spring[i] for i in range(7))
    turn = (hand * xp.arctan2(p[1], p[0]) + phase) / 6.2831853
    turn = turn - xp.floor(turn)
    height = p[2] - low - pitch * turn
    k = xp.clip(xp.round(height / pitch), 0.0, turns - 1.0)
    lead = pitch / (6.2831853 * mean)
    flat = 1.0 / xp.sqrt(1.0 + lead * lead)  # across the wire, not along the axis
    across = r_mm - mean
    coil = xp.hypot(across, (height - k * pitch) * flat) - wire
    ends = xp.minimum(xp.abs(p[2] - low), xp.abs(p[2] - low - turns * pitch))
    return xp.minimum(coil, xp.hypot(across, ends) - wire)


def to_card(p: Any, scene: Scene, xp: Any) -> tuple[Any, Any, Any]:
    """Point in the card frame: x across, y away from the arrow, z away from the viewer."""
    rot, origin = scene.card_rot, scene.card_origin
    dx, dy, dz = p[0] - origin[0], p[1] - origin[1], p[2] - origin[2]
    return tuple(rot[0, i] * dx + rot[1, i] * dy + rot[2, i] * dz for i in range(3))


CARD_CENTRE_MM = (18.0, 84.0)
CARD_HALF_MM = (23.0, 89.0)  # 46 x 178 mm with its white margin
CARD_HALF_THICK_MM = 0.5  # stiff backing


def card(p: Any, scene: Scene, xp: Any) -> Any:
    """Signed distance of the card; its printed face is the plane z = 0 of the card frame, bent by `card_curl`."""
    x, y, z = to_card(p, scene, xp)
    x, y = x - CARD_CENTRE_MM[0] * scene.card_scale[0], y - CARD_CENTRE_MM[1] * scene.card_scale[1]
    half = (CARD_HALF_MM[0] * scene.card_scale[0], CARD_HALF_MM[1] * scene.card_scale[1], CARD_HALF_THICK_MM)
    # beyond its edges the bend stays what it is there, else far points would see too steep a distance
    bx, by = xp.clip(x, -half[0], half[0]), xp.clip(y, -half[1], half[1])
    bent = z - CARD_HALF_THICK_MM - scene.card_curl[0] * bx * bx - scene.card_curl[1] * by * by
    return box(x, y, bent, half, 0.1, xp)


def _bevelled(a_mm: Any, b_mm: Any, scene: Scene, xp: Any) -> Any:
    """Distance to the flat facets that take off the edge between two faces, themselves `a_mm` and `b_mm` away."""
    width, facets = scene.far_bevel[0], scene.far_bevel[1]
    # One facet at 45 degrees, or two as chords of the arc that rounds the edge.
    slant = xp.where(facets > 1.5, 0.39269908, 0.78539816)
    c, s = xp.cos(slant), xp.sin(slant)
    facet = xp.maximum(c * a_mm + s * b_mm, s * a_mm + c * b_mm) + width * s
    return xp.where(facets > 0.5, facet, -FAR_AWAY_MM)


def far_block(p: Any, scene: Scene, xp: Any) -> Any:
    """Lower clamp, axle foot or end eye: a box or a cylinder round the axis, rounded or bevelled; a boss with it."""
    c, s = xp.cos(scene.far_turn), xp.sin(scene.far_turn)
    x, y, z = (p[i] - scene.far_centre[i] for i in range(3))
    along, across = c * x + s * y, -s * x + c * y
    half, rounding = scene.far_half, scene.far_round
    end = xp.abs(z) - half[2]
    block = box(along, across, z, half, rounding, xp)
    qx, qy = xp.abs(along) - half[0], xp.abs(across) - half[1]
    for one, other in ((qx, end), (qy, end), (qx, qy)):
        block = xp.maximum(block, _bevelled(one, other, scene, xp))

    def drum(side: Any) -> Any:
        rounded = _corner(side + rounding, end + rounding, xp) - rounding
        return xp.maximum(rounded, _bevelled(side, end, scene, xp))

    boss = drum(xp.hypot(p[0], p[1]) - scene.far_boss)
    block = xp.where(scene.far_boss > 0, xp.minimum(block, boss), block)
    return xp.where(scene.far_is_cylinder > 0.5, drum(xp.hypot(x, y) - half[0]), block)


def seal_zr(r_mm: Any, z_mm: Any, scene: Scene, xp: Any) -> Any:
    """Dust wiper or seal lip: its face lies in the plane z = 0; it may stand off the shaft."""
    height, r_face, r_foot, rounding = (scene.lip[i] for i in range(4))
    zero = 0.0 * height
    solid = frustum_zr(r_mm, z_mm, (-height, zero, r_foot, r_face, rounding, zero, zero), xp)
    bore = xp.where(scene.lip_gap > 0.0, scene.radius + scene.lip_gap - r_mm, -FAR_AWAY_MM)
    return xp.maximum(solid, bore)


def _turned(p: Any, centre: Any, rot: Any) -> tuple[Any, Any, Any]:
    dx, dy, dz = p[0] - centre[0], p[1] - centre[1], p[2] - centre[2]
    return tuple(rot[i, 0] * dx + rot[i, 1] * dy + rot[i, 2] * dz for i in range(3))


def part_distance(part: int, p: Any, r_mm: Any, scene: Scene, xp: Any) -> Any:
    """Signed distance (N,) to one part from points `p` (3, N); `r_mm` = distance from the axis."""
    z = p[2]
    if part == Part.SHAFT:
        return xp.maximum(r_mm - scene.radius, xp.maximum(scene.shaft_z[0] - z, z - scene.shaft_z[1]))
    if part == Part.LIP:
        return seal_zr(r_mm, z, scene, xp)
    if part in (Part.FLANGE, Part.TUBE, Part.COLLAR, Part.PERCH):
        spec = {
            Part.FLANGE: scene.flange,
            Part.TUBE: scene.tube,
            Part.COLLAR: scene.collar,
            Part.PERCH: scene.perch,
        }[Part(part)]
        return ring_zr(r_mm, z, spec, xp)
    if part == Part.BUMPER:
        return frustum_zr(r_mm, z, scene.bumper, xp)
    if part == Part.FAR:
        return far_block(p, scene, xp)
    if part == Part.MARKER:
        return strap(p, r_mm, scene, xp)
    if part == Part.LOCK:
        return lock(p, scene, xp)
    if part == Part.SPRING:
        return spring(p, r_mm, scene, xp)
    if part == Part.CARD:
        return card(p, scene, xp)
    if Part.FINGER <= part <= Part.ROD_C:
        i = part - Part.FINGER
        return capsule(p, scene.capsule_a[i], scene.capsule_b[i], scene.capsule_r[i], xp)
    if part in (Part.BOX_A, Part.BOX_B):
        i = part - Part.BOX_A
        x, y, zz = _turned(p, scene.box_centre[i], scene.box_rot[i])
        return box(x, y, zz, scene.box_half[i], 1.0, xp)
    if part == Part.TYRE:
        x, y, zz = _turned(p, scene.tyre_centre, scene.tyre_rot)
        return xp.hypot(xp.hypot(x, y) - scene.tyre_radii[0], zz) - scene.tyre_radii[1]
    if Part.LEG_SHAFT <= part <= Part.LEG_MARKER:
        q = tuple(p[i] - scene.leg_offset[i] for i in range(3))
        rq = xp.hypot(q[0], q[1])
        if part == Part.LEG_SHAFT:
            return xp.maximum(rq - scene.radius, xp.maximum(scene.shaft_z[0] - q[2], q[2] - scene.shaft_z[1]))
        if part == Part.LEG_SEAL:
            lip = xp.minimum(seal_zr(rq, q[2], scene, xp), ring_zr(rq, q[2], scene.flange, xp))
            return xp.minimum(lip, ring_zr(rq, q[2], scene.tube, xp))
        if part == Part.LEG_CLAMP:
            return far_block(q, scene, xp)
        return strap(q, rq, scene, xp, slide=scene.leg_marker - scene.marker[0])
    raise ValueError(f"part {part} has no distance")
