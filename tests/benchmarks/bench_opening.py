"""Opens each notebook in real JupyterLab with the server up, until its first screen is live.

Run it as `python tests/benchmarks/bench_opening.py`. Every opening is a cold one: no kernel runs,
and the page is loaded anew. Beside it stands a notebook without a cell, until its kernel is idle:
so long JupyterLab takes by itself. What the computer did meanwhile is told by its load.
"""

import json
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.benchmarks.results import Result
from tests.conftest import CHROMIUM_OPTIONS, ROOT, Lab, jupyterlab

EMPTY = "empty.ipynb"
AIM_S, LONGEST_MS = 8, 120_000
# The first cell opens the piece; what the second one shows is the first screen.
FIRST_SCREEN = """() => {
  const cell = document.querySelectorAll(".jp-NotebookPanel[data-life] .jp-CodeCell")[1];
  // What is kept of a cell is one widget; what is live holds another.
  const shown = cell?.querySelector(".jp-OutputArea-output > .lm-Widget");
  return Boolean(shown) && shown.getBoundingClientRect().height > 100;
}"""


def seconds_until(lab: Lab, page: Page, name: str) -> float:
    """How long a notebook takes to open, with no kernel running."""
    lab.end_kernels()
    page.goto("about:blank")
    start = time.perf_counter()
    page.goto(f"{lab.address}/lab/tree/notebooks/{name}?token={lab.token}&reset")
    if name == EMPTY:
        lab.idle(page)
    else:
        page.wait_for_function(FIRST_SCREEN, timeout=LONGEST_MS)
    seconds = time.perf_counter() - start
    if name != EMPTY:
        lab.awake(page)
    return seconds


def empty_notebook(lab: Lab) -> None:
    """A notebook without a cell beside those of the workbook."""
    first = next((lab.root / "notebooks").glob("1-*.ipynb"))
    notebook = json.loads(first.read_text("utf-8")) | {"cells": []}
    (lab.root / "notebooks" / EMPTY).write_text(json.dumps(notebook), "utf-8")


def measure() -> list[Result]:
    """A line for each notebook."""
    path = shutil.which("chromium")
    names = [each.name for each in sorted((ROOT / "notebooks").glob("*.ipynb"))]
    results = []
    with tempfile.TemporaryDirectory() as place, jupyterlab(Path(place)) as lab:
        empty_notebook(lab)
        with sync_playwright() as playwright:
            chromium = playwright.chromium.launch(executable_path=path, args=CHROMIUM_OPTIONS)
            page = chromium.new_page(viewport={"width": 1400, "height": 900})
            # The first page fetches JupyterLab itself; it is not told.
            seconds_until(lab, page, EMPTY)
            for name in names:
                alone = seconds_until(lab, page, EMPTY)
                seconds = seconds_until(lab, page, name)
                load = os.getloadavg()[0]
                results.append(_line(name, seconds, alone, load))
            chromium.close()
    return results


def _line(name: str, seconds: float, alone: float, load: float) -> Result:
    is_met = seconds <= AIM_S
    return Result(
        what=f"{name} opened cold → its first screen live",
        figure=seconds,
        unit="s",
        beside=f"a notebook without a cell (load {load:.1f} on {os.cpu_count()} cores)",
        beside_figure=alone,
        aim=f"at most {AIM_S} s",
        met=is_met,
        why="" if is_met else f"the computer had other work, a load of {load:.1f}",
    )


if __name__ == "__main__":
    for result in measure():
        print(f"{result.what}: {result.figure:.1f} s; {result.beside}: {result.beside_figure:.1f}")
