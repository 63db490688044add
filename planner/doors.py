"""The doors of the rooms: each hands out its names when they are asked for (PEP 562).

So nothing is imported that is not used, and `python3 -m planner` runs on a bare Python. A door
lists its names once, under `if TYPE_CHECKING:`, where the type checker reads them; they are read
from there at run time too.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Callable
from importlib import import_module
from pathlib import Path


def open_door(room: str) -> tuple[Callable[[str], object], Callable[[], list[str]], list[str]]:
    """The `__getattr__`, `__dir__` and `__all__` of a room, from the imports that its door
    lists."""
    door = Path(str(sys.modules[room].__file__))
    file_of = {
        name.name: node.module
        for node in ast.walk(ast.parse(door.read_text("utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("planner.")
        for name in node.names
        if name.name != "open_door"
    }

    def get(name: str) -> object:
        if name not in file_of:
            raise AttributeError(f"{room} has no name {name!r}")
        return getattr(import_module(file_of[name]), name)

    return get, lambda: sorted(file_of), sorted(file_of)
