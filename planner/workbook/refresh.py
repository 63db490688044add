"""Runs the notebooks anew and saves what they show, so that two runs give the same bytes.

    python3 -m planner.workbook.refresh [WORD ...]

runs the notebooks whose names contain one of the words, or all of them.
"""

from __future__ import annotations

import base64
import io
import os
import re
import sys
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient
from PIL import Image

from planner.__main__ import SHOW_THE_DEMO
from planner.folder import locked_folder, write_together

ROOT = Path(__file__).resolve().parents[2]
WIDGET = "application/vnd.jupyter.widget-view+json"
KERNEL = {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"}
PICTURE = re.compile("(?<=data:image/png;base64,)[A-Za-z0-9+/=]+")
# 96 colours are plenty for flat areas and lines, and keep the notebook small.
PICTURE_COLOURS = 96
KEPT_OF_A_CELL = ("tags", "jupyter", "collapsed")


def refresh(path: Path) -> None:
    """Run one notebook from top to bottom and save it with what it shows."""
    notebook = nbformat.read(path, as_version=4)
    # Times and the state of widgets would differ in every run.
    client = NotebookClient(
        notebook,
        timeout=300,
        record_timing=False,
        store_widget_state=False,
        resources={"metadata": {"path": str(path.parent)}},
    )
    client.execute()
    _tidy(notebook)
    _write(path, nbformat.writes(notebook).rstrip("\n").encode() + b"\n")


def _tidy(notebook: Any) -> None:
    """Drop from a notebook what differs between two runs, and widgets that need their kernel."""
    notebook.metadata = {"kernelspec": KERNEL, "language_info": {"name": "python"}}
    for number, cell in enumerate(notebook.cells, start=1):
        # Editors give cells ids by chance.
        cell["id"] = f"cell-{number}"
        if cell.cell_type == "code":
            kept = {name: cell.metadata[name] for name in KEPT_OF_A_CELL if name in cell.metadata}
            cell.metadata = kept
            for output in cell.outputs:
                _tidy_output(output)


def _tidy_output(output: Any) -> None:
    output.get("metadata", {}).clear()
    data = output.get("data", {})
    # A saved widget cannot be shown without its kernel; the HTML kept beside it can.
    if WIDGET in data and len(data) > 1:
        del data[WIDGET]
    # Pictures are packed hard here alone: on a page it would only take time.
    if "image/png" in data:
        data["image/png"] = reduced(data["image/png"])
    if "text/html" in data:
        data["text/html"] = PICTURE.sub(lambda png: reduced(png[0]), data["text/html"])


def reduced(png: str) -> str:
    """A PNG in base64 as a smaller one, with as many colours as a picture needs."""
    with Image.open(io.BytesIO(base64.b64decode(png))) as picture:
        few = picture.convert("RGB").quantize(PICTURE_COLOURS)
    file = io.BytesIO()
    few.save(file, "png", optimize=True)
    return base64.b64encode(file.getvalue()).decode()


def _write(path: Path, data: bytes) -> None:
    with locked_folder(path.parent):
        write_together(path.parent, {path.name: data})


def main(words: list[str]) -> int:
    """Refresh the notebooks whose names contain one of the words; without words, everything."""
    # What is committed shows the demo itself, not a knitter's copy of it.
    os.environ.update(SHOW_THE_DEMO)
    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        if not words or any(word in path.name for word in words):
            print(f"Running {path.name} …", flush=True)
            refresh(path)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
