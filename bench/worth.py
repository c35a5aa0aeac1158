"""Effect of each part of the reading: ``python -m bench.worth`` reads rendered photos with parts left out.

Every photo is read once. Then its lengths are solved again from the same points without a part of the prior
knowledge, and compared with the photo's truth. The table stands in docs/accuracy.md.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from calibration.focal import focal_px_prior
from calibration.light import linear_table
from calibration.photo import load_photo
from calibration.upright import turned
from strandline.demo.samples import find_folder, load_samples
from strandline.read.inputs import request_for
from strandline.read.parse import ReadOptions, parse_options
from vision.adjustment.observations import Observations, RimPoints
from vision.adjustment.solve import solve
from vision.lengths.lengths import U95_LIMIT_MM
from vision.names import LengthName
from vision.read import read_traced
from vision.reading import Joint

PHOTOS = Path(__file__).parents[1] / "tests" / "vision" / "photos"
_LAYOUTS = {
    "fork": "fork",
    "upside_down_fork": "upside-down-fork",
    "coil_over": "shock",
    "bare_shock": "shock",
}
# Standard uncertainty of an unknown diameter, mm: half a fork tube's; and of an exactly known depth.
NOTHING_MM, EXACT_MM = 20.0, 0.01
# Reach of the profile across a silhouette, px each way, beyond three times its blur; its uniform ends, px.
BEYOND_BLUR_PX, ENDS_PX = 1.0, 1.0
# Smallest step that counts as an edge, of 255 code values: below it noise and JPEG decide.
LEAST_STEP = 12.0


@dataclass(frozen=True)
class Known:
    """One photo that was read, and its true lengths, mm."""

    name: str
    pixels: np.ndarray
    joint: Joint
    unrefined: tuple[RimPoints, ...]
    true_mm: dict[str, float]


@dataclass(frozen=True)
class Worth:
    """Result of one way of reading over all lengths.

    Attributes
    ----------
    way : str
    answered : int
        Lengths with u95 within the limit.
    lengths : int
        All lengths that the rims found would give.
    median_mm, p95_mm, worst_mm : float
        Of the absolute errors of all of these.
    u95_mm : float
        Median claimed.
    inside : float
        Share of the errors within their u95.
    """

    way: str
    answered: int
    lengths: int
    median_mm: float
    p95_mm: float
    worst_mm: float
    u95_mm: float
    inside: float


def _as_it_is(known: Known) -> Observations:
    return known.joint.observations


def _declared(observations: Observations, **more: float) -> Observations:
    return replace(observations, declared=replace(observations.declared, **more))


def _no_diameter(known: Known) -> Observations:
    return _declared(known.joint.observations, diameter_sd_mm=NOTHING_MM)


def _card_exactly_level(known: Known) -> Observations:
    return replace(_no_diameter(known), card_depth_sd_mm=EXACT_MM)


def _no_card_scale(known: Known) -> Observations:
    # The card still gives the directions; neither its size nor its depth gives the scale.
    return replace(_declared(known.joint.observations, print_sd=1.0), use_card_depth=False)


def _lens_assumed_exact(known: Known) -> Observations:
    return replace(
        known.joint.observations, focal_rel_sd=1e-4, focal_extra_sd=0.0, k1_sd=1e-4, centre_sd_px=0.01
    )


def _without_refinement(known: Known) -> Observations:
    return replace(known.joint.observations, rims=known.unrefined)


def _marker_without_thickness(known: Known) -> Observations:
    # The refinement networks were trained to allow for thickness: it can only be left out without them.
    flat = [
        replace(rim, height_mm=0.0, height_sd_mm=0.0) if rim.name.on_marker else rim
        for rim in known.unrefined
    ]
    return replace(_without_refinement(known), rims=tuple(flat))


def _edges_in_linear_light(known: Known) -> Observations:
    return _edges_at_half_step(known, linear_table())


def _edges_in_stored_values(known: Known) -> Observations:
    return _edges_at_half_step(known, np.arange(256.0))


WAYS: dict[str, Callable[[Known], Observations]] = {
    "card and diameter: as it is": _as_it_is,
    "card alone, level to 3 mm or so": _no_diameter,
    "card alone, assumed exactly level": _card_exactly_level,
    "diameter alone": _no_card_scale,
    "both, lens assumed exact": _lens_assumed_exact,
    "both, without rim refinement": _without_refinement,
    "both, without rim refinement, marker assumed to have no thickness": _marker_without_thickness,
    "both, edges at half the step in linear light": _edges_in_linear_light,
    "both, edges at half the step in stored values": _edges_in_stored_values,
}


def _edges_at_half_step(known: Known, light: np.ndarray) -> Observations:
    e = known.joint.observations
    grey = known.pixels.astype(np.float32) @ np.array([0.299, 0.587, 0.114], np.float32)
    reach = 3 * e.sighting.blur_px + BEYOND_BLUR_PX + ENDS_PX
    return replace(
        e,
        left_px=at_half_step(grey, e.left_px, reach, light),
        right_px=at_half_step(grey, e.right_px, reach, light),
    )


def at_half_step(grey: np.ndarray, points_px: np.ndarray, reach_px: float, light: np.ndarray) -> np.ndarray:
    """Move points of a straight edge to where the light is half way between its two sides.

    Parameters
    ----------
    grey : ndarray of shape (h, w)
        Code values.
    points_px : ndarray of shape (n, 2)
    reach_px : float
        Reach of the profile each way.
    light : ndarray of shape (256,)
        Light of each code value.

    Returns
    -------
    ndarray of shape (n, 2)
        Points without a clear step keep their position.
    """
    from scipy.ndimage import map_coordinates

    if len(points_px) < 3:
        return points_px
    along = np.linalg.svd(points_px - points_px.mean(axis=0))[2][0]
    across = np.array([-along[1], along[0]])
    t = np.linspace(-reach_px, reach_px, 1 + 2 * round(reach_px / 0.1))
    at = points_px[:, None, :] + t[None, :, None] * across
    places = [at[..., 1], at[..., 0]]
    code = map_coordinates(grey, places, order=1, mode="nearest")
    value = map_coordinates(np.interp(grey, np.arange(256.0), light), places, order=1, mode="nearest")
    ends = np.abs(t) > reach_px - ENDS_PX
    low, high = ((side(t, 0) & ends) for side in (np.less, np.greater))
    out = points_px.copy()
    for k in range(len(out)):
        if abs(code[k, high].mean() - code[k, low].mean()) < LEAST_STEP:
            continue
        share = (value[k] - value[k, low].mean()) / (value[k, high].mean() - value[k, low].mean()) - 0.5
        crossings = np.flatnonzero(np.diff(np.sign(share)))
        if len(crossings):
            near = crossings[np.argmin(np.abs(t[crossings]))]
            shift = t[near] - share[near] * (t[near + 1] - t[near]) / (share[near + 1] - share[near])
            out[k] += shift * across
    return out


def photos() -> Iterator[tuple[Path, ReadOptions, dict[str, float]]]:
    """Iterate over rendered photos with the options of each and its true lengths."""
    for path in sorted(PHOTOS.glob("*.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        d = truth["declared"]
        typed = ReadOptions(
            shaft=f"{d['shaft_diameter_mm']:.2f} mm",
            layout=_LAYOUTS[d["layout"]],
            print_scale=f"{d['print_scale']:g}",
            marker_width=f"{d['marker_width_mm']:.1f} mm",
        )
        lengths = {name.field: truth[name.field] for name in LengthName if truth[name.field] is not None}
        yield path.with_suffix(".jpg"), typed, lengths
    for sample in load_samples(find_folder(None)):
        if sample.rendered:
            yield sample.path, sample.options, sample.rendered


def read_all() -> list[Known]:
    """All of them that are read, at least in part."""
    out = []
    for path, typed, true_mm in photos():
        photo = load_photo(path)
        pixels = turned(photo.stored, photo.quarter_turns)
        reading, trace = read_traced(
            pixels, request_for(parse_options(typed), focal_px_prior(photo), photo.quarter_turns)
        )
        if reading.joint is not None and trace.choice is not None:
            # In the order of the rims that were solved with.
            unrefined = trace.choice.unrefined
            first = tuple(unrefined[rim.name] for rim in reading.joint.observations.rims)
            out.append(Known(path.name, pixels, reading.joint, first, true_mm))
    return out


def worth(way: str, known: list[Known]) -> Worth:
    """Solve all photos again one way, and compare with the truth."""
    errors, claims = [], []
    for one in known:
        observations = WAYS[way](one)
        found = solve(one.joint.solution.theta, observations)
        names = list(found.rim_s_mm)
        for quantity in LengthName:
            start, end = quantity.rims
            if not {start, end} <= set(names) or quantity.field not in one.true_mm:
                continue
            g = np.array([(name == end) - (name == start) for name in names], float)
            errors.append(abs(found.rim_s_mm[end] - found.rim_s_mm[start] - one.true_mm[quantity.field]))
            claims.append(2 * float(np.sqrt(g @ found.rim_covariance_mm2 @ g)))
    e, u = np.array(errors), np.array(claims)
    return Worth(
        way,
        int(np.sum(u <= U95_LIMIT_MM)),
        len(e),
        float(np.median(e)),
        float(np.percentile(e, 95)),
        float(e.max()),
        float(np.median(u)),
        float(np.mean(e <= u)),
    )


def table(rows: list[Worth], count: int) -> str:
    """Format the table as Markdown."""
    lines = [
        f"| way of reading ({rows[0].lengths} lengths on {count} photos) | median error | 95th percentile | worst | "
        "median u95 | inside u95 | u95 within 3 mm |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    lines += [
        f"| {r.way} | {r.median_mm:.2f} mm | {r.p95_mm:.2f} mm | {r.worst_mm:.2f} mm | {r.u95_mm:.2f} mm | "
        f"{100 * r.inside:.0f} % | {r.answered} |"
        for r in rows
    ]
    return "\n".join(lines)


def main() -> None:
    """Print the table."""
    argparse.ArgumentParser(
        prog="python -m bench.worth", description=(__doc__ or "").split(";")[0]
    ).parse_args()
    known = read_all()
    print(table([worth(way, known) for way in WAYS], len(known)))


if __name__ == "__main__":
    main()
