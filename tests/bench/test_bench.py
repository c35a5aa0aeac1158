"""What the benchmark says of known amounts of work; its own arithmetic has no outside source."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from bench.measures import heavy_in_help
from bench.photo12 import DEFAULT, enlarged
from bench.side_by_side import compare, ratio_of
from bench.stages import REST, STAGES, Clock, profile, unknown_stages
from calibration.focal import focal_px_prior
from calibration.photo import load_photo


class ManualClock:
    """A clock that a test moves: what is asserted does not depend on the machine's load."""

    def __init__(self) -> None:
        self.time_s = 100.0

    def __call__(self) -> float:
        return self.time_s


def test_ratio_is_taken_round_by_round() -> None:
    # A machine that slows down tenfold half way leaves every round's ratio alone.
    found = ratio_of([3.0, 3.0, 30.0, 30.0], [1.0, 1.0, 10.0, 10.0])
    assert (found.median, found.low, found.high) == (3.0, 3.0, 3.0)
    assert ratio_of([1.0, 2.0, 9.0], [1.0, 1.0, 1.0]).median == 2.0


def test_both_are_run_as_often_after_a_round_that_does_not_count() -> None:
    done: list[str] = []
    found = compare(lambda: done.append("ours"), lambda: done.append("theirs"), rounds=4)
    assert done.count("ours") == done.count("theirs") == 5 and found.rounds == 4


def test_a_stage_is_charged_with_its_own_time_only() -> None:
    now = ManualClock()
    clock = Clock(now)
    clock.enter("outer")
    now.time_s += 0.02
    clock.enter("inner")
    now.time_s += 0.06
    clock.leave()
    now.time_s += 0.01
    clock.leave()
    assert clock.own_s == {"inner": pytest.approx(0.06), "outer": pytest.approx(0.03)}


def test_a_stage_of_another_thread_is_none_within_ours() -> None:
    now = ManualClock()
    clock = Clock(now)
    begun, done = threading.Event(), threading.Event()

    def beside() -> None:
        clock.enter("beside")
        begun.set()
        done.wait()
        clock.leave()

    clock.enter("ours")
    thread = threading.Thread(target=beside)
    thread.start()
    begun.wait()
    now.time_s += 0.02
    clock.leave()
    now.time_s += 0.01
    done.set()
    thread.join()
    assert clock.own_s == {"ours": pytest.approx(0.02), "beside": pytest.approx(0.03)}


def test_a_profile_finds_the_stage_wherever_it_is_called_from(monkeypatch: pytest.MonkeyPatch) -> None:
    import vision.adjustment.solve
    import vision.lengths.lengths

    now = ManualClock()

    def slow(*_: object) -> None:
        now.time_s += 0.03

    held = vars(vision.lengths.lengths)

    def job() -> None:
        held["solve"](None, None)
        now.time_s += 0.01

    # As the reading holds it: imported by name into another module.
    monkeypatch.setattr(vision.adjustment.solve, "solve", slow)
    monkeypatch.setattr(vision.lengths.lengths, "solve", slow)
    stages = {one.stage: one for one in profile(job, 2, now)}
    assert stages["solves"].calls == 1 and stages["solves"].own_s == pytest.approx(0.03)
    assert stages["solves"].share == pytest.approx(0.75) and set(stages) == {"solves", REST}
    assert held["solve"] is slow  # all is put back


def test_stages_are_functions_of_the_project() -> None:
    assert unknown_stages() == []
    assert len({place for places in STAGES.values() for place in places}) == sum(map(len, STAGES.values()))


def test_help_imports_nothing_heavy() -> None:
    assert heavy_in_help() == []


def test_the_large_photo_is_what_a_phone_writes(tmp_path: Path) -> None:
    from bench.photo12 import sample_named

    subject = enlarged(tmp_path)
    large, small = load_photo(subject.path), load_photo(sample_named(DEFAULT).path)
    assert large.size == (3000, 4000) and large.stored.shape == (3000, 4000, 3)
    assert (large.exif.width, large.exif.height) == (4000, 3000)
    # The same lens: EXIF's figure speaks of the diagonal (CIPA DCG-001), and nothing was cropped.
    before, after = focal_px_prior(small), focal_px_prior(large)
    assert after.focal_px / before.focal_px == pytest.approx(5000 / 2560, rel=1e-3)
    assert not after.edited and after.rel_sd == pytest.approx(before.rel_sd)
    assert 2e6 < subject.path.stat().st_size < 6e6
