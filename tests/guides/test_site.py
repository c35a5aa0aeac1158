"""The site of guides and API: it builds without a warning, loads nothing from elsewhere, and is searched offline."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from docs.folder_map import ROOT
from tests.helpers.outside import missing

pytestmark = pytest.mark.long

# What a browser loads by itself; links that a person follows may lead elsewhere.
LOADS = re.compile(
    r"<(?:script|img|iframe|source)[^>]+src=[\"']?(?:https?:)?//|"
    r"<link[^>]+rel=[\"']?(?:stylesheet|preconnect|preload|icon)[^>]+href=[\"']?(?:https?:)?//|"
    r"url\([\"']?(?:https?:)?//|@import[^;]*https?:|class=\"mermaid\""
)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pytest.importorskip("mkdocs", reason="make docs installs what the site is built with")
    folder = tmp_path_factory.mktemp("site")
    command = [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet", "--site-dir", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True)
    return folder


def test_pages_load_nothing_from_elsewhere(site: Path) -> None:
    pages = [*site.rglob("*.html"), *site.rglob("*.css")]
    assert len(pages) > 40
    assert not [page.name for page in pages if LOADS.search(page.read_text("utf-8"))]


def test_loads_from_elsewhere_are_recognised() -> None:
    assert LOADS.search('<script src="https://x.example/a.js">') and LOADS.search(
        "a { b: url(//x.example/c) }"
    )
    assert LOADS.search('<link rel="stylesheet" href="https://x.example/a.css">')
    assert not LOADS.search('<a href="https://x.example/">there</a><script src="a.js">')


def test_the_search_finds_a_page_from_the_disk(site: Path) -> None:
    browser = shutil.which("chromium")
    if browser is None:
        missing("chromium", "install Debian's chromium")
    flags = ["--headless", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=20000", "--dump-dom"]
    page = f"file://{site}/index.html?q=silhouette"
    shown = subprocess.run(
        [str(browser), *flags, page], capture_output=True, text=True, timeout=120, check=True
    ).stdout
    found = re.search(r"md-search-result__meta\">(\d+) matching", shown)
    assert found is not None and int(found[1]) > 0


def test_the_api_has_the_docstrings(site: Path) -> None:
    page = (site / "api" / "vision.html").read_text("utf-8")
    from vision import read

    assert (read.__doc__ or "").splitlines()[0].split(":")[0] in re.sub(r"<[^>]+>", "", page)
