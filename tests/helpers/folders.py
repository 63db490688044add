"""A small project folder to begin from, what stands in a folder, and changes made by a script."""

import os
from dataclasses import replace

from planner import open_project
from planner.folder import keep, merged, settled, with_entry, with_measurement
from tests.conftest import ROOT

# For a process of its own that imports planner from this folder.
ENVIRONMENT = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"}

GOOD = {
    "piece.toml": 'format = 1\nname = "Scarf"\n',
    "chart.csv": "A,B,B\nA,A,B\n",
    "yarns.csv": "letter,name\nA,Rust\nB,Sea\n",
}


def write(folder, **files):
    """A small project folder; `chart="A,B"` stands for chart.csv and so on, bytes as they are,
    None for no such file."""
    names = {
        "piece": "piece.toml",
        "chart": "chart.csv",
        "yarns": "yarns.csv",
        "choices": "choices.csv",
    }
    for name, content in (GOOD | {names[key]: content for key, content in files.items()}).items():
        if content is not None:
            (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    return folder


def contents(folder):
    """The files of a folder, those of folders below it too, without what begins with a dot."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    names = {path.relative_to(folder).as_posix(): path for path in files}
    return {name: path.read_bytes() for name, path in names.items() if name[0] != "."}


def leftovers(folder):
    """What a change that is finished leaves nothing of."""
    return [path.name for path in folder.rglob("*") if path.name.endswith((".part", ".pending"))]


def kept(project, **changes):
    """The piece after these changes of `project` are kept in its folder."""
    wanted = replace(project, **changes)
    return keep(project, lambda held: merged(project, wanted, held))


def logged(folder, make):
    """The measurement that `make` gives when it is told its number, put into the folder's log."""

    def with_one_more(held):
        return replace(held, measurements=with_measurement(held.measurements, make))

    return keep(open_project(folder), with_one_more).measurements[-1]


def marked(project, what, row, **values):
    """The line put into the progress of a piece."""

    def with_one_more(held):
        return replace(held, progress=with_entry(held, what, row, **values))

    return keep(project, with_one_more).progress[-1]


def chosen(folder, *choices, **fields):
    """The piece after these choices are put into its folder; an empty one withdraws."""

    def with_them(held):
        return replace(held, choices=settled((*held.choices, *choices)))

    return keep(open_project(folder), with_them, **fields)


def comments(text):
    """The comments in a TOML file."""
    return [line[line.index("#") :].strip() for line in text.splitlines() if "#" in line]
