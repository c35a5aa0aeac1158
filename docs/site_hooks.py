"""Hooks of the site (`make docs`): pages from the guides at the top of the repository, and one a folder for the API."""

from __future__ import annotations

import re
from typing import Any

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files

from docs.folder_map import END, ROOT, START, import_graph, sibling_edges

# The rooms that are installed; what renders, trains and measures is for developers alone and stays out.
API_ROOMS = ("calibration", "vision", "suspension", "ridelog", "strandline")
GUIDES = {"README.md": "index.md", "DEVELOPERS.md": "developers.md", "CHANGELOG.md": "changelog.md"}


def on_config(config: MkDocsConfig) -> MkDocsConfig:
    """Put the API's pages behind the guides in the navigation."""
    graph = import_graph()
    pages: dict[str, list[Any]] = {}
    for package in _packages(graph):
        pages.setdefault(package.split(".")[0], []).append({package: f"api/{package}.md"})
    config.nav = [*(config.nav or []), {"API": [{room: pages[room]} for room in API_ROOMS]}]
    return config


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """Add the guides of the repository's top and a page for each folder's modules."""
    graph = import_graph()
    for source, page in GUIDES.items():
        text = (ROOT / source).read_text("utf-8")
        files.append(File.generated(config, page, content=_links(_with_table(text, graph))))
    for package in _packages(graph):
        modules = [m for m in sorted(graph.find_children(package)) if not graph.find_children(m)]
        parts = [f"# `{package}`\n\n::: {package}\n    options:\n      show_submodules: false\n"]
        parts += [f"## `{m}`\n\n::: {m}\n    options:\n      heading_level: 3\n" for m in modules]
        files.append(File.generated(config, f"api/{package}.md", content="\n".join(parts)))
    return files


def on_page_markdown(markdown: str, **_: Any) -> str:
    """Turn links from docs/ to the guides at the top into links between pages."""
    return _links(markdown)


def _packages(graph: Any) -> list[str]:
    return [
        m
        for room in API_ROOMS
        for m in sorted(graph.modules)
        if m.split(".")[0] == room and graph.find_children(m)
    ]


def _links(text: str) -> str:
    """Point links at pages; what has no page (folders, the licence) becomes plain text."""

    def page(match: re.Match[str]) -> str:
        words, path, anchor = match["words"], match["path"], match["anchor"] or ""
        path = path.removeprefix("../").removeprefix("docs/")
        if path in GUIDES:
            return f"[{words}]({GUIDES[path]}{anchor})"
        return (
            f"[{words}]({path}{anchor})"
            if (ROOT / "docs" / path).is_file() or path in GUIDES.values()
            else words
        )

    return re.sub(
        r"(?<!!)\[(?P<words>[^\]]+)\]\((?P<path>[\w./-]+)(?P<anchor>#[\w-]+)?\)", page, text
    ).replace("](docs/", "](")


def _with_table(text: str, graph: Any) -> str:
    """Put a table in place of the folders' picture, which needs a script from elsewhere to be drawn."""
    before, found, rest = text.partition(START)
    if not found:
        return text
    rows = ["| Folder | imports |", "| --- | --- |"]
    for package in ("strandline", "strandline.day", "vision", "suspension", "ridelog"):
        edges = sibling_edges(graph, package)
        for child in sorted(c for c in graph.find_children(package) if graph.find_children(c)):
            targets = ", ".join(f"`{b.rpartition('.')[2]}`" for a, b in sorted(edges) if a == child)
            rows.append(f"| `{child.replace('.', '/')}/` | {targets or 'nothing beside it'} |")
    return before + "\n".join(rows) + rest.partition(END)[2]
