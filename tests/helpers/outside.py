"""Outside material that tests check against: what happens where it is missing."""

from __future__ import annotations

import os

import pytest


def missing(what: str, remedy: str) -> None:
    """Skip the test for want of outside material, or fail it in CI."""
    if os.environ.get("CI"):
        pytest.fail(f"{what} must be there in CI: {remedy}", pytrace=False)
    pytest.skip(f"{what} is not here: {remedy}")
