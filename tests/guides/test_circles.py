"""No circle of imports: neither of modules nor of folders."""

from __future__ import annotations

import pytest

from docs.folder_map import ROOMS, circles, import_graph, module_edges, reduced, sibling_edges


@pytest.mark.parametrize("room", ROOMS)
def test_no_modules_import_each_other_in_a_circle(room: str) -> None:
    assert circles(module_edges(import_graph(), room)) == []


@pytest.mark.parametrize("room", ROOMS)
def test_no_folders_import_each_other_in_a_circle(room: str) -> None:
    graph = import_graph()
    folders = [room, *(m for m in graph.modules if m.startswith(f"{room}.") and graph.find_children(m))]
    assert {f: found for f in folders if (found := circles(sibling_edges(graph, f)))} == {}


def test_circles_are_found() -> None:
    assert circles({("a", "b"), ("b", "c"), ("c", "a"), ("c", "d"), ("e", "f"), ("f", "e")}) == [
        ["a", "b", "c"],
        ["e", "f"],
    ]


def test_reduction_keeps_reach_and_drops_what_follows() -> None:
    """By hand: a to d follows from a to b to d; both ways of a circle stay."""
    line = {("a", "b"), ("b", "d"), ("a", "d")}
    circle = {("x", "y"), ("y", "x")}
    assert reduced(line | circle) == {("a", "b"), ("b", "d")} | circle
