"""The doors between the rooms: which part of focuschart may import which."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "focuschart"

GROUND = {"errors", "units"}
DOORS: dict[str, set[str]] = {
    "errors": set(),
    "units": {"errors"},
    "optics": GROUND,
    "layout": GROUND,
    "scale": GROUND | {"optics"},
    "kit": GROUND,
    "rig": GROUND | {"kit", "optics", "scale"},
    "bench": GROUND | {"kit", "optics", "rig", "scale"},
    "chart": GROUND | {"bench", "kit", "optics", "rig", "scale"},
    "checks": GROUND | {"bench", "chart", "kit", "optics", "rig", "scale"},
    "prints": GROUND | {"bench", "chart", "kit", "optics", "rig"},
    "report": GROUND | {"bench", "chart", "checks", "kit", "optics", "prints", "rig", "scale"},
    "pages": GROUND
    | {"bench", "chart", "checks", "kit", "layout", "optics", "prints", "rig", "scale"},
    "renderers": GROUND | {"layout"},
    "store": GROUND
    | {"__version__", "chart", "kit", "layout", "pages", "prints", "renderers", "report"},
}
"""Room → rooms it may import, beside itself. The command line may import all of them."""

OUTSIDE: dict[str, set[str]] = {
    "reportlab": {"renderers"},
    "svgwrite": {"renderers"},
    "fontTools": {"renderers"},
    "pypdfium2": {"renderers"},
    "PIL": {"renderers"},
    "pydantic": {"kit"},
    "pydantic_core": {"kit"},
    "scipy": {"scale"},
    "tomlkit": {"kit"},
    "click": {"cli", "store"},
}
"""Package → rooms that may import it."""

FILES_AND_TERMINAL = {"os", "sys", "pathlib", "shutil", "tempfile", "subprocess", "io", "time"}
"""Standard modules that talk to the world, beside the command line only in `WORLDLY`."""
WORLDLY = {"__init__", "__main__", "cli", "renderers", "report", "store"}
"""The face takes paths; the start answers Ctrl-C while all else is being imported; renderers write
into memory and read the font; reports are written into memory; the store has files."""

EDGES = {"__init__", "__main__", "cli"}
"""What starts the program; everything else is a room with doors."""

FILES = sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(path: Path) -> Iterator[str]:
    """Yield every module a file imports, inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: import by full name"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def own_rooms(path: Path) -> set[str]:
    parts = [name.split(".") for name in imports(path)]
    return {part[1] for part in parts if part[0] == "focuschart" and len(part) > 1}


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_file_imports_only_through_its_doors(path: Path) -> None:
    room = room_of(path)
    if room in EDGES:
        return
    assert own_rooms(path) - {room} <= DOORS[room]


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_nobody_imports_the_command_line(path: Path) -> None:
    assert room_of(path) in EDGES or "cli" not in own_rooms(path)


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_packages_stay_in_their_rooms(path: Path) -> None:
    for name in imports(path):
        allowed = OUTSIDE.get(name.split(".")[0])
        assert allowed is None or room_of(path) in allowed, name


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_only_the_edges_talk_to_the_world(path: Path) -> None:
    worldly = {name.split(".")[0] for name in imports(path)} & FILES_AND_TERMINAL
    assert room_of(path) in WORLDLY or not worldly


def test_every_room_is_listed() -> None:
    rooms = {room_of(path) for path in FILES} - EDGES
    assert rooms == set(DOORS)


def test_the_rules_catch_a_forbidden_import(tmp_path: Path) -> None:
    file = tmp_path / "bad.py"
    file.write_text("def f():\n    from focuschart.cli import main\n    import reportlab.lib\n")
    assert own_rooms(file) == {"cli"}
    assert "reportlab.lib" in set(imports(file))
