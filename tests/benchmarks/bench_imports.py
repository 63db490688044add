"""Times what is imported before the first plan, beside the packages that no plan can do without.

Run it as `python tests/benchmarks/bench_imports.py`. Each is imported by a Python of its own, by
turns, so that both meet the same computer. What a notebook's first cell takes is measured by
bench_actions.py.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.results import Result

ROOT = Path(__file__).resolve().parents[2]
TIMES = 9
MOST_TIMES_THE_FLOOR = 1.25
OURS = "from planner import make_plan"
FLOOR = "import pandas, scipy.sparse.csgraph, rustworkx"
TIMED = "import time; begun = time.process_time()\n{}\nprint(time.process_time() - begun)"


def fresh(lines: str) -> float:
    """Seconds of the processor that some lines take in a Python of their own."""
    command = [sys.executable, "-c", TIMED.format(lines)]
    # As a knitter's computer has it: what was compiled once is kept.
    environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": ""}
    return float(subprocess.check_output(command, cwd=ROOT, text=True, env=environment))


def measure() -> list[Result]:
    """The import of the planner beside its floor, each the best of several."""
    fresh(OURS)  # compiles what was not compiled yet
    ours, floor = [], []
    for _ in range(TIMES):
        ours.append(fresh(OURS))
        floor.append(fresh(FLOOR))
    times = min(ours) / min(floor)
    met = times <= MOST_TIMES_THE_FLOOR
    return [
        Result(
            what=OURS,
            figure=min(ours),
            unit="s of processor",
            beside="pandas, scipy.sparse.csgraph and rustworkx alone",
            beside_figure=min(floor),
            aim=f"at most {MOST_TIMES_THE_FLOOR} times that",
            met=met,
            why="" if met else f"{times:.2f} times its floor",
        )
    ]


def main() -> None:
    for result in measure():
        print(f"{result.what}: {result.figure:.2f} s, {result.ratio:.2f} times its floor")


if __name__ == "__main__":
    main()
