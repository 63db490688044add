"""Runs the notebooks anew and saves what they show, so that two runs give the same bytes; draws the README's picture."""

from __future__ import annotations

import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient

from planner.folder import open_project
from planner.pictures import draw_strands
from planner.plan import make_plan

ROOT = Path(__file__).resolve().parents[2]
WIDGET = "application/vnd.jupyter.widget-view+json"


def refresh(path: Path):
    """Run one notebook from top to bottom and save it; of a widget only its picture in words or HTML is kept."""
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        timeout=300,
        record_timing=False,
        store_widget_state=False,
        resources={"metadata": {"path": str(path.parent)}},
    )
    client.execute()
    notebook.metadata = {
        "kernelspec": {
            "display_name": "Python 3 (ipykernel)",
            "language": "python",
            "name": "python3",
        },
        "language_info": {"name": "python"},
    }
    for i, cell in enumerate(notebook.cells):
        cell["id"] = f"cell-{i + 1}"
        if cell.cell_type == "code":
            cell.metadata = {
                k: v for k, v in cell.metadata.items() if k in ("tags", "jupyter", "collapsed")
            }
            for output in cell.outputs:
                output.get("metadata", {}).clear()
                data = output.get("data", {})
                # A saved widget cannot be shown without its kernel; the HTML kept beside it can.
                if WIDGET in data and len(data) > 1:
                    del data[WIDGET]
    nbformat.write(notebook, path)


def main(names: list[str]) -> int:
    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        if not names or any(name in path.name for name in names):
            print(f"Running {path.name} …", flush=True)
            refresh(path)
    if not names:
        print("Drawing the README's picture …", flush=True)
        plan = make_plan(open_project(ROOT / "data" / "harbour-cushion"))
        draw_strands(plan).savefig(
            ROOT / "shared" / "harbour-cushion-strands.png", metadata={"Software": None}
        )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
