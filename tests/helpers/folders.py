"""A small project folder to begin from, and what stands in a folder."""

import os

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
    return {
        path.name: path.read_bytes() for path in folder.iterdir() if not path.name.startswith(".")
    }


def leftovers(folder):
    """Files that were left half written."""
    return [path.name for path in folder.iterdir() if path.name.endswith(".part")]


def comments(text):
    """The comments in a TOML file."""
    return [line[line.index("#") :].strip() for line in text.splitlines() if "#" in line]
