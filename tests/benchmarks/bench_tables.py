"""Times a plan and all of its tables, beside the least that such tables could take.

Run it as `python tests/benchmarks/bench_tables.py`. The floor is one labelling pass a yarn, by
SciPy, and one pandas table with as many rows as there are strands. Both are in seconds of the
processor, measured in turn, so that the ratio holds on a computer that does other things too.
In turn means from cold caches, as the tables are made; over and over by itself, from warm ones, the
floor takes little more than half as long.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import process_time

import numpy as np
import pandas as pd
from scipy.ndimage import label

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner import Chart, Project, make_plan, open_project
from planner.plan import Plan
from tests.benchmarks.bench_strands import chart_of
from tests.benchmarks.results import Result

DEMO = Path(__file__).parents[2] / "data" / "harbour-cushion"
# All that a plan makes for people when it is asked for: its tables and its cards.
TABLES = (
    "strands",
    "supplies",
    "ways",
    "winding_list",
    "shopping_list",
    "embroidery",
    "rows",
    "areas",
    "ends",
    "ends_by_area",
    "findings",
    "cards",
)
MOST_TIMES_THE_FLOOR = 80
SIZES = [(100, 150), (150, 225), (200, 300), (300, 450)]  # stitches, rows
TIMES = 5  # of which the best counts


def every_table(project: Project) -> Plan:
    """The plan of a project, once all of its tables are made."""
    plan = make_plan(project)
    for table in TABLES:
        getattr(plan, table)
    return plan


def floor(chart: Chart, strands: int) -> None:
    """The least that could be done: each yarn labelled, and one table as long as the strands."""
    for yarn in range(len(chart.letters)):
        label(chart.cells == yarn)
    pd.DataFrame([{"strand": number} for number in range(strands)])


def measured(project: Project) -> tuple[float, float, Plan]:
    """Seconds of the processor for a plan with its tables and for the floor, and the plan."""
    plan = every_table(project)
    whole, least = [], []
    for _ in range(TIMES):
        start = process_time()
        every_table(project)
        between = process_time()
        floor(plan.traced.chart, plan.traced.count)
        least.append(process_time() - between)
        whole.append(between - start)
    return min(whole), min(least), plan


def beside_the_floor(name: str, project: Project, *, has_aim: bool) -> Result:
    """One line of the table of benchmarks."""
    whole, least, plan = measured(project)
    times = whole / least
    aim, met, why = "", None, ""
    if has_aim:
        aim, met = f"at most {MOST_TIMES_THE_FLOOR} times the floor", times <= MOST_TIMES_THE_FLOOR
        if not met:
            why = f"{times:.0f} times the floor"
    return Result(
        what=f"make_plan and all tables, {name} ({plan.traced.count} strands)",
        figure=whole,
        unit="s of processor",
        beside="one labelling pass a yarn and one table of the strands",
        beside_figure=least,
        aim=aim,
        met=met,
        why=why,
    )


def growth() -> Result:
    """How the time grows with the number of runs, on smooth charts."""
    runs, seconds = [], []
    for stitches, rows in SIZES:
        whole, _, plan = measured(Project("growth", chart_of("smooth", (stitches, rows))))
        runs.append(plan.traced.runs.count)
        seconds.append(whole)
    exponent = np.polyfit(np.log(runs), np.log(seconds), 1)[0]
    stitches, rows = SIZES[-1]
    return Result(
        what=f"make_plan and all tables, smooth {stitches} × {rows}",
        figure=seconds[-1],
        unit="s of processor",
        grows=f"runs^{exponent:.2f} from {SIZES[0][0]} × {SIZES[0][1]} on",
    )


def measure() -> list[Result]:
    """The plan and its tables of the demo and of smooth charts."""
    square = Project("150 × 150", chart_of("smooth", (150, 150)))
    return [
        beside_the_floor("the demo", open_project(DEMO), has_aim=False),
        beside_the_floor("smooth 150 × 150", square, has_aim=True),
        growth(),
    ]


def main() -> None:
    for result in measure():
        print(result)


if __name__ == "__main__":
    main()
