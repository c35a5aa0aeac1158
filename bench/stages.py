"""Time of one reading by stage: each stage's own time, without that of the stages within it."""

from __future__ import annotations

import importlib
import statistics
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import wraps
from typing import Any

# Stage: the functions at which it begins, by module and name. A function is timed wherever a module of the project
# holds it, so moving a call to another module changes nothing here.
STAGES = {
    "decode": (("calibration.photo", "load_photo"),),
    "find card": (("calibration.find_card", "find_card"),),
    "grey": (("calibration.grey", "_grey"),),
    "views": tuple(("vision.geometry.views", name) for name in ("finder_view", "edge_view", "reader_view")),
    "finder network": (("vision.networks.run", "shaft_probability"),),
    "edge networks": (("vision.networks.run", "silhouette_class_probabilities"),),
    "rim network": (("vision.networks.run", "rim_side_probabilities"),),
    "reader network": (("vision.networks.run", "part_probabilities"),),
    "finder, around the network": (
        ("vision.shaft.find", "find_shaft"),
        ("vision.shaft.find", "check_unambiguous"),
    ),
    "edges, around the network": (("vision.shaft.fit", "fit_shaft"),),
    "solves": (("vision.adjustment.solve", "solve"),),
    "card's pose": (("calibration.pose", "card_pose"),),
    "scale check": (
        ("vision.shaft.scale_check", "scale_check"),
        ("vision.shaft.own_focal", "focal_factor"),
    ),
    "rims": (("vision.rims.choose", "choose"),),
    "lengths": (("vision.lengths.lengths", "lengths"),),
}
ROOMS = ("calibration", "vision", "strandline")
REST = "all else"


class _Begun(threading.local):
    """Stages that a thread has begun: name, start, time of the stages within."""

    def __init__(self) -> None:
        self.stages: list[list[Any]] = []


@dataclass
class Clock:
    """Own time of every stage, s, and how often each was entered; `now` is the clock that is read.

    Each thread has its own stages: simultaneous work counts in both.
    """

    now: Callable[[], float] = time.perf_counter
    own_s: dict[str, float] = field(default_factory=dict)
    calls: dict[str, int] = field(default_factory=dict)
    _begun: _Begun = field(default_factory=_Begun)

    def enter(self, stage: str) -> None:
        """Begin a stage."""
        self._begun.stages.append([stage, self.now(), 0.0])
        self.calls[stage] = self.calls.get(stage, 0) + 1

    def leave(self) -> None:
        """End the stage begun last."""
        stage, start, inner = self._begun.stages.pop()
        whole = self.now() - start
        self.own_s[stage] = self.own_s.get(stage, 0.0) + whole - inner
        if self._begun.stages:
            self._begun.stages[-1][2] += whole


@dataclass(frozen=True)
class StageTime:
    """Median own time of one stage, s, its share of the whole, and how often it is entered in one reading."""

    stage: str
    own_s: float
    share: float
    calls: int


def profile(
    job: Callable[[], object], rounds: int, now: Callable[[], float] = time.perf_counter
) -> list[StageTime]:
    """Run a job some times and divide its time by stage, the longest first.

    Parameters
    ----------
    job : callable
    rounds : int
    now : callable
        The clock that is read, s.
    """
    job()  # loads networks and modules, which is not to be timed
    clocks = []
    for _ in range(rounds):
        clock = Clock(now)
        with timed(clock):
            clock.enter(REST)
            job()
            clock.leave()
        clocks.append(clock)
    names = sorted({name for clock in clocks for name in clock.own_s})
    own = {name: statistics.median(clock.own_s.get(name, 0.0) for clock in clocks) for name in names}
    total = sum(own.values())
    calls = clocks[-1].calls
    found = [StageTime(name, own[name], own[name] / total, calls.get(name, 0)) for name in names]
    return sorted(found, key=lambda one: -one.own_s)


def unknown_stages(stages: Mapping[str, tuple[tuple[str, str], ...]] = STAGES) -> list[str]:
    """Functions named in such stages that the project no longer has."""
    return [
        f"{module}.{name}"
        for places in stages.values()
        for module, name in places
        if not hasattr(importlib.import_module(module), name)
    ]


@contextmanager
def timed(clock: Clock, stages: Mapping[str, tuple[tuple[str, str], ...]] = STAGES) -> Iterator[None]:
    """Wrap the stages' functions wherever the project's modules hold them.

    Parameters
    ----------
    clock : Clock
    stages : mapping
        As `STAGES`; no two threads are in one of them at a time.
    """
    undo: list[tuple[Any, str, Any]] = []
    for stage, places in stages.items():
        for module, name in places:
            original = getattr(sys.modules.get(module), name, None)
            if original is None:
                continue
            wrapped = _wrapped(original, stage, clock)
            for holder in [m for key, m in list(sys.modules.items()) if key.split(".")[0] in ROOMS] + [
                sys.modules[module]
            ]:
                if getattr(holder, name, None) is original:
                    undo.append((holder, name, original))
                    setattr(holder, name, wrapped)
    try:
        yield
    finally:
        for holder, name, original in undo:
            setattr(holder, name, original)


def _wrapped(original: Callable[..., Any], stage: str, clock: Clock) -> Callable[..., Any]:
    @wraps(original)
    def run(*args: Any, **kwargs: Any) -> Any:
        clock.enter(stage)
        try:
            return original(*args, **kwargs)
        finally:
            clock.leave()

    return run
