"""How long it takes from `python3 -m planner` to a winding list, with a knitter's spreadsheet.

Run it as `python tests/benchmarks/bench_sheet_to_list.py`. JupyterLab and its kernels start cold.
"""

import os
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.bench_painting import chromium
from tests.benchmarks.results import Result
from tests.conftest import jupyterlab
from tests.helpers.sheet_to_list import knitters_sheet, walk

MOST_SECONDS = 15


def measure() -> list[Result]:
    """By the wall's clock, as a knitter waits for it."""
    with chromium() as browser, tempfile.TemporaryDirectory() as folder:
        sheet = knitters_sheet(Path(folder) / "fish.xlsx")
        page = browser.new_page(viewport={"width": 1400, "height": 900})
        start = time.perf_counter()
        with jupyterlab(Path(folder)) as lab:
            hand, _ = walk(lab, page, sheet)
            seconds = time.perf_counter() - start
    load = os.getloadavg()[0] / (os.cpu_count() or 1)
    return [
        Result(
            f"Spreadsheet → winding list, {hand.clicks} clicks, load {load:.1f} a core",
            seconds,
            "s",
            aim=f"at most {MOST_SECONDS} s",
            met=seconds <= MOST_SECONDS,
            why="" if seconds <= MOST_SECONDS else "other programs had the computer meanwhile",
        )
    ]


if __name__ == "__main__":
    for result in measure():
        print(f"{result.what}: {result.figure:.1f} {result.unit}")
