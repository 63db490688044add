"""Times logs that have grown long: 20,000 lines of progress and 5,000 measurements.

Run it as `python tests/benchmarks/bench_logs.py`. Each figure stands beside its floor: the same
file read by csv alone, or as many points drawn by matplotlib alone. All in seconds of the
processor, the shortest of three. The targets: progress read in less than 0.3 s, the picture of the
multipliers drawn in less than 1 s.
"""

import csv
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner import make_plan, open_project
from planner.folder.logs import (
    MEASUREMENT_COLUMNS,
    PROGRESS_COLUMNS,
    read_measurements,
    read_progress,
)
from planner.knitting import planned_against_used, will_it_last
from planner.multiplier import Calibration, evidence_of, judge, same_as
from planner.pictures import draw_multipliers, draw_used_against_planned, png_of
from planner.piece import (
    JOINED,
    LEFT,
    MARKED,
    PARTS,
    SUPPLY,
    UNDONE,
    WEIGHED,
    WORKED,
    Entry,
    Measurement,
)
from planner.strands import note_row
from tests.benchmarks.results import Result
from tests.conftest import DEMO

LINES, MEASUREMENTS, TIMES = 20_000, 5_000, 3
BY_CSV, BY_MATPLOTLIB = "the file read by csv alone", "as many points by matplotlib alone"
DAY = "2026-03-14"


def long_progress(plan) -> list[Entry]:
    """Half of the demo worked, a row or two taken back and worked again, each supply measured."""
    totals = plan.project.row_totals()
    half = len(totals) // 2
    notes = [note_row(plan.traced, row) for row in range(1, half + 1)]
    log = []

    def add(what: str, row: int, **values: Any) -> None:
        if what in (WORKED, UNDONE):
            values["stitches"] = totals[row - 1]
        if what == WORKED:
            values["runs"] = notes[row - 1]
        log.append(Entry(len(log) + 1, DAY, what, row, **values))

    for row in range(1, half + 1):
        add(WORKED, row)
    strands = [part.label for part in plan.parts if part.name == PARTS[0]]
    while len(log) < LINES:
        for strand in strands:
            add(LEFT, half, strand=strand, length_cm=123.5)
            add(JOINED, half, strand=strand, length_cm=200)
        add(UNDONE, half)
        add(WORKED, half)
    return log[:LINES]


def long_measurements(letters, way: str) -> list[Measurement]:
    """Measurements of one way in each yarn by turns, some corrected."""
    random = np.random.default_rng(1)
    log = []
    for number in range(1, MEASUREMENTS + 1):
        stitches = int(random.integers(20, 900))
        used_cm = stitches / 2 * random.normal(3.5, 0.1)
        values = {
            MARKED: {"length_cm": used_cm},
            # Many figures of bands: each is one more error that some swatches have in common.
            WEIGHED: {"grams": used_cm / 200, "metres_per_gram": 2 + number % 100 / 1000},
            SUPPLY: {"wound_cm": used_cm + 30, "left_cm": 0.0, "tails_cm": 30},
        }[way]
        if way == SUPPLY:
            planned_cm = stitches / 2 * 3.5 + 30
            values |= {
                "planned_cm": planned_cm,
                "planned_low_cm": 0.9 * planned_cm,
                "planned_high_cm": 1.1 * planned_cm,
            }
        yarn = letters[number % len(letters)]
        new = Measurement(number, DAY, way, yarn, 20, stitches=stitches, grams_step=0.1, **values)
        if number % 50 == 0:
            new = replace(new, corrects=number - 1)
        log.append(new)
    return log


def write_log(path: Path, columns: tuple[str, ...], log) -> None:
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(asdict(line) for line in log)


def read_by_csv(path: Path) -> None:
    with open(path, encoding="utf-8", newline="") as file:
        list(csv.reader(file))


def scatter(count: int) -> None:
    """The same number of points, alone in one field."""
    figure = Figure(figsize=(9, 5.1), layout="constrained")
    ax = figure.subplots()
    heights = np.random.default_rng(1).normal(3.5, 0.1, count)
    ax.plot(np.arange(count), heights, "o", markersize=1.5)
    png_of(figure)


def busy_s(work: Callable[[], Any]) -> float:
    """The shortest of several times, seconds of the processor."""
    seconds = []
    for _ in range(TIMES):
        start = time.process_time()
        work()
        seconds.append(time.process_time() - start)
    return min(seconds)


def beside(what: str, work: Callable[[], Any], floor: tuple[str, float], most_s=None) -> Result:
    """The work's time beside its floor; `most_s` is the aim."""
    seconds = busy_s(work)
    aim, met, why = "", None, ""
    if most_s is not None:
        aim, met = f"at most {most_s:g} s", seconds <= most_s
        why = "" if met else f"{seconds / most_s:.1f} times the aim"
    return Result(what, seconds, "s of processor", *floor, aim=aim, met=met, why=why)


def progress(plan, folder: Path) -> Iterator[Result]:
    log = long_progress(plan)
    path = folder / "progress.csv"
    write_log(path, PROGRESS_COLUMNS, log)
    floor = BY_CSV, busy_s(lambda: read_by_csv(path))
    lines = f"{LINES:,} lines of progress"
    yield beside(f"{lines} read", lambda: read_progress(folder), floor, 0.3)
    yield beside(f"{lines}: will it last?", lambda: will_it_last(plan, log), floor)
    knitted = replace(plan.project, progress=tuple(log))
    yield beside(f"{lines}: planned with them", lambda: make_plan(knitted), floor)


def measurements(letters, way: str, folder: Path) -> Iterator[Result]:
    log = long_measurements(letters, way)
    path = folder / "measurements.csv"
    write_log(path, MEASUREMENT_COLUMNS, log)
    floor = BY_CSV, busy_s(lambda: read_by_csv(path))
    drawn = BY_MATPLOTLIB, busy_s(lambda: scatter(MEASUREMENTS))
    # One more, as it is judged while it is typed.
    new = replace(log[-1], number=MEASUREMENTS + 1, corrects=None, stitches=log[-1].stitches + 1)
    lines = f"{MEASUREMENTS:,} measurements, {way}"
    yield beside(f"{lines}, read", lambda: read_measurements(folder), floor)
    calibrate = partial(Calibration, evidence_of(log), letters)
    yield beside(f"{lines}, calibrated", calibrate, floor)
    yield beside(f"{lines}, one more judged", lambda: judge(new, log), floor)
    yield beside(f"{lines}, is one more there?", lambda: same_as(new, log), floor)
    yield beside(f"{lines}, their picture", lambda: png_of(draw_multipliers(log)), drawn, 1)
    if way == SUPPLY:
        table = planned_against_used(log)
        draw = partial(draw_used_against_planned, table)
        yield beside(f"{lines}, used against planned", lambda: png_of(draw()), drawn, 1)


def all_results() -> Iterator[Result]:
    plan = make_plan(open_project(DEMO))
    letters = plan.project.chart.letters
    with tempfile.TemporaryDirectory() as name:
        yield from progress(plan, Path(name))
        for way in (MARKED, WEIGHED, SUPPLY):
            yield from measurements(letters, way, Path(name))


def measure() -> list[Result]:
    """Both logs, read and made use of."""
    return list(all_results())


def main():
    for result in all_results():
        floor = f"floor {result.beside_figure:5.3f} s   × {result.ratio:.1f}"
        print(f"  {result.what:50} {result.figure:6.3f} s   {floor}", flush=True)


if __name__ == "__main__":
    main()
