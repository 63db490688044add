"""Times the choices: all offers priced, an offer taken, the trade-off, a ceiling.

Run it as `python tests/benchmarks/bench_choices.py`; it takes about a minute. Seconds are of the
processor. Beside the pricing stands what a whole plan for each offer would take; beside an offer
taken, which ends when the form shows all of its offers by their new prices, the plan alone.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from time import process_time

import numpy as np
from scipy.ndimage import gaussian_filter

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner import Chart, Project, make_plan, open_project
from planner.choices import Pricing, find_offers, keep_under, tradeoff
from planner.folder import copy_piece, start_piece
from planner.workbook import Desk, headline, offers_form
from tests.benchmarks.results import Result
from tests.helpers.forms import press_on

DEMO = Path(__file__).parents[2] / "data" / "harbour-cushion"
SIZES = [(100, 150), (150, 225), (200, 300), (300, 450)]  # stitches, rows
DOTS = 0.01
TIMES = 3  # of which the best counts
# Offers that are taken one after the other, from all over the list.
TAKEN = 5
PRICED_S = {"200 × 300": 2.0}
TAKEN_S = {"the demo": 0.3, "150 × 150": 0.5, "200 × 300": 1.0}


def chart_with_dots(stitches: int, rows: int, share: float) -> Chart:
    """Four colours in areas about eight stitches wide, and a share of stitches in any colour."""
    random = np.random.default_rng(1)
    shape = (rows, stitches)
    # Each stitch has the colour whose smooth field is highest there.
    fields = gaussian_filter(random.standard_normal((4, *shape)), (0, 4, 4))
    is_dot = random.random(shape) < share
    cells = np.where(is_dot, random.integers(0, 4, shape), fields.argmax(axis=0))
    return Chart.from_rows(np.array(list("ABCD"))[cells])


def seconds(work, *arguments) -> float:
    """Seconds of the processor that some work takes."""
    start = process_time()
    work(*arguments)
    return process_time() - start


def best_seconds(work, *arguments) -> float:
    """The least of several times."""
    return min(seconds(work, *arguments) for _ in range(TIMES))


def judged(result: dict[str, object], most_s: float | None) -> Result:
    """A line of the table, with an aim in seconds if there is one."""
    if most_s is None:
        return Result(**result)
    met = result["figure"] <= most_s
    why = "" if met else f"{result['figure'] - most_s:.2f} s too long"
    return Result(**result, aim=f"at most {most_s:g} s", met=met, why=why)


def pricing(name: str, project: Project, most_s: float | None = None) -> Result:
    """All offers of a project priced."""
    offers = len(find_offers(project))
    line = {
        "what": f"{offers} offers priced, {name}",
        "figure": best_seconds(find_offers, project),
        "unit": "s of processor",
        "beside": "a whole plan for each offer",
        "beside_figure": offers * best_seconds(make_plan, project),
    }
    return judged(line, most_s)


def taking(name: str, project: Project, most_s: float | None = None) -> Result:
    """An offer taken in the form, until the form shows the offers that are left by their prices."""
    desk = Desk(project)
    desk.words(headline)
    offers = offers_form(desk).offers
    times = []
    for number in range(TAKEN):
        item = offers.items[number * len(offers.items) // TAKEN]
        times.append(seconds(press_on, offers, "take", item["key"]))
    line = {
        "what": f"an offer taken, {name}",
        # Not the best: some offers are felt by more than others.
        "figure": float(np.median(times)),
        "unit": "s of processor",
        "beside": "the plan alone",
        "beside_figure": best_seconds(make_plan, desk.project),
    }
    return judged(line, most_s)


def growth(data: str) -> list[Result]:
    """How pricing and taking grow with the number of runs, on charts with dots."""
    runs, priced, taken = [], [], []
    for stitches, rows in SIZES:
        project = in_folder(data, chart_with_dots(stitches, rows, DOTS))
        runs.append(Pricing(project).runs.count)
        priced.append(seconds(find_offers, project))
        taken.append(taking("", project).figure)
    smallest, largest = (f"{stitches} × {rows}" for stitches, rows in (SIZES[0], SIZES[-1]))
    results = []
    for what, figures in (("all offers priced", priced), ("an offer taken", taken)):
        exponent = np.polyfit(np.log(runs), np.log(figures), 1)[0]
        results.append(
            Result(
                what=f"{what}, {DOTS:.0%} dots, {largest}",
                figure=figures[-1],
                unit="s of processor",
                grows=f"runs^{exponent:.2f} from {smallest} on",
            )
        )
    return results


def in_folder(data: str, chart: Chart) -> Project:
    """A piece with a chart in a folder of its own, as the forms need one to keep choices in."""
    name = f"piece {len(list(Path(data).iterdir()))}"
    return open_project(start_piece(Path(data), name, chart, {}))


def trade_off_and_ceiling() -> list[Result]:
    """The trade-off of a smooth chart, and a ceiling three below what hangs at once."""
    project = Project("150 × 150", chart_with_dots(150, 150, 0))
    most = Pricing(project).now.live - 3
    figures = {
        "the trade-off, smooth, 150 × 150": best_seconds(tradeoff, project),
        f"never more than {most} at once, smooth, 150 × 150": seconds(keep_under, project, most),
    }
    return [Result(what, figure, "s of processor") for what, figure in figures.items()]


def measure() -> list[Result]:
    """Offers priced and taken in the demo and on charts with areas about eight stitches wide."""
    results = []
    with tempfile.TemporaryDirectory() as data:
        copy_piece(DEMO, Path(data) / "demo")
        demo = open_project(Path(data) / "demo")
        results += [pricing("the demo", demo), taking("the demo", demo, TAKEN_S["the demo"])]
        for stitches, rows in ((150, 150), (200, 300)):
            size = f"{stitches} × {rows}"
            for share, drawn in ((0, "smooth"), (DOTS, f"{DOTS:.0%} dots")):
                project = in_folder(data, chart_with_dots(stitches, rows, share))
                results.append(pricing(f"{drawn}, {size}", project, PRICED_S.get(size)))
                results.append(taking(f"{drawn}, {size}", project, TAKEN_S[size]))
        return [*results, *growth(data), *trade_off_and_ceiling()]


if __name__ == "__main__":
    for result in measure():
        print(result)
