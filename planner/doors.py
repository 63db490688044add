"""The doors of the rooms: each hands out its names when they are asked for (PEP 562).

So nothing is imported that is not used, and `python3 -m planner` runs on a bare Python.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from importlib import import_module


def open_door(
    room: str, names_by_file: Mapping[str, Sequence[str]]
) -> tuple[Callable[[str], object], Callable[[], list[str]], list[str]]:
    """The `__getattr__`, `__dir__` and `__all__` of a room that hands out these names.

    `names_by_file` gives the names by the file of the room that holds them; "chart" stands for
    chart.py, "piece.chart" for chart.py in a room below.
    """
    file_of = {name: file for file, names in names_by_file.items() for name in names}
    all_names = sorted(file_of)

    def hand_out(name: str) -> object:
        if name not in file_of:
            # What Python says of a name that is not there, so that hasattr and getattr work.
            raise AttributeError(f"{room} has no name {name!r}")
        # Not kept in the room's own dictionary: a test that patches the file is seen at the door.
        return getattr(import_module(f"{room}.{file_of[name]}"), name)

    return hand_out, lambda: all_names, all_names
