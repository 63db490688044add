"""The rooms of the house: who may ask whom, read from the code's own imports."""

import ast
from pathlib import Path

import pytest

PLANNER = Path(__file__).parents[1] / "planner"
BASICS = {"errors", "units", "colour", "doors"}

# From the ground up; a room may import from itself, the basics, and the rooms named.
MAY_IMPORT = {
    "piece": set(),
    "multiplier": {"piece"},
    "strands": {"piece"},
    "supplies": {"piece", "multiplier", "strands"},
    "rows": {"piece", "strands", "supplies"},
    "choices": {"piece", "multiplier", "strands", "supplies"},
    "plan": {"piece", "multiplier", "strands", "supplies", "rows", "choices"},
    "knitting": {"piece", "multiplier", "strands", "supplies", "plan"},
    "buying": {"piece", "multiplier", "strands", "supplies", "plan"},
    "charts": {"piece", "strands", "folder"},
    "folder": {"piece", "multiplier"},
    "pictures": {"piece", "multiplier", "strands", "rows", "plan"},
    "paper": {"piece", "multiplier", "strands", "supplies", "rows", "plan", "pictures"},
}
# May import anything; nothing imports them.
EDGES = {"workbook", "report", "__main__", "__init__"}
# These packages are known to these rooms only.
HEAVY = {
    "ipywidgets": {"workbook"},
    "anywidget": {"workbook"},
    "matplotlib": {"pictures", "workbook"},
}


def imports_of(path: Path):
    """Every module that a file imports, in full, with the line on which it does."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            for name in node.names:
                yield name.name.split("."), node.lineno
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            module = node.module.split(".")
            if module == ["planner"]:  # from planner import rows
                for name in node.names:
                    yield ["planner", name.name], node.lineno
            else:
                yield module, node.lineno
        elif isinstance(node, ast.ImportFrom):
            yield ["a relative import"], node.lineno


def all_imports():
    for path in sorted(PLANNER.rglob("*.py")):
        room = path.relative_to(PLANNER).parts[0].removesuffix(".py")
        for module, line in imports_of(path):
            yield room, module, f"{path.relative_to(PLANNER)}:{line}"


@pytest.mark.parametrize(("room", "module", "where"), list(all_imports()))
def test_rooms_ask_only_rooms_below(room, module, where):
    assert module != ["a relative import"], f"{where}: name the room in full"
    if module[0] in HEAVY:
        assert room in HEAVY[module[0]], f"{where}: only {HEAVY[module[0]]} may know {module[0]}"
    if module[0] != "planner" or room in EDGES:
        return
    rooms = set(MAY_IMPORT) | BASICS | EDGES
    if len(module) > 1 and module[1] in rooms:  # a name of the public face is not a room
        allowed = MAY_IMPORT.get(room, set()) | BASICS | {room}
        assert module[1] in allowed, f"{where}: {room} may not import {module[1]}"
        by_the_door = len(module) == 2 or module[1] == room
        assert by_the_door, f"{where}: come in by the door, planner.{module[1]}"
