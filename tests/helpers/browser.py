"""Debian's Chromium at a phone's size, for tests of the garage's pages."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.helpers.outside import missing

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, ViewportSize

# How long a page may take to show what is waited for, s. A wait ends when it is there: on a machine at rest after a
# second, with 40 other processes on two cores after minutes [seen]. Only what never comes lasts so long.
PATIENCE_S = 600.0
# Points of a small phone held upright; one hand holds it.
WIDTH_PX, HEIGHT_PX = 360, 740


@contextlib.contextmanager
def chromium(start: Path | None = None) -> Iterator[Browser]:
    """Start the browser, or a script that starts it elsewhere; without one the test is skipped."""
    path = shutil.which("chromium")
    if path is None:
        missing("chromium", "install Debian's chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        # --no-sandbox: in a container, as root, the browser's own needs rights that it has not.
        browser = playwright.chromium.launch(
            executable_path=start or path,
            args=["--no-sandbox", "--disable-gpu"],
            timeout=1000 * PATIENCE_S,
        )
        yield browser
        browser.close()


def phone_of(browser: Browser, **options: Any) -> BrowserContext:
    """Open a phone's browser, with storage of its own."""
    size: ViewportSize = {"width": WIDTH_PX, "height": HEIGHT_PX}
    context = browser.new_context(
        viewport=size, has_touch=True, is_mobile=True, device_scale_factor=2, **options
    )
    context.set_default_timeout(1000 * PATIENCE_S)
    return context
