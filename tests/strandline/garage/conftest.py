"""A garage that is served once for all tests that leave it as it is."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from tests.helpers.browser import chromium
from tests.helpers.garage_server import Served, filled, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start Chromium."""
    with chromium() as found:
        yield found


@pytest.fixture(scope="session")
def shared_garage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Serve a garage with the demo's bike; every request comes from a phone's address."""
    folder = tmp_path_factory.mktemp("garage")
    filled(folder)
    with served(folder) as found:
        yield found


@pytest.fixture(scope="session")
def phone(shared_garage: Served) -> Served:
    """Pair a phone with it."""
    return shared_garage.pair("Test phone")
