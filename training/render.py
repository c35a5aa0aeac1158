"""Render training views of random scenes: ``python training/render.py --count N --seed S --out DIR``.

Every shard ``views_KKKKK.npz`` holds, for up to ``--shard`` scenes:

finder (n, 216, 128, 3) uint8, finder_label (n, 216, 128) uint8 (bit 0: exposed shaft, hidden or not; bit 1:
shaft or marker visible), reader (n, 1024, 64, 3) uint8, reader_label (n, 1024, 64) uint8 (see
`scenes.scene.Material`; the card beside the shaft is `CARD`), edges (n, 2, 256, 64, 3) uint8, edges_label
(n, 2, 256, 64) uint8 (how many of four samples show the bare shaft, plus 8 times how many show what lies behind
it), fine_edges and fine_edges_label (the same, finer, and closer to the silhouettes), fine_reach_u, rims
(n, 4, 96, 48, 3) uint8, rims_label (n, 4, 96, 48) uint8 (of four samples, how many lie on the bare shaft's side,
plus 5 times how many show something in front, plus 25 times how many show bare shaft), rims_slant (n, 4), px_mm,
diameter_mm, layout, exposed_mm, marker_mm (NaN: none), marker_colour, marker_width_mm, marker_kind,
reader_seal_row, reader_marker_row, reader_far_row (rows of the true planes), reader_card_row (beside which the
card's middle lies), reader_card_backwards (whether its arrow points away from the seal, the view's first rows),
seed.

The GPU (or CPU) traces with jax; a pool of processes adds what phones add. jax is needed here only.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from scenes import lathe, photo_bank, rectified
from scenes.degrade import auto_gain, develop, draw_phone
from scenes.focus import draw_focus, soften
from scenes.lathe_parts import POOL, TRADE
from scenes.lathe_scenes import draw_lathe
from scenes.pixels import Sampling, draw_grid, through_photo
from scenes.random_scenes import Drawn, draw
from scenes.scene import Material, Part, stack
from scenes.shading import HIGHLIGHT_LIMIT, SAMPLES, look

N_CLASSES = 8
AHEAD = 12  # so many batches of scenes are drawn before they are traced
# Focal lengths of phones' wide lenses, in pixels: photos of 3 megapixels, as they are sent, to 12, as they are taken.
FOCAL_PX = (1500.0, 3400.0)
# Of photos that are small or far away: the shaft is so many of their pixels wide, and a half of them were enlarged by
# up to so much afterwards: messengers, crops, pictures of pictures. Most real photographs at hand are such ones.
SMALL_SHARE, SMALL_SHAFT_PX, ENLARGED_SHARE, MOST_ENLARGED = 0.35, (20.0, 110.0), 0.5, 4.0
SMALL_JPEG, SMALL_BLUR = (30, 93), 0.4
# A view along the shaft is taken out of a photo's pixels where these are as coarse as its points: from here on, mm.
COARSE_PX_MM = 0.3
# A row of an edge view is the mean of so many places along it, as in `vision.geometry.views.edge_view`.
EDGE_ROWS_AVERAGED = round(rectified.EDGE_MM_PER_ROW / rectified.READER_MM_PER_ROW)
# A column of a rim's patch is the mean of so many places across it, as in `vision.rims.refine`.
RIM_COLUMNS_AVERAGED = 3
# Views that come out of a photo's own pixels, and how many places a row and a column of
# theirs are the mean of.
NEAR_VIEWS = {
    "edges": (EDGE_ROWS_AVERAGED, 1),
    "fine_edges": (EDGE_ROWS_AVERAGED, 1),
    "rims": (1, RIM_COLUMNS_AVERAGED),
}


class Fine(NamedTuple):
    """Position of the high-resolution views: along a better axis."""

    centre: Any  # (3,) as `rectified.reader_frame` has it
    step_u: Any  # (3,)
    step_s: Any  # (3,)
    reach_u: Any  # of the fine edge views, (1,)
    places_mm: Any  # the middles of the rims' patches, (4,)


@dataclass(frozen=True)
class Job:
    """One scene with its reader's axis."""

    drawn: Drawn
    reader: tuple[np.ndarray, np.ndarray, np.ndarray]  # centre, step u, step s
    axis: rectified.Axis
    px_mm: float  # of the photo, where the shaft is
    fine: Fine
    small: bool = False
    backwards: bool = False


@dataclass(frozen=True)
class Shares:
    """Shares of scenes: whose card lies backwards, whose photo is small, whose ends are those of `TRADE`."""

    backwards: float = 0.0
    small: float = SMALL_SHARE
    trade: float = 0.0


def make_job(seed: int, photos: int = 0, shares: Shares = Shares()) -> Job:
    """Draw scene `seed` and the jitter of its estimated axis; with photographs one for the second renderer."""
    backwards, of_the_trade = np.random.default_rng([seed, 8]).random(2) < (shares.backwards, shares.trade)
    drawn = draw_lathe(seed, photos, TRADE if of_the_trade else POOL) if photos else draw(seed)
    if backwards:
        drawn = replace(drawn, scene=rectified.card_backwards(drawn.scene))
    axis = rectified.jittered_axis(drawn, np.random.default_rng([seed, 1]))
    eye = np.asarray(drawn.eye_mm, float)
    rng = np.random.default_rng([seed, 4])
    far_mm = float(np.linalg.norm(eye - drawn.target_mm))
    px_mm = far_mm / float(np.exp(rng.uniform(*np.log(FOCAL_PX))))
    radius = float(drawn.scene.radius)
    sizes = np.random.default_rng([seed, 6])
    small, enlarged = bool(sizes.random() < shares.small), 1.0
    if small:
        px_mm = max(px_mm, 2 * radius / float(np.exp(sizes.uniform(*np.log(SMALL_SHAFT_PX)))))
        if sizes.random() < ENLARGED_SHARE:
            enlarged = float(np.exp(sizes.uniform(0, np.log(MOST_ENLARGED))))
    reach = rectified.fine_reach(px_mm / enlarged, radius)
    fine = rectified.reader_frame(rectified.solved_axis(drawn, rng, reach), eye)
    places = rectified.rim_places(drawn, fine, rng)
    return Job(
        drawn,
        rectified.reader_frame(axis, eye),
        axis,
        px_mm,
        Fine(*fine, np.array([reach]), places),
        small,
        bool(backwards),
    )


def make_jobs(seeds: list[int], photos: int, shares: Shares = Shares()) -> list[Job]:
    """Draw several scenes."""
    return [make_job(seed, photos, shares) for seed in seeds]


VIEWS = ("finder", "reader", "edges", "fine_edges", "rims")


def trace_views(
    scene: Any, eye: Any, reader: Any, fine: Any, xp: Any, wanted: tuple[str, ...] = VIEWS, look: Any = look
) -> tuple[Any, ...]:
    """Linear pictures of the wanted views, each followed by its labels, averaged over `SAMPLES`."""
    step_x, step_y = rectified.finder_steps(scene)
    (middle, step_u, step_s), near = reader, fine[:3]
    across, along = rectified.edge_steps(step_u, step_s)
    made = {
        "finder": lambda: (rectified.finder_points(scene, xp), step_x, step_y),
        "reader": lambda: (rectified.reader_points(middle, step_u, step_s, xp), step_u, step_s),
        "edges": lambda: (rectified.edge_points(middle, step_u, step_s, xp), across, along),
        "fine_edges": lambda: (
            rectified.edge_points(near[0], near[1], near[2], xp, fine.reach_u),
            *rectified.edge_steps(fine.step_u, fine.step_s, fine.reach_u),
        ),
        "rims": lambda: rectified.rim_points(near[0], near[1], near[2], fine.places_mm, eye, xp),
    }
    grids = {name: made[name]() for name in wanted}
    points = [
        (at + dx * right + dy * down).reshape(-1, 3)
        for dx, dy in SAMPLES
        for at, right, down in grids.values()
    ]
    d = rectified.rays(xp.concatenate(points), eye, xp).astype(xp.float32)
    rgb, part, t = look(scene, eye, d, xp)
    rgb = xp.minimum(rgb, HIGHLIGHT_LIMIT).reshape(len(SAMPLES), -1, 3).mean(0)
    printed = (part == int(Part.CARD)).reshape(len(SAMPLES), -1)
    bits = rectified.finder_labels(scene, eye, d, part, xp).reshape(len(SAMPLES), -1)
    cls = rectified.reader_labels(scene, eye, d, part, t, xp).reshape(len(SAMPLES), -1)
    d = d.reshape(len(SAMPLES), -1, 3)

    out: list[Any] = []
    start = 0
    for name, (at, _, _) in grids.items():
        shape = at.shape[:-1]
        here = slice(start, start + math.prod(shape))
        start = here.stop
        if name == "finder":
            half = len(SAMPLES) / 2
            label = ((bits[:, here] & 1).sum(0) >= half) + 2 * ((bits[:, here] >> 1).sum(0) >= half)
        elif name == "rims":
            each = zip(d[:, here], cls[:, here], strict=True)
            seen = xp.stack([rectified.rim_labels(scene, eye, *one, xp) for one in each])
            label = (seen & 1).sum(0) + 5 * ((seen >> 1) & 1).sum(0) + 25 * (seen >> 2).sum(0)
        elif name == "reader":
            label = (cls[:, here, None] == xp.arange(N_CLASSES)).sum(0).argmax(-1)
            card = (label == int(Material.OTHER)) & (2 * printed[:, here].sum(0) > len(SAMPLES))
            label = xp.where(card, int(Material.CARD), label)
        else:
            behind = (cls[:, here] == int(Material.OTHER)).sum(0)
            label = (cls[:, here] == int(Material.SHAFT)).sum(0) + 8 * behind
        out += [rgb[here].reshape(*shape, 3), label.astype(xp.uint8).reshape(shape)]
    return tuple(out)


def tracer(backend: str, wanted: tuple[str, ...] = VIEWS, bank: list[np.ndarray] | None = None) -> Any:
    """Return a function from a list of jobs to stacked (picture, label, picture, label, ...) arrays.

    With a bank of photographs the second renderer traces.
    """

    def looker(photos: Any) -> Any:
        return partial(lathe.look, bank=photos) if bank else look

    if backend == "numpy":

        def with_numpy(jobs: list[Job]) -> tuple[np.ndarray, ...]:
            out = [
                trace_views(j.drawn.scene, j.drawn.eye_mm, j.reader, j.fine, np, wanted, looker(bank))
                for j in jobs
            ]
            return tuple(np.stack(field) for field in zip(*out, strict=True))

        return with_numpy
    import jax
    import jax.numpy as jnp

    photos = [jnp.asarray(level) for level in bank] if bank else []

    @jax.jit
    def batch(scenes: Any, eyes: Any, readers: Any, fine: Any, photos: Any) -> Any:
        def one(args: Any) -> Any:
            scene, eye, reader, near = args
            views = trace_views(scene, eye, reader, near, jnp, wanted, looker(photos))
            return tuple(v if v.dtype == jnp.uint8 else v.astype(jnp.float16) for v in views)

        return jax.lax.map(one, (scenes, eyes, readers, fine))

    def with_jax(jobs: list[Job]) -> Any:
        scenes = stack([j.drawn.scene for j in jobs])
        eyes = np.stack([j.drawn.eye_mm for j in jobs]).astype(np.float32)
        readers = tuple(np.stack([j.reader[i] for j in jobs]).astype(np.float32) for i in range(3))
        fine = Fine(
            *(np.stack(field).astype(np.float32) for field in zip(*(j.fine for j in jobs), strict=True))
        )
        return batch(scenes, eyes, readers, fine, photos)

    return with_jax


def finish(job: Job, views: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Add what the phone adds, all views alike in exposure and blur (in mm).

    Edges are taken out of a photo's own pixels: of a thin shaft those are wider than the view's columns.
    """
    import cv2

    cv2.setNumThreads(1)
    rng = np.random.default_rng([job.drawn.seed, 2])
    views = {name: v.astype(np.float32) for name, v in views.items()}
    gain = auto_gain(next(views[name] for name in VIEWS if name in views))
    # Small photos were taken with more pixels than they have.
    sharp_mm = job.px_mm * (SMALL_BLUR if job.small else 1.0)
    phone = draw_phone(rng, job.drawn.exposure_ev, sharp_mm)
    grid = draw_grid(rng, job.px_mm)
    if job.small:
        phone = replace(phone, jpeg=int(np.random.default_rng([job.drawn.seed, 7]).integers(*SMALL_JPEG)))
    across = float(np.linalg.norm(job.reader[1]))
    (reach,) = job.fine.reach_u
    edge_across = float(np.linalg.norm(rectified.edge_steps(*job.reader[1:])[0]))
    fine_across = float(np.linalg.norm(rectified.edge_steps(job.fine.step_u, job.fine.step_s, reach)[0]))
    rim_across = 2 * rectified.RIM_U / rectified.RIM_SHAPE[1] * job.axis.radius_mm
    # Of each picture of a view, across and along.
    step_mm = {
        "finder": [(rectified.FINDER_MM_PER_PX, rectified.FINDER_MM_PER_PX)],
        "reader": [(across, rectified.READER_MM_PER_ROW)],
        "edges": [(edge_across, rectified.EDGE_MM_PER_ROW)] * 2,
        "fine_edges": [(fine_across, rectified.EDGE_MM_PER_ROW)] * 2,
        "rims": [(rim_across, row_mm) for row_mm in rectified.RIM_MM_PER_ROW],
    }

    focus = draw_focus(np.random.default_rng([job.drawn.seed, 5]), float(job.drawn.scene.exposed), sharp_mm)
    if focus:
        places = rows_s_mm(job)
        for name in places.keys() & views.keys():
            stacked = views[name][None] if name == "reader" else views[name]
            one_by_one = zip(stacked, places[name], step_mm[name], strict=True)
            soft = np.stack([soften(v, s, focus, step) for v, s, step in one_by_one])
            views[name] = soft[0] if name == "reader" else soft

    def near(light: np.ndarray, step: tuple[float, float], averaged: tuple[int, int]) -> np.ndarray:
        return through_photo(light, phone, rng, gain, Sampling(step, averaged), grid)

    return {
        name: np.stack(
            [near(one, step, NEAR_VIEWS[name]) for one, step in zip(v, step_mm[name], strict=True)]
        )
        if name in NEAR_VIEWS
        else near(v, step_mm[name][0], (1, 1))
        if name == "reader" and job.px_mm >= COARSE_PX_MM
        else develop(v, phone, rng, gain, step_mm[name][0])
        for name, v in views.items()
    }


def rows_s_mm(job: Job) -> dict[str, list[np.ndarray]]:
    """Positions along the shaft of the rows of each picture of the views along it; a rim's patch has one for all."""

    def along(centre: np.ndarray, rows: int, step_mm: float) -> np.ndarray:
        return float(centre[2]) + step_mm * (np.arange(rows) - 0.5 * (rows - 1))

    middle, near = job.reader[0], job.fine.centre
    edge_rows = rectified.EDGE_SHAPE[0]
    return {
        "reader": [along(middle, rectified.READER_SHAPE[0], rectified.READER_MM_PER_ROW)],
        "edges": [along(middle, edge_rows, rectified.EDGE_MM_PER_ROW)] * 2,
        "fine_edges": [along(near, edge_rows, rectified.EDGE_MM_PER_ROW)] * 2,
        "rims": [np.full(rectified.RIM_SHAPE[0], near[2] + place) for place in job.fine.places_mm],
    }


def _rows(job: Job) -> dict[str, float]:
    """Rows of the reader in which the true planes s = 0, marker edge and far end cross the true axis."""
    centre, _, step_s = job.reader
    scale = float(step_s @ step_s)
    middle = 0.5 * (rectified.READER_SHAPE[0] - 1)

    def row(s_mm: float) -> float:
        return middle + float((np.array([0.0, 0.0, s_mm]) - centre) @ step_s) / scale

    scene = job.drawn.scene
    return {
        "reader_seal_row": row(0.0),
        "reader_marker_row": row(float(scene.marker[0])) if job.drawn.has_marker else np.nan,
        "reader_far_row": row(float(scene.exposed)),
        "reader_card_row": middle + float((_card_middle(scene) - centre) @ step_s) / scale,
    }


def _card_middle(scene: Any) -> np.ndarray:
    """Return the middle of the card's face (3,), shaft frame."""
    on_card = np.append(np.array(rectified.CARD_MIDDLE_MM) * scene.card_scale, 0.0)
    return np.asarray(scene.card_rot @ on_card + scene.card_origin, float)


def _slants(job: Job) -> np.ndarray:
    """Tangents (4,) of the angles at which the rims are seen, positive from the bare shaft's side."""
    axis = job.fine.step_s / np.linalg.norm(job.fine.step_s)
    to_eye = np.asarray(job.drawn.eye_mm, float) - job.fine.centre
    along = float(to_eye @ axis)
    distance = float(np.linalg.norm(to_eye - along * axis))
    found: np.ndarray = np.array(rectified.RIM_SIGNS) * (along - job.fine.places_mm) / distance
    return found


def facts(job: Job) -> dict[str, Any]:
    """Collect the declared values and the truth."""
    drawn = job.drawn
    return {
        "diameter_mm": drawn.declared_diameter_mm,
        "px_mm": job.px_mm,
        "fine_reach_u": float(job.fine.reach_u[0]),
        "rims_slant": _slants(job),
        "layout": drawn.layout,
        "exposed_mm": float(drawn.scene.exposed),
        "marker_mm": float(drawn.scene.marker[0]) if drawn.has_marker else np.nan,
        "marker_colour": drawn.marker_colour,
        "marker_width_mm": drawn.marker_width_mm,
        "marker_kind": drawn.marker_kind,
        "seed": drawn.seed,
        "reader_card_backwards": job.backwards,
        **_rows(job),
    }


def write_shard(path: Path, jobs: list[Job], labels: list[Any], pictures: list[Future[Any]]) -> None:
    """Write one npz file."""
    done = [p.result() for p in pictures]
    table = [facts(j) for j in jobs]
    columns = {name: np.array([row[name] for row in table]) for name in table[0]}
    views = {name: np.stack([d[name] for d in done]) for name in done[0]}
    views |= {f"{name}_label": np.stack([k[name] for k in labels]) for name in done[0]}
    unfinished = path.with_suffix(".part")
    with unfinished.open("wb") as out:
        np.savez(out, **{**views, **columns})  # type: ignore[arg-type]  # stubs: a keyword of numpy's own
    unfinished.rename(path)  # a run that is cut off leaves no half of a shard


def main() -> None:
    """Read the options, render, write shards."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, required=True, help="scenes")
    parser.add_argument("--seed", type=int, default=0, help="seed of the first scene; the next ones follow")
    parser.add_argument("--out", type=Path, required=True, help="folder for the shards")
    parser.add_argument("--backend", choices=("jax", "numpy"), default="jax")
    parser.add_argument("--batch", type=int, default=8, help="scenes per call of the compiled function")
    parser.add_argument("--shard", type=int, default=256, help="scenes per file, a multiple of the batch")
    parser.add_argument("--workers", type=int, default=16, help="processes that add the phone's faults")
    parser.add_argument("--views", default=",".join(VIEWS), help=f"of {', '.join(VIEWS)}; commas between")
    parser.add_argument(
        "--lathe", type=Path, help="the second renderer, with the photographs of this file behind it"
    )
    parser.add_argument("--backwards", type=float, default=0.0, help="share of cards laid backwards")
    parser.add_argument("--small", type=float, default=SMALL_SHARE, help="share of photos that are small")
    parser.add_argument("--trade", type=float, default=0.0, help="share with `lathe_parts.TRADE`'s ends")
    args = parser.parse_args()
    shares = Shares(args.backwards, args.small, args.trade)
    wanted = tuple(args.views.split(","))
    if not set(wanted) <= set(VIEWS):
        parser.error(f"--views takes {', '.join(VIEWS)}")
    args.out.mkdir(parents=True, exist_ok=True)
    if args.shard % args.batch:
        parser.error("--shard must be a multiple of --batch")
    started = time.monotonic()
    import multiprocessing

    # spawned, not forked: a fork of a process that holds a GPU hangs
    with ProcessPoolExecutor(args.workers, multiprocessing.get_context("spawn")) as pool:
        bank = photo_bank.load(args.lathe) if args.lathe else None
        run = tracer(args.backend, wanted, bank)
        seeds = list(range(args.seed, args.seed + args.count))
        pending: Any = None
        jobs: list[Job] = []
        labels: list[Any] = []
        pictures: list[Future[Any]] = []

        def collect(batch: list[Job], views: Any) -> None:
            arrays = [np.asarray(v) for v in views]
            for i, job in enumerate(batch):
                jobs.append(job)
                labels.append({name: v[i] for name, v in zip(wanted, arrays[1::2], strict=True)})
                linear = {name: v[i] for name, v in zip(wanted, arrays[::2], strict=True)}
                pictures.append(pool.submit(finish, job, linear))
            if len(jobs) >= args.shard:
                flush()

        def flush() -> None:
            if jobs:
                write_shard(args.out / f"views_{jobs[0].drawn.seed:06d}.npz", jobs, labels, pictures)
                for kept in (jobs, labels, pictures):
                    kept.clear()
                print(f"{time.monotonic() - started:7.1f} s  to seed {seeds[0]}+", flush=True)

        photos = len(bank[0]) if bank else 0
        starts = range(0, len(seeds), args.batch)

        def draw_ahead(start: int) -> Future[list[Job]]:
            return pool.submit(make_jobs, seeds[start : start + args.batch], photos, shares)

        drawn = [draw_ahead(start) for start in starts[:AHEAD]]
        for start in starts:
            batch = drawn.pop(0).result()
            if start + AHEAD * args.batch < len(seeds):
                drawn.append(draw_ahead(start + AHEAD * args.batch))
            full = batch + batch[-1:] * (args.batch - len(batch)) if args.backend == "jax" else batch
            views = run(full)  # returns before it is done; the last batch is read while this one runs
            if pending is not None:
                collect(*pending)
            pending = (batch, views)
            if start == 0:
                print(f"{time.monotonic() - started:7.1f} s  compiled", flush=True)
        if pending is not None:
            collect(*pending)
        flush()
    print(f"{time.monotonic() - started:7.1f} s  {len(seeds)} scenes", flush=True)


if __name__ == "__main__":
    main()
