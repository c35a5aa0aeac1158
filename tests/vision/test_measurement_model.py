"""docs/measurement-model.md against the code: every number of its tables and formulas, every reason, every sigma."""

from __future__ import annotations

import importlib
import re
from dataclasses import astuple
from pathlib import Path

import pytest

from vision.adjustment import observations
from vision.adjustment.observations import AXIS_POINT_SD_U, PRINT_ANISOTROPY_SD, PRINT_ANISOTROPY_SHARE
from vision.adjustment.parameters import FIXED, PER_RIM
from vision.adjustment.residuals import HUBER_SD
from vision.geometry.views import EDGE_STEP_MM
from vision.reasons import Reason
from vision.rims.points import SEGMENTATION_WEIGHT
from vision.rims.refine import RIM_STEP_MM, RimKind
from vision.rims.sigma import (
    ANOTHER_EDGE_MM,
    BLURRED_EDGE_MM,
    DISAGREEMENT_SHARE,
    SEGMENTATION_SHARE,
    VAGUE_TRANSITION_MM,
)
from vision.shaft.edges import CORRELATION_LENGTH_MM, MIN_POINT_SD_PX, SHARPEST_TRANSITION_COLUMNS
from vision.shaft.scale_check import DEPTH_LIMIT_SDS, DEPTH_SIGNIFICANCE, REMARK_MM, REMARK_SIGNIFICANCE

TEXT = (Path(__file__).parents[2] / "docs" / "measurement-model.md").read_text(encoding="utf-8")
CONSTANT = re.compile(r"`([a-z_.]+)\.([A-Z][A-Z0-9_]*)`\s+=\s+([-+\d.e]*\d)")
# A row of the sigma models' tables: module, name, key of a dict or "", and the numbers that follow.
MODEL = re.compile(
    r"^\| `([a-z_.]+)\.([A-Z_]+)(?:\[([A-Z_]+)\])?` \| ((?:-?[\d.]+ \| ){3,4})", flags=re.MULTILINE
)
FORMULAS = [
    f"{FIXED} parameters θ, and {PER_RIM} for each rim",
    f"d(x) / ({AXIS_POINT_SD_U:g}·r)",
    f"max({PRINT_ANISOTROPY_SD:g}, u(a)/{1 / PRINT_ANISOTROPY_SHARE:g})",
    f"|z| > {HUBER_SD:g} becomes sign(z)·√({2 * HUBER_SD:g}|z| − {HUBER_SD**2:g})",
    f"w₀ = {SHARPEST_TRANSITION_COLUMNS:g} column",
    f"max(w/√12, {MIN_POINT_SD_PX:g} px)·√({CORRELATION_LENGTH_MM:g} mm / {EDGE_STEP_MM:g} mm)",
    f"σ² = {observations.RIM_SD_PX:g}² +",
    f"(1 + (w/{VAGUE_TRANSITION_MM:g} mm)⁴)",
    f"shares: {DISAGREEMENT_SHARE[RimKind.SEAL]:g} seals, {DISAGREEMENT_SHARE[RimKind.MARKER]:g} markers, "
    f"{DISAGREEMENT_SHARE[RimKind.FAR_END]:g} far ends",
    f"({SEGMENTATION_SHARE:g}·max(w − {BLURRED_EDGE_MM:g} mm, 0))²",
    f"({ANOTHER_EDGE_MM:g} mm)²",
    f"the segmentation with weight {SEGMENTATION_WEIGHT[RimKind.FAR_END]:g}",
    f"rows of {RIM_STEP_MM[RimKind.SEAL]:g} or {RIM_STEP_MM[RimKind.FAR_END]:g} mm",
    f"|z| > max({DEPTH_LIMIT_SDS:g}·u_card, {DEPTH_SIGNIFICANCE:g}·u(z))",
    f"|z| > max({REMARK_MM:g} mm, {REMARK_SIGNIFICANCE:g}·u(z))",
]


def value_of(module: str, name: str) -> object:
    """Look a constant up as the document names it: below `vision` unless it begins with another room."""
    room = "" if module.startswith("calibration.") else "vision."
    return getattr(importlib.import_module(room + module), name)


@pytest.mark.parametrize(("module", "name", "value"), CONSTANT.findall(TEXT))
def test_a_constant_is_the_codes(module: str, name: str, value: str) -> None:
    assert value_of(module, name) == float(value)


@pytest.mark.parametrize(("module", "name", "key", "numbers"), MODEL.findall(TEXT))
def test_a_sigma_model_is_the_codes(module: str, name: str, key: str, numbers: str) -> None:
    model = value_of(module, name)
    if key:
        assert isinstance(model, dict)
        model = model[RimKind[key]]
    assert list(astuple(model)) == [float(number) for number in numbers.split("|") if number.strip()]  # type: ignore[call-overload]


def test_every_constant_named_has_its_value() -> None:
    """No row slips through the patterns."""
    named = re.findall(r"`[a-z_.]+\.[A-Z][A-Z0-9_]*(?:\[[A-Z_]+\])?`", TEXT)
    assert len(MODEL.findall(TEXT)) == 11
    assert len(named) == len(CONSTANT.findall(TEXT)) + len(MODEL.findall(TEXT)) > 60


@pytest.mark.parametrize("formula", FORMULAS)
def test_a_formula_has_the_codes_numbers(formula: str) -> None:
    assert formula in " ".join(TEXT.split()) or formula in TEXT


def test_every_reason_and_no_other_has_a_trigger() -> None:
    refusals = TEXT[TEXT.index("## Refusals") :]
    assert sorted(re.findall(r"^\| `([a-z_]+)` \|", refusals, re.MULTILINE)) == sorted(Reason)


@pytest.mark.parametrize("name", [name for name in vars(observations) if re.search(r"_SD(_|$)", name)])
def test_every_standard_uncertainty_of_the_observations_is_listed(name: str) -> None:
    assert re.search(rf"\.{name}`\s+=", TEXT) or name in ("K1_SD", "SQUARE_ASPECT_SD")
