"""A whole day: photos per minute and their growth, memory, a second run, and decoding alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from bench.day_folder import large, one_leg, usual
from bench.day_measures import Place, SideBySide, side_by_side, twice
from bench.day_run import STAGES, Run
from bench.limits import Result, against, if_free
from bench.side_by_side import Ratio
from bench.stages import REST

# Sizes of days that are really read, up to the requested one; the first is also read on one core.
COUNTS = (30, 100, 300, 1000, 3000)
# Photos in a day of 12-megapixel photos: six per core are enough for a rate.
LARGE_PHOTOS = 12
# Cost of one more photo from a count to ten times it, over that from a tenth to the count: 1 for linear growth, 10 for
# quadratic growth. The limit is the geometric mean.
GROWTH_LIMIT = 3.0
# Cost of a day whose photos all show one leg, over one with ten photos per bike. It has no bike files to read and no
# bikes to show, so 1 would already be high.
ONE_LEG_LIMIT = 2.0
# Memory per photo, kB: a run may hold its results, some 7 kB [measured], but neither its picture (30 kB more) nor its
# file. From 300 to 3,000 photos 13 kB of it are a step that does not grow: pictures are reduced from 400 on.
OWN_KB_LIMIT = 25.0
# Memory of the largest worker of the largest day over that of the smallest. Photos and their order differ: the same
# day varied by 6 % from run to run [measured].
WORKER_LIMIT = 1.15
# Time per photo of a second run over a finished day, over that of reading it: 3,000 photos are checked in the time
# that 30 take to read. The project's own aim.
AGAIN_LIMIT = 0.01


def results(folder: Path, most: int, recorded: int, rounds: int) -> Iterator[Result]:
    """Measure all of it, line by line.

    Parameters
    ----------
    folder : Path
        Temporary; needs 0.2 MB of disk per photo of the largest day.
    most, recorded : int
        Photos of the largest day that is really read, at least 3, and of the largest with recorded answers.
    rounds : int
        Of measurements taken in turn.
    """
    place = Place.found(folder)
    if place is None:
        yield Result("A day on one core and on two: this machine has one core")
        return
    counts, answers, kind = real_counts(most), folder / "answers", usual(most)
    yield from _side_lines(side_by_side(place, kind, counts[0], rounds), "1.6 megapixels")
    phones = side_by_side(place, large(folder), min(counts[0], LARGE_PHOTOS), rounds)
    yield from _side_lines(phones, "12 megapixels")
    yield Result("Really read by two workers on two cores, and run once more when nothing is left to read:")
    real: dict[int, tuple[Run, Run]] = {}
    for count in counts:
        real[count] = twice(place, kind, count, to_record=answers if count == counts[0] else None)
        yield _real_line(*real[count])
    yield from _worker_lines({count: first.worker_mb for count, (first, _) in real.items()})
    yield Result("With recorded answers in place of the vision; processor time per photo, ms, by stage:")
    made: dict[int, tuple[Run, Run]] = {}
    for count in recorded_counts(recorded):
        made[count] = twice(place, kind, count, answers)
        yield _recorded_line(*made[count])
    leg = twice(place, one_leg(recorded), recorded, answers)
    yield _recorded_line(*leg, " of one leg")
    yield from _judged(made, leg[0], real[counts[-1]][0])


def real_counts(most: int) -> tuple[int, ...]:
    """Sizes of the days that are really read."""
    return (*(count for count in COUNTS if count < most), most)


def recorded_counts(most: int) -> tuple[int, ...]:
    """Sizes of the days with recorded answers: a hundredth, a tenth and the whole."""
    return tuple(dict.fromkeys(max(1, most // part) for part in (100, 10, 1)))


def growth(cost: Mapping[int, float]) -> float | None:
    """Compute the cost of one more between the two largest counts, over that between the two before.

    Parameters
    ----------
    cost : mapping from int to float
        Cost by count; a constant part cancels.

    Returns
    -------
    float or None
        None where there are fewer than three counts.
    """
    if len(cost) < 3:
        return None
    few, some, many = sorted(cost)[-3:]
    return slope(cost, some, many) / slope(cost, few, some)


def slope(cost: Mapping[int, float], first: int, last: int) -> float:
    """Cost of one more between two counts."""
    return (cost[last] - cost[first]) / (last - first)


def _side_lines(seen: SideBySide, about: str) -> Iterator[Result]:
    count, read = seen.last.photos, seen.last.read
    # Refusing is quick: a day of refused photos does not measure the time of reading.
    enough = 2 * read > count
    words = f"A day of {count} photos of {about}, {read} of them read, on one core and on two"
    yield Result(f"{words}:" if enough else f"{words}. Too FEW were read for a result:", enough)
    yield Result(f"  the program's start included: {_rates(seen.whole, count)}")
    words = f"  While all workers are at work: {_rates(seen.steady, count)}"
    for result in if_free(words, seen.steady.median, seen.arithmetic.median, str(seen.arithmetic)):
        yield Result(f"  {result.line.strip()}", result.kept)
    yield Result(
        f"  The whole run against Pillow's decoding of the same photos, both on two cores: {seen.decoding}"
    )
    yield Result(f"  The same without start and end: {seen.reading.median:.1f} times; {_peaks(seen.last)}")


def _rates(two_to_one: Ratio, count: int) -> str:
    found = two_to_one
    return (
        f"{60 * count / found.ours_s:.0f} photos/min and {60 * count / found.theirs_s:.0f}, "
        f"{found.median:.2f} times ({found.low:.2f} to {found.high:.2f}, {found.rounds} rounds)"
    )


def _real_line(first: Run, again: Run) -> Result:
    line = (
        f"  {first.photos:5d} photos, {first.read} read, {first.exceptions} exceptions: "
        f"{first.a_minute:.0f}/min, {first.steady_a_minute:.0f} without start and end; "
        f"{1e3 * first.own_cpu_s / first.photos:.0f} ms per photo of processor time outside the workers; "
        f"{_peaks(first)}; second run {again.wall_s:.1f} s, {100 * again.wall_s / first.wall_s:.1f} % of "
        f"{first.wall_s:.0f} s"
    )
    if again.worker_mb:  # a worker was started, so something was left to read
        return Result(f"{line}. It READ AGAIN: has the program changed meanwhile?", False)
    return Result(line)


def _recorded_line(first: Run, again: Run, what: str = "") -> Result:
    spent = {name: first.stages_s.get(name, 0.0) for name in (*STAGES, REST)}
    spent["workers"] = first.workers_cpu_s
    parts = ", ".join(f"{name} {1e3 * s / first.photos:.2f}" for name, s in spent.items())
    return Result(
        f"  {first.photos:5d} photos{what}: {parts}; total {first.wall_s:.1f} s and {first.own_mb:.0f} MB, "
        f"second run {again.wall_s:.1f} s and {again.own_mb:.0f} MB"
    )


def _worker_lines(peaks: Mapping[int, float]) -> Iterator[Result]:
    if len(peaks) < 2:
        yield Result("A worker's memory at few and at many photos: needs days of two sizes")
        return
    few, many = min(peaks), max(peaks)
    words = (
        f"A worker's peak memory at {many} photos over that at {few}: {peaks[many] / peaks[few]:.2f} times"
    )
    yield against(words, peaks[many] / peaks[few], WORKER_LIMIT)


def _judged(made: Mapping[int, tuple[Run, Run]], leg: Run, real: Run) -> Iterator[Result]:
    """Judge the growth shown by recorded answers against its limits."""
    cost = {count: first.bookkeeping_s for count, (first, _) in made.items()}
    ratio = growth(cost)
    if ratio is None:
        yield Result("Growth of cost and memory: needs more photos with recorded answers")
        return
    _, some, many = sorted(made)
    words = (
        f"One more photo, without small pictures, costs {1e3 * slope(cost, some, many):.1f} ms from {some} to {many} "
        f"photos, {ratio:.2f} times its cost up to there"
    )
    yield against(words, ratio, GROWTH_LIMIT)
    alone = leg.bookkeeping_s / cost[many]
    words = f"{many} photos of one leg cost {alone:.2f} times as much as the same number of many bikes"
    yield against(words, alone, ONE_LEG_LIMIT)
    kept_kb = 1e3 * slope({count: first.own_mb for count, (first, _) in made.items()}, some, many)
    yield against(f"The run's own memory grows by {kept_kb:.0f} kB per photo", kept_kb, OWN_KB_LIMIT)
    again_s = slope({count: again.wall_s for count, (_, again) in made.items()}, some, many)
    share = again_s * real.steady_a_minute / 60
    words = (
        f"A second run takes {1e3 * again_s:.1f} ms per photo, {100 * share:.2f} % of the time of reading it"
    )
    yield against(words, share, AGAIN_LIMIT)


def _peaks(one: Run) -> str:
    return f"peak {one.own_mb:.0f} MB, the larger worker {one.worker_mb:.0f} MB"
