"""Marks that a hand set on a photograph of a shaft, and what they say of each of its points.

A file of marks is a list of objects, all places in pixels of the upright photograph:

    name, file, diameter_mm     diameter_mm: plausible for the kind of shaft; variants vary it
    edges                       two lines of two points each, one along either silhouette
    seal, far                   a point of the lip, of the far rim, on the side that faces the camera; null: hidden
    seal_limit, far_limit       where one is hidden: up to here bare shaft is seen
    bend                        by how much both rims lie nearer to the far end at the silhouettes, px (0)
    seal_body, far_body         [length, half-width] in radii of what surely belongs to that end (none)
    clear                       of either edge, how far beside the shaft all is background, radii ([0, 0])
    in_front, unknown           polygons ([])
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

from vision.networks.classes import Part

UNKNOWN = 255
# A hand's mark is good to about this, px; what lies nearer to a border is labelled unknown.
MARK_PX = 1.0
# Of that, along the middle of the shaft, where a rim is marked: hands' errors are to show as a transition's width, not
# to leave it free. Beyond this many radii a bend that nobody marked is as large as the mark's error.
SHARP_SHARE, SHARP_U = 0.4, 0.5


@dataclass(frozen=True)
class Marked:
    """A shaft as it was marked.

    Attributes
    ----------
    name : str
    diameter_mm : float
    middle_px, along : ndarray of shape (2,)
        A point of the axis, and its direction towards the far end, of unit length.
    radius_px, taper : float
        Half-width at `middle_px`, and by how much it grows with each pixel along the axis.
    ends_px : tuple of float
        Where bare shaft is seen, from the seal's side to the far one, px along the axis from `middle_px`.
    rims : tuple of bool
        Whether the seal's lip and the far rim are what ends it.
    mark_px : float
        What a mark is good to, px.
    raw : dict
        The marks as they were read.
    """

    name: str
    diameter_mm: float
    middle_px: np.ndarray
    along: np.ndarray
    radius_px: float
    taper: float
    ends_px: tuple[float, float]
    rims: tuple[bool, bool]
    mark_px: float
    raw: dict[str, Any]

    @property
    def across(self) -> np.ndarray:
        """Direction of growing u: to the right where the far end lies below."""
        return np.array([self.along[1], -self.along[0]])

    def places(self, xy_px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Place along the axis, px, and across it, radii, of points of the photograph, shape (..., 2)."""
        off = xy_px - self.middle_px
        t = off @ self.along
        return t, off @ self.across / np.maximum(self.radius_px + self.taper * t, 1.0)

    def positions(self, s_mm: np.ndarray, u: np.ndarray, px_per_mm: float) -> np.ndarray:
        """Points of the photograph, shape (..., 2), at places along, mm from `middle_px`, and across, radii."""
        grow = self.taper * px_per_mm / self.radius_px
        # a shaft that runs away from the camera shows ever fewer pixels a millimetre
        t = s_mm * px_per_mm if abs(grow) < 1e-9 else np.expm1(grow * s_mm) / grow * px_per_mm
        return self.at(t, u)

    def at(self, t_px: np.ndarray, u: np.ndarray) -> np.ndarray:
        """Points of the photograph, shape (..., 2), at places along, px, and across, radii: the inverse of `places`."""
        off = u * np.maximum(self.radius_px + self.taper * t_px, 1.0)
        return np.asarray(self.middle_px + t_px[..., None] * self.along + off[..., None] * self.across)

    def bend_px(self, u: np.ndarray) -> np.ndarray:
        """By how much a rim lies nearer to the far end at u than on the axis."""
        bend = float(self.raw.get("bend", 0.0))
        return np.asarray(bend * (1 - np.sqrt(np.clip(1 - u**2, 0, 1))))


def enlarged(raw: dict[str, Any], low_px: np.ndarray, factor: float) -> dict[str, Any]:
    """Move marks into a part of the photograph, from `low_px` on, that is enlarged by a factor."""

    def moved(place: Any) -> Any:
        if place is None or not len(place):
            return place
        return ((np.array(place, float) - low_px + 0.5) * factor - 0.5).tolist()

    out = dict(raw)
    for name in ("seal", "far", "seal_limit", "far_limit"):
        out[name] = moved(raw.get(name))
    for name in ("edges", "in_front", "unknown"):
        out[name] = [moved(one) for one in raw.get(name, [])]
    out["bend"], out["mark_px"] = factor * raw.get("bend", 0.0), factor * raw.get("mark_px", MARK_PX)
    return out


def part_round(
    pixels: np.ndarray, raw: dict[str, Any], least_radius_px: float
) -> tuple[np.ndarray, dict[str, Any]]:
    """Cut the part of a photograph round a shaft that views show, enlarged where it is small, and its marks."""
    shaft = marked(raw)
    factor = max(1.0, least_radius_px / shaft.radius_px)
    half = max(np.abs(shaft.ends_px)) + 14 * shaft.radius_px
    size = np.array(pixels.shape[1::-1])
    low = np.clip(np.floor(shaft.middle_px - half), 0, size - 1).astype(int)
    high = np.clip(np.ceil(shaft.middle_px + half), low + 1, size).astype(int)
    part = pixels[low[1] : high[1], low[0] : high[0]]
    if factor > 1:
        factor = float(np.round(factor * part.shape[1]) / part.shape[1])
        part = cv2.resize(part, None, fx=factor, fy=factor, interpolation=cv2.INTER_CUBIC)
    return part, enlarged(raw, low, factor)


def marked(raw: dict[str, Any]) -> Marked:
    """Read the marks of one shaft.

    Raises
    ------
    ValueError
        If neither end is marked, or the ends are the wrong way round.
    """
    first, second = (np.array(line, float) for line in raw["edges"])
    if (first[1] - first[0]) @ (second[1] - second[0]) < 0:
        second = second[::-1]
    ways = [(line[1] - line[0]) / np.linalg.norm(line[1] - line[0]) for line in (first, second)]
    along = (ways[0] + ways[1]) / np.linalg.norm(ways[0] + ways[1])
    ends = [raw.get("seal") or raw.get("seal_limit"), raw.get("far") or raw.get("far_limit")]
    if None in ends:
        raise ValueError(f"{raw['name']}: where does bare shaft end?")
    seal, far = (np.array(end, float) for end in ends)
    if (far - seal) @ along < 0:
        along, ways = -along, [-way for way in ways]
    middle = 0.5 * (seal + far)
    across = np.array([along[1], -along[0]])

    def off_px(line: np.ndarray, way: np.ndarray, t: float) -> float:
        return float((line[0] + way * ((t - (line[0] - middle) @ along) / (way @ along)) - middle) @ across)

    sides = [
        [off_px(line, way, t) for t in (0.0, 1.0)] for line, way in zip((first, second), ways, strict=True)
    ]
    # the axis runs midway between the silhouettes: so is its direction
    shift = 0.5 * (sides[0][0] + sides[1][0])
    turn = 0.5 * (sides[0][1] + sides[1][1]) - shift
    along = (along + turn * across) / np.linalg.norm(along + turn * across)
    middle = middle + shift * across
    radius = [0.5 * abs(sides[0][k] - sides[1][k]) for k in (0, 1)]
    return Marked(
        raw["name"], float(raw["diameter_mm"]), middle, along, radius[0], radius[1] - radius[0],
        (float((seal - middle) @ along), float((far - middle) @ along)),
        (bool(raw.get("seal")), bool(raw.get("far"))), float(raw.get("mark_px", MARK_PX)), raw,
    )  # fmt: skip


def labels(shaft: Marked, xy_px: np.ndarray) -> np.ndarray:
    """Find what is seen at points of the photograph, shape (..., 2): a `Part`, or `UNKNOWN` where no mark says it."""
    (t, u), mark_px = shaft.places(xy_px), shaft.mark_px
    out = np.full(t.shape, UNKNOWN, np.uint8)
    edge = (mark_px + 0.03 * shaft.radius_px) / shaft.radius_px
    start, end = (place + shaft.bend_px(u) for place in shaft.ends_px)
    gap_px = np.where(np.abs(u) < SHARP_U, SHARP_SHARE * mark_px, mark_px)
    bare = (t > start + gap_px) & (t < end - gap_px)
    first_at = np.sign(shaft.places(np.array(shaft.raw["edges"][0][0], float))[1])
    for side, reach in zip((first_at, -first_at), shaft.raw.get("clear", (0, 0)), strict=True):
        out[bare & (u * side > 1 + edge) & (u * side < 1 + reach)] = Part.ELSE
    out[bare & (np.abs(u) < 1 - edge)] = Part.SHAFT
    bodies = (("seal_body", start - t, int(Part.SEAL)), ("far_body", t - end, int(Part.FAR_END)))
    for (name, beyond, part), rim in zip(bodies, shaft.rims, strict=True):
        if rim and name in shaft.raw:
            length, half = shaft.raw[name]
            out[(beyond > gap_px) & (beyond < length * shaft.radius_px) & (np.abs(u) < half)] = part
    for name, part in (("in_front", int(Part.IN_FRONT)), ("unknown", UNKNOWN)):
        for polygon in shaft.raw.get(name, []):
            off = off_polygon(np.array(polygon, float), xy_px)
            out[off > -mark_px] = UNKNOWN
            out[off > mark_px] = part
    return out


def off_polygon(polygon: np.ndarray, xy_px: np.ndarray) -> np.ndarray:
    """Distance of points from a polygon's border, px, positive inside."""
    nearest, inside = np.full(xy_px.shape[:-1], np.inf), np.zeros(xy_px.shape[:-1], bool)
    x, y = xy_px[..., 0], xy_px[..., 1]
    for a, b in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        along = b - a
        share = np.clip((xy_px - a) @ along / max(float(along @ along), 1e-9), 0, 1)
        nearest = np.minimum(nearest, np.linalg.norm(xy_px - a - share[..., None] * along, axis=-1))
        if along[1] != 0:  # a ray to the right crosses this side
            inside ^= ((a[1] > y) != (b[1] > y)) & (x < a[0] + (y - a[1]) * along[0] / along[1])
    return np.where(inside, nearest, -nearest)
