"""The doors between the rooms: which part of focuschart may import which."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from pathlib import Path

PACKAGE = Path(__file__).parent.parent / "focuschart"

GROUND = {"errors", "typed", "units"}
DOORS: dict[str, set[str]] = {
    "errors": set(),
    "units": {"errors"},
    "typed": {"errors", "units"},
    "version": set(),
    "optics": GROUND,
    "layout": GROUND,
    "scale": GROUND | {"optics"},
    "kit": GROUND,
    "rig": GROUND | {"kit", "optics", "scale"},
    "bench": GROUND | {"kit", "optics", "rig", "scale"},
    "chart": GROUND | {"bench", "kit", "optics", "rig", "scale"},
    "checks": GROUND | {"bench", "chart", "kit", "optics", "rig", "scale"},
    "prints": GROUND | {"bench", "chart", "kit", "optics", "rig"},
    "report": GROUND
    | {"bench", "chart", "checks", "kit", "optics", "photo", "prints", "rig", "scale"},
    "photo": GROUND | {"kit", "layout", "prints"},
    "pages": GROUND
    | {"bench", "chart", "checks", "kit", "layout", "optics", "prints", "rig", "scale"},
    "phone": GROUND | {"chart", "kit", "layout", "optics", "pages", "prints", "rig"},
    "renderers": GROUND | {"layout"},
    "store": GROUND
    | {"bench", "chart", "kit", "layout", "pages", "phone", "photo", "prints", "renderers"}
    | {"report", "version"},
    "cli": GROUND | {"kit", "report", "store", "version"},
}
"""Room → rooms it may import, beside itself; the command line also the package's own face."""

OUTSIDE: dict[str, set[str]] = {
    "reportlab": {"renderers"},
    "svgwrite": {"renderers"},
    "fontTools": {"renderers"},
    "pypdfium2": {"renderers"},
    "PIL": {"photo", "renderers"},
    "cv2": {"photo"},
    "pydantic": {"kit"},
    "pydantic_core": {"kit"},
    "scipy": {"photo", "scale"},
    "tomlkit": {"kit"},
    "click": {"cli", "store"},
    "rich": {"cli"},
}
"""Package → rooms that may import it."""

FILES_AND_TERMINAL = {"os", "sys", "pathlib", "shutil", "tempfile", "subprocess", "io", "time"}
"""Standard modules that talk to the world, beside the command line only in `WORLDLY`."""
WORLDLY = {"__init__", "__main__", "cli", "photo", "renderers", "report", "store"}
"""The face takes paths; the start answers Ctrl-C while all else is being imported; renderers write
into memory and read the font; reports are written into memory, photographs read from it; the store
has files."""

EDGES = {"__init__", "__main__"}
"""The face, and what starts the program; everything else is a room with doors."""

FILES = sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(path: Path) -> Iterator[str]:
    """Yield every module a file imports, inside functions and for types too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: import by full name"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def violations(room: str, names: set[str]) -> Iterator[str]:
    """Yield each rule that a file of a room breaks by importing these names."""
    parts = [name.split(".") for name in names]
    ours = {part[1] if len(part) > 1 else "" for part in parts if part[0] == "focuschart"}
    if room not in EDGES:
        rooms = ours & DOORS.keys()
        yield from (f"no door to {other}" for other in rooms - {room} - DOORS[room])
        if ours - DOORS.keys() and room != "cli":
            yield "the face belongs to the command line"
    tops = {part[0] for part in parts}
    for package in tops & OUTSIDE.keys():
        if room not in OUTSIDE[package]:
            yield f"{package} belongs to {', '.join(sorted(OUTSIDE[package]))}"
    if room not in WORLDLY:
        yield from (f"{name} talks to the world" for name in tops & FILES_AND_TERMINAL)


def test_a_file_imports_only_through_its_doors() -> None:
    found = [
        f"{path.relative_to(PACKAGE)}: {broken}"
        for path in FILES
        for broken in sorted(violations(room_of(path), set(imports(path))))
    ]
    assert not found, "\n".join(found)


def test_every_room_is_listed() -> None:
    rooms = {room_of(path) for path in FILES} - EDGES
    assert rooms == set(DOORS)


def test_the_rules_catch_a_forbidden_import(tmp_path: Path) -> None:
    file = tmp_path / "bad.py"
    file.write_text(
        "import os\n"
        "def f():\n"
        "    from focuschart.cli import main\n"
        "    from focuschart.optics.thin import focus\n"
        "    import reportlab.lib\n"
    )
    assert set(violations("scale", set(imports(file)))) == {
        "no door to cli",
        "reportlab belongs to renderers",
        "os talks to the world",
    }
    assert not set(violations("cli", {"focuschart.store.build", "click", "os"}))


def module_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts).removesuffix(".__init__")


def module_graph(paths: Mapping[str, set[str]]) -> dict[str, set[str]]:
    """Return which modules each module imports, from the names that each imports.

    A name is a module, or something in one. That a package comes before what is in it, as Python
    has it, is no circle: only imports that are written down count.
    """
    graph: dict[str, set[str]] = {}
    for module, names in paths.items():
        found = {name if name in paths else name.rpartition(".")[0] for name in names}
        graph[module] = {name for name in found if name in paths and name != module}
    return graph


def circles(graph: Mapping[str, set[str]]) -> list[list[str]]:
    """Return every set of modules of which each imports each, if by a detour."""
    reached = {module: within_reach(graph, module) for module in graph}
    found = {
        frozenset(other for other in reached[module] if module in reached[other])
        for module in graph
        if module in reached[module]
    }
    return sorted(sorted(each) for each in found)


def within_reach(graph: Mapping[str, set[str]], module: str) -> set[str]:
    """Return what a module imports, and what that imports, and so on."""
    seen: set[str] = set()
    waiting = list(graph[module])
    while waiting:
        name = waiting.pop()
        if name not in seen:
            seen.add(name)
            waiting += graph[name]
    return seen


def test_no_module_imports_itself_by_a_detour() -> None:
    graph = module_graph({module_of(path): set(imports(path)) for path in FILES})
    assert sum(map(len, graph.values())) > len(FILES), "imports were not seen"
    found = circles(graph)
    assert not found, "\n".join(" and ".join(each) for each in found)


def test_a_circle_that_is_there_for_types_only_is_seen(tmp_path: Path) -> None:
    file = tmp_path / "b.py"
    file.write_text(
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from focuschart.a import A\n"
    )
    names = {"focuschart.a": {"focuschart.b.B"}, "focuschart.b": set(imports(file))}
    assert circles(module_graph(names)) == [["focuschart.a", "focuschart.b"]]
    assert not circles(module_graph({**names, "focuschart.b": set()}))
