"""Several photos of one shaft: covariance, weights, checks against each other, and what moved."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import uncertainties
from scipy import stats

from tests.helpers.made_observations import TRUE_RIMS_MM, Errors, made, true_mm
from vision.errors import VisionError
from vision.lengths import stack as stack_module
from vision.lengths.budget import gradients, weighted_residuals
from vision.lengths.combine import Verdict, combine, differences_of, weighted
from vision.lengths.stack import Stack, stacked
from vision.names import LengthName, RimName
from vision.reading import Reading, Status
from vision.reasons import Reason


def photos(seed: int, count: int = 2, **more) -> list[Reading]:  # type: ignore[no-untyped-def]
    """Photos of one shaft with the card left where it is."""
    rng = np.random.default_rng(seed)
    errors = Errors.drawn(rng)
    return [made(rng, errors=errors, distance_mm=d, **more).reading() for d in (330.0, 450.0, 380.0)[:count]]


def propagated(readings: list[Reading]) -> list[uncertainties.UFloat]:
    """All lengths as sums of independent inputs, one variable each; shared inputs are one variable.

    The library carries correlations by itself (package `uncertainties`, linear error propagation).
    """
    shared: dict[str, uncertainties.UFloat] = {}
    out = []
    for n, reading in enumerate(readings):
        assert reading.joint is not None
        jacobian, rows = weighted_residuals(reading.joint)
        own: dict[str, uncertainties.UFloat] = {}
        variables = []
        for k, parameter in enumerate(rows.parameters):
            name = "" if parameter < 0 else stack_module._name(parameter, reading.joint.observations)
            common = name in SHARED
            store = shared if common else own
            variables.append(store.setdefault(name if common else f"{n} {k}", uncertainties.ufloat(0.0, 1.0)))
        for length, g in gradients(reading.joint.observations).items():
            effect = jacobian @ (reading.joint.solution.covariance @ g)
            terms = [float(e) * v for e, v in zip(effect, variables, strict=True)]
            out.append(getattr(reading, length).value_mm + sum(terms))
    return out


# What two photos from one phone share when nobody touched the card; edges' offsets are left out here.
SHARED = {
    *("diameter", "print", "print across", "distortion", "lens axis x", "lens axis y", "card depth"),
    *("card tilt", "card bend", "focal length", "pixel aspect"),
    *(f"{rim} {what}" for rim in TRUE_RIMS_MM for what in ("height", "tilt", "turn")),
}


@pytest.fixture
def plainly_shared(monkeypatch: pytest.MonkeyPatch) -> None:
    """Share a lens's focal length error between its photos; errors of edges not."""
    monkeypatch.setattr(stack_module, "MODEL_REL_SD", 0.0)


@pytest.mark.usefixtures("plainly_shared")
@pytest.mark.parametrize("count", [2, 3])
def test_covariance_and_joint_length_as_a_library_propagates_them(count: int) -> None:
    readings = photos(4, count)
    given = propagated(readings)
    stack = stacked(readings, edge_correlation=0.0)
    np.testing.assert_allclose(
        stack.covariance_mm2, uncertainties.covariance_matrix(given), rtol=1e-6, atol=1e-12
    )
    values, covariance, weights = weighted(stack)
    for row in range(3):
        joined = sum(float(w) * x for w, x in zip(weights[row], given, strict=True))
        assert values[row] == pytest.approx(joined.nominal_value, abs=1e-9)
        assert np.sqrt(covariance[row, row]) == pytest.approx(joined.std_dev, rel=1e-6)
    for d in differences_of(stack):
        a, b = (given[3 * n + list(LengthName).index(d.quantity)] for n in (d.first, d.second))
        assert d.difference_mm == pytest.approx((b - a).nominal_value)
        assert d.u95_mm == pytest.approx(2 * (b - a).std_dev, rel=1e-6)


def lengths(
    covariance: np.ndarray, names: tuple[LengthName, ...], values: list[float] | None = None
) -> Stack:
    n = len(names)
    return Stack(tuple(range(n)), names, np.array(values or [1.0] * n), covariance)


def test_what_is_wholly_shared_does_not_average_out() -> None:
    """JCGM 100:2008, 5.2.2, example: ten 1000 Ω resistors calibrated against one standard of u = 100 mΩ make 10 kΩ
    of u = 1 Ω, not 0.32 Ω; so their mean has the standard's 100 mΩ."""
    n, u = 10, 0.1
    stack = lengths(np.full((n, n), u**2), (LengthName.REMAINING,) * n, [1000.0] * n)
    in_series = np.ones(n)
    assert np.sqrt(in_series @ stack.covariance_mm2 @ in_series) == pytest.approx(1.0)
    values, covariance, weights = weighted(stack)
    assert values[2] == pytest.approx(1000.0)
    assert np.sqrt(covariance[2, 2]) == pytest.approx(u, rel=1e-6)
    assert weights[2] == pytest.approx(np.full(n, 0.1), abs=1e-6)
    assert np.isnan(values[0]) and np.isnan(values[1])  # nothing was said of the seal


def test_what_is_not_shared_does() -> None:
    """JCGM 100:2008, 4.2.3: the mean of n independent observations has u / sqrt(n)."""
    _, covariance, _ = weighted(lengths(np.eye(4) * 0.04, (LengthName.EXPOSED,) * 4))
    assert np.sqrt(covariance[0, 0]) == pytest.approx(0.2 / 2)


@pytest.mark.parametrize("seed", range(3))
def test_no_other_weights_are_better(seed: int) -> None:
    """Gauss and Markov: of all weights that leave a true length unchanged, generalised least squares' have least
    variance."""
    stack = stacked(photos(seed, 2))
    _, covariance, weights = weighted(stack)
    parts = {LengthName.EXPOSED: (1, 1), LengthName.MARKER: (1, 0), LengthName.REMAINING: (0, 1)}
    design = np.array([parts[name] for name in stack.names], float)
    assert weights @ design == pytest.approx(np.array([parts[name] for name in LengthName]), abs=1e-9)
    # Directions in which weights can be changed without a true length changing.
    free = np.linalg.svd(design.T)[2][2:]
    rng = np.random.default_rng(seed)
    for _ in range(50):
        other = weights + 0.05 * rng.standard_normal((3, len(free))) @ free
        spread = np.diag(other @ stack.covariance_mm2 @ other.T)
        assert np.all(spread >= np.diag(covariance) * (1 - 1e-6))


@pytest.mark.usefixtures("plainly_shared")
def test_claims_of_pairs_hold_in_samples() -> None:
    """Chi-square at one in a thousand, as in test_coverage.py, over pairs that share what photos share."""
    joint, apart = [], []
    rng = np.random.default_rng(20261125)
    for _ in range(60):
        errors = Errors.drawn(rng)
        pair = [made(rng, errors=errors, distance_mm=float(d)).reading() for d in rng.uniform(250, 500, 2)]
        stack = stacked(pair, edge_correlation=0.0)
        values, covariance, _ = weighted(stack)
        joint.append((values[0] - true_mm(LengthName.EXPOSED)) / np.sqrt(covariance[0, 0]))
        apart += [
            2 * d.difference_mm / d.u95_mm for d in differences_of(stack) if d.quantity == LengthName.EXPOSED
        ]
    for z in (joint, apart):
        low, high = stats.chi2.ppf([1e-3, 1 - 1e-3], len(z))
        assert low < np.sum(np.square(z)) < high


def test_two_photos_are_surer_than_either_but_not_as_if_they_shared_nothing() -> None:
    one, other = photos(7)
    found = combine([one, other])
    assert found.verdict is Verdict.AGREE and found.reading.status is Status.READ
    for name in LengthName:
        a, b, both = (getattr(r, name).u95_mm for r in (one, other, found.reading))
        assert (a**-2 + b**-2) ** -0.5 < both < min(a, b)
    r = found.reading
    assert r.exposed and r.marker and r.remaining and r.covariance_mm2 is not None
    assert r.exposed.value_mm == pytest.approx(r.marker.value_mm + r.remaining.value_mm)
    assert 2 * np.sqrt(np.diag(r.covariance_mm2)) == pytest.approx(
        [r.exposed.u95_mm, r.marker.u95_mm, r.remaining.u95_mm]
    )


def moved(by: dict[str, float]) -> list[Reading]:
    rng = np.random.default_rng(11)
    errors = Errors.drawn(rng)
    elsewhere = {name: place + by.get(name, 0.0) for name, place in TRUE_RIMS_MM.items()}
    return [made(rng, errors=errors).reading(), made(rng, errors=errors, rims_mm=elsewhere).reading()]


@pytest.mark.parametrize(
    ("by", "verdict", "kept"),
    [
        ({}, Verdict.AGREE, tuple(LengthName)),
        ({RimName.MARKER_NEAR: 2.5}, Verdict.MARKER_MOVED, (LengthName.EXPOSED,)),
        ({RimName.MARKER_NEAR: -2.5}, Verdict.MARKER_MOVED, (LengthName.EXPOSED,)),
        # The leg goes in: seal and marker are pressed together, the marker stays where it is on the shaft.
        ({RimName.SEAL: 2.5}, Verdict.LEG_MOVED, (LengthName.REMAINING,)),
        ({RimName.SEAL: 4.0, RimName.MARKER_NEAR: 8.0}, Verdict.BOTH_MOVED, ()),
    ],
)
def test_what_moved_is_told_and_not_averaged(
    by: dict[str, float], verdict: Verdict, kept: tuple[str, ...]
) -> None:
    found = combine(moved(by))
    assert found.verdict is verdict
    assert tuple(name for name in LengthName if getattr(found.reading, name) is not None) == kept
    assert found.reading.status is {3: Status.READ, 1: Status.PARTIAL, 0: Status.REFUSED}[len(kept)]
    pairs = [d for d in found.differences if d.quantity == LengthName.REMAINING]
    assert [d.agrees for d in pairs] == [verdict in (Verdict.AGREE, Verdict.LEG_MOVED)]


def test_normalised_difference() -> None:
    """ISO 13528 (from memory): E_n = (a - b) / sqrt(U_a^2 + U_b^2), with U the expanded uncertainties."""
    (d,) = differences_of(
        lengths(np.diag([0.3**2, 0.4**2]), (LengthName.MARKER, LengthName.MARKER), [10.0, 11.5])
    )
    assert d.normalised == pytest.approx(1.5 / np.hypot(0.6, 0.8)) and not d.agrees
    (d,) = differences_of(
        lengths(np.array([[0.09, 0.09], [0.09, 0.16]]), (LengthName.MARKER, LengthName.MARKER), [10.0, 10.5])
    )
    assert d.u95_mm == pytest.approx(2 * np.sqrt(0.07)) and d.agrees
    (d,) = differences_of(lengths(np.eye(2) / 8, (LengthName.MARKER,) * 2, [10.0, 11.4]))
    assert d.u95_mm == pytest.approx(1.0) and not d.agrees and not d.moved


def test_edges_err_alike_in_part() -> None:
    pair = photos(8)
    covariances = [stacked(pair, edge_correlation=r).covariance_mm2[0, 3] for r in (0.0, 0.5, 1.0)]
    assert covariances[0] < covariances[1] < covariances[2]
    assert covariances[1] == pytest.approx((covariances[0] + covariances[2]) / 2)
    # Combined as if they were partly correlated, compared as if they were not: the larger uncertainty of each.
    found = combine(pair)
    (d,) = [d for d in found.differences if d.quantity == LengthName.EXPOSED]
    own = [np.diag(stacked([pair[i], pair[1 - i]]).covariance_mm2)[0] for i in (0, 1)]
    assert d.u95_mm == pytest.approx(2 * np.sqrt(sum(own) - 2 * covariances[0]))
    assert stacked(pair).covariance_mm2[0, 3] == pytest.approx(covariances[1])


def without(reading: Reading, *names: LengthName) -> Reading:
    withheld: dict[str, Any] = dict.fromkeys(names)
    return replace(reading, status=Status.PARTIAL, **withheld)


def test_lengths_that_only_the_photos_together_tell() -> None:
    one, other = photos(9)
    found = combine(
        [
            without(one, LengthName.MARKER, LengthName.REMAINING),
            without(other, LengthName.EXPOSED, LengthName.MARKER),
        ]
    )
    assert found.verdict is Verdict.NOTHING_COMMON
    marker = found.reading.marker
    assert marker is not None and one.exposed is not None and other.remaining is not None
    assert marker.value_mm == pytest.approx(one.exposed.value_mm - other.remaining.value_mm)
    assert abs(marker.value_mm - true_mm(LengthName.MARKER)) < marker.u95_mm * 1.5


def along(card_mm: float) -> dict[RimName, float]:
    """Positions of the rims against a card that lies so much farther along the shaft."""
    return {name: place - card_mm for name, place in TRUE_RIMS_MM.items()}


def test_a_card_repositioned_is_seen_and_its_depth_averages_out(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(2)
    errors = Errors.drawn(rng)
    left, moved_card = (
        [made(rng, errors=errors).reading(), made(rng, errors=errors, rims_mm=along(shift)).reading()]
        for shift in (0.0, 9.0)
    )
    assert not combine(left).card_repositioned and combine(moved_card).card_repositioned
    without = stacked(moved_card).covariance_mm2[0, 3]
    monkeypatch.setattr(stack_module, "card_repositioned", lambda joints: False)
    # What two lengths owe to the same depth and tilt is the product of what each owes to it.
    effects = [
        stack_module._effects(r.joint)[LengthName.EXPOSED].known for r in moved_card if r.joint is not None
    ]
    owed = sum(effects[0][name] * effects[1][name] for name in ("card depth", "card tilt"))
    assert abs(owed) > 1e-5
    assert stacked(moved_card).covariance_mm2[0, 3] - without == pytest.approx(owed)


def test_what_cannot_be_put_together() -> None:
    one, other = photos(1)
    refused = Reading(Status.REFUSED)
    with pytest.raises(VisionError, match="Fewer than two"):
        combine([one, refused])
    with pytest.raises(VisionError, match="different cards"):
        combine([one, replace(other, card=4)])
    found = combine([refused, one, other])
    assert {(d.first, d.second) for d in found.differences} == {(1, 2)}


def test_other_phones_share_no_lens() -> None:
    one, other = photos(3)
    assert other.joint is not None
    camera = other.joint.observations.camera
    elsewhere = replace(other.joint.observations, camera=replace(camera, focal_px=1.2 * camera.focal_px))
    foreign = replace(other, joint=replace(other.joint, observations=elsewhere))
    assert stacked([one, foreign]).covariance_mm2[0, 3] != stacked([one, other]).covariance_mm2[0, 3]
    same = stack_module._shared
    assert same("distortion", one.joint, other.joint, False, 0.5) == 1.0  # type: ignore[arg-type]
    assert same("distortion", one.joint, foreign.joint, False, 0.5) == 0.0  # type: ignore[arg-type]
    assert same("diameter", one.joint, foreign.joint, False, 0.5) == 1.0  # type: ignore[arg-type]


def vague(reading: Reading) -> Reading:
    """Return the same with ten times the uncertainty."""
    assert reading.joint is not None
    solution = replace(reading.joint.solution, covariance=100 * reading.joint.solution.covariance)
    return replace(reading, joint=replace(reading.joint, solution=solution))


def test_a_joint_length_over_the_limit_is_withheld() -> None:
    found = combine([vague(without(r, LengthName.MARKER, LengthName.REMAINING)) for r in photos(5)])
    assert found.reading.status is Status.REFUSED
    assert [n.reason for n in found.reading.notes] == [Reason.UNCERTAIN]


def test_marker_at_the_stop_only_where_all_say_so() -> None:
    pair = photos(6)
    for said in itertools.product([True, False], repeat=2):
        found = combine([replace(r, marker_at_stop=s) for r, s in zip(pair, said, strict=True)])
        assert found.reading.marker_at_stop is (said[0] if said[0] == said[1] else None)
