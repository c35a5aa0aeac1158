"""Collects the solids and materials of a scene of the second renderer, up to as many as it traces."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .lathe import N_BOXES, N_FACES, N_FRUSTA, N_MATERIAL_FIELDS, N_MATERIALS, N_RODS, Look
from .scene import Part


@dataclass
class Builder:
    """Collects a scene's solids and materials; what does not fit is left away."""

    frusta: list[list[float]] = field(default_factory=list)
    faces: list[list[float]] = field(default_factory=list)
    boxes: list[tuple[Any, Any, Any, int, int]] = field(default_factory=list)
    rods: list[tuple[Any, Any, float, int, int]] = field(default_factory=list)
    materials: list[Look] = field(default_factory=list)

    def material(self, look: Look) -> int:
        """Its number; the last one's where there is no room."""
        if len(self.materials) < N_MATERIALS:
            self.materials.append(look)
        return len(self.materials) - 1

    def stack(
        self, z: float, way: float, start_r: float, pieces: list[tuple[float, float, float, int]], part: Part,
        axis: tuple[float, float] = (0.0, 0.0), slope: tuple[float, float] = (0.0, 0.0), end_r: float = 0.0,
    ) -> float:  # fmt: skip
        """Pieces (length, radius there, radius at its end, material) one after the other from `z`; its end.

        A face closes the last one, down to `end_r`.
        """
        r = start_r
        for length, r0, r1, material in pieces:
            self.face(z, r, r0, part, material, axis, slope)
            end = z + way * max(length, 0.02)
            low, high, rl, rh = (z, end, r0, r1) if way > 0 else (end, z, r1, r0)
            if len(self.frusta) < N_FRUSTA:
                self.frusta.append([low, high, rl, rh, *axis, *slope, float(part), float(material)])
            z, r = end, r1
        if pieces:
            self.face(z, end_r, r, part, pieces[-1][3], axis, slope)
        return z

    def face(
        self, z: float, r: float, other: float, part: Part, material: int,
        axis: tuple[float, float] = (0.0, 0.0), slope: tuple[float, float] = (0.0, 0.0),
    ) -> None:  # fmt: skip
        """Add a ring-shaped face between two radii."""
        if abs(r - other) > 1e-3 and len(self.faces) < N_FACES:
            self.faces.append([z, min(r, other), max(r, other), *axis, *slope, float(part), float(material)])

    def box(self, centre: Any, rot: Any, half: Any, part: Part, material: int) -> None:
        """Add a box; `rot` (3, 3) takes the shaft frame to its own."""
        if len(self.boxes) < N_BOXES:
            self.boxes.append(
                (np.asarray(centre, float), np.asarray(rot, float), np.asarray(half, float), part, material)
            )

    def rod(self, a: Any, b: Any, radius: float, part: Part, material: int) -> None:
        """Add a round rod from a to b."""
        if len(self.rods) < N_RODS:
            self.rods.append((np.asarray(a, float), np.asarray(b, float), radius, part, material))

    def arrays(self) -> dict[str, np.ndarray]:
        """Return the fields of `LatheScene` that it fills."""

        def table(rows: list[list[float]], count: int, width: int, empty: list[float]) -> np.ndarray:
            out = np.tile(np.array(empty, float), (count, 1))
            if rows:
                out[: len(rows)] = rows
            return out.reshape(count, width)

        centre, rot = np.zeros((N_BOXES, 3)), np.tile(np.eye(3), (N_BOXES, 1, 1))
        half, is_box = np.full((N_BOXES, 3), -1.0), np.zeros((N_BOXES, 2))
        for i, (c, r, h, part, material) in enumerate(self.boxes):
            centre[i], rot[i], half[i], is_box[i] = c, r, h, (part, material)
        a, b = np.zeros((N_RODS, 3)), np.ones((N_RODS, 3))
        radius, is_rod = np.zeros(N_RODS), np.zeros((N_RODS, 2))
        for i, (p, q, r, part, material) in enumerate(self.rods):
            a[i], b[i], radius[i], is_rod[i] = p, q, r, (part, material)
        looks = np.zeros((N_MATERIALS, N_MATERIAL_FIELDS))
        for i, look in enumerate(self.materials):
            flat = np.concatenate([np.atleast_1d(np.asarray(v, float)) for v in look])
            looks[i, : len(flat)] = flat
        return {
            "frusta": table(self.frusta, N_FRUSTA, 10, [1e6, -1e6, 1, 1, 0, 0, 0, 0, 0, 0]),
            "faces": table(self.faces, N_FACES, 9, [1e6, 1, -1, 0, 0, 0, 0, 0, 0]),
            "box_centre": centre, "box_rot": rot, "box_half": half, "box_is": is_box,
            "rod_a": a, "rod_b": b, "rod_r": radius, "rod_is": is_rod, "materials": looks,
        }  # fmt: skip
