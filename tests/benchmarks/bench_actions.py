"""Times what a knitter feels: from an action in a notebook to its answer, and to the last picture.

Run it as `python tests/benchmarks/bench_actions.py`. The notebooks' own cells run in this process,
on copies of a piece; buttons are pressed and boxes set as a browser does it. All is in seconds of
the processor, the best of several; what the kernel needs to send a message is not in it. Beside
each action stands what it cannot do without: the plan, and the change kept on the disk.
"""

from __future__ import annotations

import ast
import asyncio
import contextlib
import io
import json
import math
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

import numpy as np
from scipy.ndimage import gaussian_filter

sys.path.insert(0, str(Path(__file__).parents[2]))

import planner.workbook.drawing as drawing
from planner import Chart, Yarn, make_plan
from planner.folder import change_piece, see, start_piece, with_entry
from planner.workbook import Desk, Fold, Pane
from tests.benchmarks.results import Result
from tests.helpers.forms import box, boxes, press, press_on

ROOT = Path(__file__).parents[2]
NOTEBOOKS = ROOT / "notebooks"
DEMO = "harbour-cushion"
TRIES = 5
SIZES = ("demo, 72 × 96", "150 × 150", "200 × 300")
# Of each action: seconds of the processor, by size.
BUDGETS = {
    "Stroke → headline": (0.15, 0.2, 0.3),
    "Row worked → next card and message": (0.15, 0.3, 0.5),
    "Gauge changed → winding list": (0.15, 0.3, 0.5),
    "Offer taken → its line and the headline": (0.3, 0.5, 1.0),
    "Everything of notebook 3 redrawn": (0.8, 1.2, 2.5),
}
FIRST_CELL_S = 2.5
FLOOR = "the plan, and the change kept"


@dataclass
class Opened:
    """A notebook whose cells have run: its desk, and what each cell shows, by its last line."""

    desk: Desk
    shown: dict[str, Any]

    def widget(self, begins: str) -> Any:
        """What the cell shows whose last line begins so."""
        return next(shown for line, shown in self.shown.items() if line.startswith(begins))


def sources(notebook: str) -> Iterator[str]:
    """The code cells of the notebook whose name begins so."""
    (path,) = NOTEBOOKS.glob(f"{notebook}*.ipynb")
    for cell in json.loads(path.read_text("utf-8"))["cells"]:
        if cell["cell_type"] == "code":
            yield "".join(cell["source"])


def run_cell(source: str, names: dict[str, Any]) -> Any:
    """Run a cell; what its last line gives."""
    *before, last = ast.parse(source).body
    if not isinstance(last, ast.Expr):
        exec(source, names)
        return None
    exec(compile(ast.Module(before, []), "cell", "exec"), names)
    return eval(compile(ast.Expression(last.value), "cell", "eval"), names)


def open_notebook(notebook: str, folder: Path) -> Opened:
    """Run a notebook on the piece in this folder."""
    names: dict[str, Any] = {}
    shown = {}
    in_a_kernel = patch.object(drawing, "kernel_loop", asyncio.get_running_loop)
    with in_a_kernel, contextlib.redirect_stdout(io.StringIO()):
        for source in sources(notebook):
            own = source.replace("open_piece()", f"open_piece({str(folder)!r})")
            shown[source.splitlines()[-1]] = run_cell(own, names)
    return Opened(names["piece"].desk, shown)


# ---- the pieces


def chart_of_areas(stitches: int, rows: int) -> Chart:
    """Four colours in areas about eight stitches wide."""
    random = np.random.default_rng(1)
    fields = gaussian_filter(random.standard_normal((4, rows, stitches)), (0, 4, 4))
    return Chart.from_rows(np.array(list("ABCD"))[fields.argmax(axis=0)])


def make_pieces(place: Path) -> list[Path]:
    """The folders of a piece of each size."""
    ignored = shutil.ignore_patterns("plan", "out", "history", ".*")
    folders = [Path(shutil.copytree(ROOT / "data" / DEMO, place / DEMO, ignore=ignored))]
    yarns = {letter: Yarn(letter, metres_per_ball=100, grams_per_ball=50) for letter in "ABCD"}
    for stitches, rows in ((150, 150), (200, 300)):
        chart = chart_of_areas(stitches, rows)
        folders.append(start_piece(place, f"areas {stitches} {rows}", chart, yarns))
    return folders


# ---- the actions; each gives the seconds to its answer, and to the end of all drawing


async def until(act: Callable[[], Any], *, desk: Desk, answered: Sequence[Pane]) -> list[float]:
    """Act; seconds of the processor until all of these panes have changed, and all is drawn."""
    left = set(answered)
    answered_at = [time.process_time()]

    def hear(change: Any) -> None:
        if change.new:  # a message is emptied first
            left.discard(change.owner)
            if not left and len(answered_at) == 1:
                answered_at.append(time.process_time())

    for pane in answered:
        pane.observe(hear, names="value")
    act()
    if not answered:
        answered_at.append(time.process_time())
    while desk.is_drawing:
        await asyncio.sleep(0.001)
    for pane in answered:
        pane.unobserve(hear, names="value")
    assert len(answered_at) == 2, "it was never answered"
    begun, first = answered_at
    return [first - begun, time.process_time() - begun]


def _unfold(notebook: Opened) -> None:
    """Open all folds of a notebook."""
    for shown in notebook.shown.values():
        if isinstance(shown, Fold):
            shown.heading.click()


async def paint(folder: Path) -> list[list[float]]:
    """A stitch painted over; its headline travels with the end of the stroke."""
    notebook = open_notebook("1-", folder)
    painting = notebook.widget("piece.chart()")
    seconds = []
    for number in range(TRIES):
        grid = bytearray(painting.grid)
        grid[-1 - number] = (grid[-1 - number] + 1) % len(painting.yarns)
        touched = (len(grid) - 5 - number).to_bytes(4, "little")
        sent = {"grid": memoryview(grid), "touched": touched, "stroke": painting.stroke + 1}

        def send(sent: dict[str, Any] = sent) -> None:
            painting.set_state(sent)
            assert painting.trouble == ""

        seconds.append(await until(send, desk=notebook.desk, answered=[]))
    return seconds


async def work_rows(folder: Path) -> list[list[float]]:
    """Row after row marked as worked; all folds are open."""
    notebook = open_notebook("4-", folder)
    _unfold(notebook)
    form = notebook.widget("piece.card")
    message, card, *_ = boxes(form, Pane)
    act = partial(press, form, "Row worked")
    answered = [card, message]
    return [await until(act, desk=notebook.desk, answered=answered) for _ in range(TRIES)]


async def change_gauge(folder: Path) -> list[list[float]]:
    """Another count of stitches, until the winding list follows; all folds are open."""
    notebook = open_notebook("3-", folder)
    _unfold(notebook)
    stitches = box(notebook.widget("piece.gauge"), "stitches")
    panes = boxes(notebook.widget("piece.yarn_plan"), Pane)
    winding = next(pane for pane in panes if "plan-table" in pane.value)
    seconds = []
    for number in range(TRIES):

        def type_it(count: float = stitches.value + (1 if number % 2 else -1)) -> None:
            stitches.value = count

        seconds.append(await until(type_it, desk=notebook.desk, answered=[winding]))
    return seconds


async def take_offers(folder: Path) -> list[list[float]]:
    """An offer taken, until it is said beside the new figures; then taken back."""
    notebook = open_notebook("5-", folder)
    offers = notebook.widget("piece.choices").offers
    answered = [offers.message]
    seconds = []
    for _ in range(TRIES):
        key = offers.items[0]["key"]
        take = partial(press_on, offers, "take", key)
        seconds.append(await until(take, desk=notebook.desk, answered=answered))
        back = partial(press_on, offers, "take back", key)
        await until(back, desk=notebook.desk, answered=answered)
    return seconds


def floor_of(folder: Path) -> float:
    """Seconds for what no action can do without: the plan made, and a line kept on the disk."""
    seconds = []
    for _ in range(TRIES):
        seen = see(folder)
        before = time.process_time()
        change_piece(seen, lambda held: replace(held, progress=with_a_row(held)), check=make_plan)
        seconds.append(time.process_time() - before)
    return min(seconds)


def with_a_row(held: Any) -> Any:
    """The progress of a piece with a note more."""
    return with_entry(held, "left", 0, strand="", length_cm=100.0)


# ---- the first cells


def first_cell(notebook: str) -> float:
    """Seconds of the processor for the first cell that opens a piece, the kernel being there."""
    cell = next(source for source in sources(notebook) if "open_piece" in source)
    # What a kernel has imported already is no part of the cell.
    return fresh(f"import ipykernel.kernelapp\n{'{}'}", cell)


def fresh(frame: str, source: str) -> float:
    """Seconds of the processor that some lines take in a Python of their own."""
    timed = "import time; begun = time.process_time()\n"
    timed += f"{source}\nimport sys; print(time.process_time() - begun, file=sys.stderr)"
    command = [sys.executable, "-c", frame.format(timed)]
    environment = os.environ | {"PLANNER_DEMO": "1"}
    seconds = []
    for _ in range(TRIES):
        run = subprocess.run(
            command, cwd=ROOT, env=environment, capture_output=True, text=True, check=True
        )
        seconds.append(float(run.stderr.splitlines()[-1]))
    return min(seconds)


# ---- the results

ACTIONS: dict[str, tuple[Callable[[Path], Any], int]] = {
    "Stroke → headline": (paint, 0),
    "Row worked → next card and message": (work_rows, 0),
    "Gauge changed → winding list": (change_gauge, 0),
    "Offer taken → its line and the headline": (take_offers, 0),
    "Everything of notebook 3 redrawn": (change_gauge, 1),
}
PACKAGES = "import pandas, scipy.sparse.csgraph, scipy.special, rustworkx, ipywidgets, anywidget"


def measure() -> list[Result]:
    """Each action on each size of a piece, and the first cell of each notebook."""
    results = []
    with TemporaryDirectory() as place:
        folders = make_pieces(Path(place))
        floors = [floor_of(folder) for folder in folders]
        for what, (action, part) in ACTIONS.items():
            figures = []
            for size, folder, floor, budget in zip(
                SIZES, folders, floors, BUDGETS[what], strict=True
            ):
                own = Path(shutil.copytree(folder, Path(place) / "own"))
                seconds = asyncio.run(action(own))
                shutil.rmtree(own)
                figures.append(min(each[part] for each in seconds))
                results.append(_result(f"{what}, {size}", figures, floor, budget))
    packages_s = fresh("import ipykernel.kernelapp\n{}", PACKAGES)
    for notebook in range(1, 7):
        figure = first_cell(f"{notebook}-")
        results.append(
            Result(
                f"First cell of notebook {notebook}",
                round(figure, 3),
                "s of processor",
                beside="the packages it imports, alone",
                beside_figure=round(packages_s, 3),
                aim=f"at most {FIRST_CELL_S:g} s",
                met=figure <= FIRST_CELL_S,
            )
        )
    return results


def _result(what: str, figures: Sequence[float], floor: float, budget: float) -> Result:
    """One line of the table; the last of the figures is its own."""
    grows = ""
    if len(figures) == len(SIZES):
        cells = (200 * 300) / (150 * 150)
        grows = f"stitches^{math.log(figures[-1] / figures[-2]) / math.log(cells):.2f}"
    return Result(
        what,
        round(figures[-1], 3),
        "s of processor",
        beside=FLOOR,
        beside_figure=round(floor, 3),
        grows=grows,
        aim=f"at most {budget:g} s",
        met=figures[-1] <= budget,
    )


def main() -> None:
    for result in measure():
        beside = f"{result.beside} {result.beside_figure}"
        met = "met" if result.met else "NOT MET"
        print(f"{result.what:58}{result.figure:8.3f} s  {result.aim:15} {met:8}{beside}")
        if result.grows:
            print(f"    grows with {result.grows}")


if __name__ == "__main__":
    main()
