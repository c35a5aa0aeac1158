"""Draw the map of the folders from the imports: ``python -m docs.folder_map`` writes it into DEVELOPERS.md.

An arrow goes from the importer to what it imports. Arrows that follow from others are left out: where A imports B and
B imports C, A's own import of C is not drawn.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import grimp

ROOT = Path(__file__).resolve().parents[1]
GUIDE = ROOT / "DEVELOPERS.md"
ROOMS = ("strandline", "vision", "calibration", "ridelog", "suspension", "scenes", "bench")
START, END = "<!-- folder map -->", "<!-- end of the folder map -->"

Edges = set[tuple[str, str]]


def import_graph() -> grimp.ImportGraph:
    """Read the imports of all rooms, those inside functions and for types included."""
    return grimp.build_graph(*ROOMS, cache_dir=None)


def circles(edges: Edges) -> list[list[str]]:
    """Find the groups of nodes that reach each other.

    Parameters
    ----------
    edges : set of (str, str)
        From importer to imported.

    Returns
    -------
    list of list of str
        Each group sorted, and the groups too; empty where there is no circle.
    """
    reached = _reached(edges)
    groups = {frozenset(b for b in reached[a] if a in reached[b]) for a in reached if a in reached[a]}
    return sorted(sorted(group) for group in groups)


def module_edges(graph: grimp.ImportGraph, room: str) -> Edges:
    """Collect the imports between the modules of one room."""
    inside = {m for m in graph.modules if m == room or m.startswith(f"{room}.")}
    return {(a, b) for a in inside for b in graph.find_modules_directly_imported_by(a) if b in inside}


def sibling_edges(graph: grimp.ImportGraph, package: str) -> Edges:
    """Collect the imports between what lies directly in a package, each folder taken as one."""
    prefix = f"{package}."
    found = set()
    for a, b in module_edges(graph, package):
        if a.startswith(prefix) and b.startswith(prefix):
            ends = tuple(prefix + m.removeprefix(prefix).split(".")[0] for m in (a, b))
            if ends[0] != ends[1]:
                found.add((ends[0], ends[1]))
    return found


def reduced(edges: Edges) -> Edges:
    """Leave out each edge that a longer path stands for; edges within a circle stay.

    Parameters
    ----------
    edges : set of (str, str)
        From importer to imported.

    Returns
    -------
    set of (str, str)
        The same reach with as few edges as possible.
    """
    reached = _reached(edges)

    def follows(a: str, b: str) -> bool:
        return any(
            b in reached[c] and a not in reached[c] and c not in reached[b] for c in reached[a] - {a, b}
        )

    return {(a, b) for a, b in edges if not follows(a, b)}


def drawn(graph: grimp.ImportGraph) -> str:
    """Draw all rooms as one Mermaid flowchart.

    Returns
    -------
    str
        The chart between its fences, with a newline at the end.
    """
    lines = ["```mermaid", "flowchart TD"]
    rooms = {
        (room, other)
        for room in ROOMS
        for other in ROOMS
        if room != other and graph.direct_import_exists(importer=room, imported=other, as_packages=True)
    }
    for room in ROOMS:
        lines += _box(graph, room, "  ")
    lines += [f"  {a} ==> {b}" for a, b in sorted(reduced(rooms))]
    return "\n".join([*lines, "```"]) + "\n"


def with_map(guide: str, chart: str) -> str:
    """Put a chart between the markers of the guide.

    Raises
    ------
    ValueError
        Where a marker is missing.
    """
    before, _, rest = guide.partition(START)
    _, found, after = rest.partition(END)
    if not found:
        raise ValueError(f"DEVELOPERS.md has no {START} … {END}")
    return f"{before}{START}\n{chart}{END}{after}"


def _box(graph: grimp.ImportGraph, package: str, indent: str) -> list[str]:
    """Lines for one folder: a node, or a box with what lies in it where it has folders itself."""
    children = sorted(graph.find_children(package))
    folders = [c for c in children if graph.find_children(c)]
    name = package.rpartition(".")[2]
    if not folders:
        return [f'{indent}{_id(package)}["{name}/"]']
    edges = sibling_edges(graph, package)
    place = {m: _place(m, package, folders, edges) for m in children if m not in folders}
    nodes = {(place.get(a, a), place.get(b, b)) for a, b in edges}
    lines = [f'{indent}subgraph {_id(package)}["{name}/"]']
    for node in sorted(set(place.values())):
        files = "<br/>".join(f"{m.rpartition('.')[2]}.py" for m in sorted(place) if place[m] == node)
        lines.append(f'{indent}  {_id(node)}("{files}")')
    for folder in folders:
        lines += _box(graph, folder, f"{indent}  ")
    shown = reduced({(a, b) for a, b in nodes if a != b})
    return [*lines, *(f"{indent}  {_id(a)} --> {_id(b)}" for a, b in sorted(shown)), f"{indent}end"]


def _place(module: str, package: str, folders: list[str], edges: Edges) -> str:
    """Node of a module beside folders: with the others above or below them all, or its own between them."""
    if not any((f, module) in edges for f in folders):
        return f"{package}.above"
    return module if any((module, f) in edges for f in folders) else f"{package}.below"


def _id(module: str) -> str:
    return module.replace(".", "_")


def _reached(edges: Edges) -> dict[str, set[str]]:
    """For each node all that can be reached from it by one edge or more."""
    direct: dict[str, set[str]] = {node: set() for edge in edges for node in edge}
    for a, b in edges:
        direct[a].add(b)
    return {node: _spread(direct, direct[node]) for node in direct}


def _spread(direct: dict[str, set[str]], start: Iterable[str]) -> set[str]:
    found: set[str] = set()
    left = list(start)
    while left:
        node = left.pop()
        if node not in found:
            found.add(node)
            left += direct[node]
    return found


def main() -> None:
    """Write the map into the guide."""
    GUIDE.write_text(with_map(GUIDE.read_text("utf-8"), drawn(import_graph())), "utf-8")


if __name__ == "__main__":
    main()
