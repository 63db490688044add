"""Times the tracing of strands on smooth and noisy charts, beside other roads to the same choice.

Run it as `python tests/benchmarks/bench_strands.py`; some minutes. Seconds are the processor's. The
charts of 400 × 600 have half a minute each. Beside the small ones stand, where they end in
reasonable time: the exact matching of whole groups, HiGHS's integer programme and rustworkx's
general matching, both on all links unsplit. It stops with an error where two roads disagree.
"""

from __future__ import annotations

import resource
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from time import process_time
from typing import Any
from unittest.mock import patch

import numpy as np
import rustworkx
from scipy.ndimage import gaussian_filter
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner import CarryLimits, Chart, Gauge, Project, make_plan, trace_strands
from planner.strands import matching, trace
from tests.benchmarks.results import Result

GAUGE = Gauge()
LIMITS = {"default": CarryLimits(), "wide": CarryLimits(across=5, sideways=10, up=6)}
SIZES = [(100, 150), (140, 210), (200, 300)]  # stitches, rows
SMOOTH_SIZES = [*SIZES, (300, 450), (400, 600)]
MOST_SECONDS = 30  # of the processor, for one of the largest charts
LARGEST = (400, 600)
# Up to so many links the other roads are taken: in the largest group, and in all.
WHOLE_GROUP_LINKS, HIGHS_LINKS, UNSPLIT_LINKS = 20_000, 16_000, 16_000
WHY = "an odd ring that finds no way out nearby grows over a large group step by step"


# Charts, as numbers of colours


def smooth(stitches: int, rows: int) -> np.ndarray:
    """Four colours in areas about eight stitches wide."""
    fields = np.random.default_rng(1).standard_normal((4, rows, stitches))
    # Each stitch has the colour whose smooth field is highest there.
    return gaussian_filter(fields, (0, 4, 4)).argmax(axis=0)


def dither(stitches: int, rows: int) -> np.ndarray:
    """Shades of grey in four colours, the error of each stitch handed on to its neighbours."""
    grey = gaussian_filter(np.random.default_rng(1).standard_normal((rows, stitches)), 12)
    grey = np.pad(3 * (grey - grey.min()) / np.ptp(grey), ((0, 1), (1, 1)))
    cells = np.zeros((rows, stitches), dtype=int)
    for row in range(rows):
        for column in range(stitches):
            wanted = grey[row, column + 1]
            cells[row, column] = np.clip(round(wanted), 0, 3)
            error = (wanted - cells[row, column]) / 16
            grey[row, column + 2] += 7 * error
            grey[row + 1, column : column + 3] += np.array([3, 5, 1]) * error
    return cells


def plaid(stitches: int, rows: int) -> np.ndarray:
    """Stripes across and stripes up, stitch by stitch in turn."""
    y, x = np.mgrid[:rows, :stitches]
    return np.where((x + y) % 2 == 0, x // 4 % 4, y // 4 % 4)


def argyle(stitches: int, rows: int) -> np.ndarray:
    """Diamonds, with thin lines across them."""
    y, x = np.mgrid[:rows, :stitches]
    from_middle = np.abs(x % 24 - 12) / 12 + np.abs(y % 36 - 18) / 18
    cells = (from_middle < 1).astype(int)
    slope = 3 * x // 2
    cells[((slope + y) % 36 == 0) | ((slope - y) % 36 == 0)] = 2
    return cells


def dots(share: float) -> Callable[[int, int], np.ndarray]:
    """The smooth chart with single stitches strewn over it."""

    def strewn(stitches: int, rows: int) -> np.ndarray:
        rng = np.random.default_rng(1)
        is_dot = rng.random((rows, stitches)) < share
        return np.where(is_dot, rng.integers(0, 4, (rows, stitches)), smooth(stitches, rows))

    return strewn


CHARTS = {
    "smooth": smooth,
    "dither": dither,
    "plaid": plaid,
    "argyle": argyle,
    "dots 1 %": dots(0.01),
    "dots 5 %": dots(0.05),
    "dots 20 %": dots(0.2),
}


def chart_of(name: str, size: tuple[int, int]) -> Chart:
    """One of the charts in a size."""
    return Chart.from_rows(np.array(list("ABCD"))[CHARTS[name](*size)])


# Roads


def timed(work: Callable[[], Any], times: int = 1) -> tuple[float, Any]:
    """The least of several times in seconds of the processor, and what the work gives."""
    seconds = []
    for _ in range(times):
        start = process_time()
        answer = work()
        seconds.append(process_time() - start)
    return min(seconds), answer


@dataclass(frozen=True)
class Weighed:
    """The links of a chart and what each costs, as the choice is given them."""

    ports: tuple[np.ndarray, np.ndarray]
    middle: np.ndarray
    carried: np.ndarray
    place: np.ndarray
    largest_group: int

    @property
    def cost(self) -> np.ndarray:
        """One number: a middle start outweighs whatever yarn is carried."""
        return self.middle * 1_000_000 + self.carried

    def choose(self) -> np.ndarray:
        """The planner's choice among the links."""
        return matching.cheapest_matching(*self.ports, self.middle, self.carried, place=self.place)

    def totals(self, taken: np.ndarray) -> tuple[int, int, int]:
        """How many links are taken, how many middle starts, and how much is carried."""
        return int(taken.sum()), int(self.middle[taken].sum()), int(self.carried[taken].sum())


def weighed(chart: Chart, limits: CarryLimits) -> Weighed:
    """The links that the limits allow on a chart."""
    given = {}

    def listening(u, v, middle, carried, *, place, **_):
        given.update(ports=(u, v), middle=middle, carried=carried, place=place)
        return np.zeros(len(u), dtype=bool)

    with patch.object(trace, "cheapest_matching", listening):
        trace_strands(chart, gauge=GAUGE, limits=limits)
    u, v = given["ports"]
    links = matching._Links(u, v, given["middle"], given["carried"], u * 0)
    _, groups = matching._sure_and_groups(links)
    return Weighed(**given, largest_group=max(map(len, groups), default=0))


def by_whole_groups(links: Weighed) -> np.ndarray:
    """The exact matching of whole groups, without prices."""
    with patch.object(matching, "PRICED_GROUP", len(links.middle)):
        return links.choose()


def by_integer_programme(links: Weighed) -> np.ndarray:
    """HiGHS: at most one link a port."""
    count = len(links.middle)
    number = np.tile(np.arange(count), 2)
    ports = np.concatenate(links.ports)
    takes = coo_array((np.ones(2 * count), (ports, number)), (ports.max() + 1, count))
    # Weights that its tolerances can tell apart: less between the aims, and no squares.
    cost = links.middle * 3_000 + links.carried
    answer = milp(
        cost - 1_000_000,
        integrality=np.ones(count),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(takes.tocsr(), ub=1),
        options={"mip_rel_gap": 0},
    )
    assert answer.success, answer.message
    return answer.x > 0.5


def by_general_matching(links: Weighed) -> np.ndarray:
    """rustworkx on all links at once."""
    cost = links.cost
    cheapest: dict[tuple[int, int], int] = {}
    pairs = np.sort(np.stack(links.ports), axis=0).T.tolist()
    for number, (low, high) in enumerate(pairs):
        twin = cheapest.setdefault((low, high), number)
        if cost[number] < cost[twin]:
            cheapest[low, high] = number
    graph = rustworkx.PyGraph()
    graph.add_nodes_from(range(max(max(pair) for pair in pairs) + 1))
    graph.add_edges_from([(*pair, number) for pair, number in cheapest.items()])
    most = int(cost.max()) + 1
    mates = rustworkx.max_weight_matching(
        graph, max_cardinality=True, weight_fn=lambda number: most - int(cost[number])
    )
    taken = np.zeros(len(cost), dtype=bool)
    taken[[cheapest[min(pair), max(pair)] for pair in mates]] = True
    return taken


def other_roads(links: Weighed) -> Iterator[tuple[str, Callable[[Weighed], np.ndarray]]]:
    """The roads that end in reasonable time."""
    if matching.PRICED_GROUP < links.largest_group <= WHOLE_GROUP_LINKS:
        yield "whole groups", by_whole_groups
    if len(links.middle) <= HIGHS_LINKS:
        yield "HiGHS, unsplit", by_integer_programme
    if len(links.middle) <= UNSPLIT_LINKS:
        yield "rustworkx, unsplit", by_general_matching


# Figures


def one_chart(name: str, size: tuple[int, int], kind: str, *, beside: bool) -> list[Result]:
    """Times one chart's tracing, or its choice of links beside the other roads."""
    chart, limits = chart_of(name, size), LIMITS[kind]
    what = f"{name}, {size[0]} × {size[1]}, {kind} limits"
    seconds, strands = timed(lambda: trace_strands(chart, gauge=GAUGE, limits=limits))
    links = weighed(chart, limits)
    counts = f"{strands.runs.count:,} runs, {strands.possible.count:,} links"
    most = 0.1 if name == "smooth" and kind == "default" else 10
    results = [
        Result(
            f"Strands traced: {what} ({counts}, largest group {links.largest_group:,})",
            seconds,
            "s of processor",
            aim=f"at most {most} s up to 400 × 600",
            met=seconds <= most,
            why="" if seconds <= most else WHY,
        )
    ]
    if not beside:
        return results
    ours, taken = timed(links.choose)
    for road, choose in other_roads(links):
        theirs, chosen = timed(lambda choose=choose: choose(links))
        assert links.totals(taken) == links.totals(chosen), (what, road)
        met = ours <= theirs
        results.append(
            Result(
                f"Links chosen: {what}",
                ours,
                "s of processor",
                beside=road,
                beside_figure=theirs,
                aim="no worse",
                met=met,
                why="" if met else WHY,
            )
        )
    return results


def largest_chart(name: str, kind: str) -> Result:
    """The tracing of the largest chart, in a Python of its own that is ended after a while."""
    command = [sys.executable, __file__, "--one", name, kind]
    ended = subprocess.run(command, capture_output=True, text=True, check=False)
    what = f"Strands traced: {name}, {LARGEST[0]} × {LARGEST[1]}, {kind} limits"
    aim, unit = "at most 10 s up to 400 × 600", "s of processor"
    if ended.returncode:
        why = f"not ended after {MOST_SECONDS} s: {WHY}"
        return Result(what, MOST_SECONDS, unit, aim=aim, met=False, why=why)
    seconds = float(ended.stdout)
    return Result(what, seconds, unit, aim=aim, met=seconds <= 10, why="" if seconds <= 10 else WHY)


def trace_largest(name: str, kind: str) -> None:
    """Print how long the tracing of the largest chart takes; the system ends it after a while."""
    chart = chart_of(name, LARGEST)
    begun = ceil(process_time())
    resource.setrlimit(resource.RLIMIT_CPU, (begun + MOST_SECONDS, begun + MOST_SECONDS))
    seconds, _ = timed(lambda: trace_strands(chart, gauge=GAUGE, limits=LIMITS[kind]))
    print(seconds)


def growth(name: str, kind: str, sizes: list[tuple[int, int]], most: float) -> Result:
    """How the tracing's time grows with the number of links; the figure is the largest chart's."""
    counts, times = [], []
    for size in sizes:
        chart = chart_of(name, size)
        seconds, strands = timed(
            lambda chart=chart: trace_strands(chart, gauge=GAUGE, limits=LIMITS[kind]), 3
        )
        counts.append(strands.possible.count)
        times.append(seconds)
    exponent = np.polyfit(np.log(counts), np.log(times), 1)[0]
    stitches, rows = sizes[-1]
    return Result(
        f"Growth of tracing: {name}, {kind} limits, up to {stitches} × {rows}",
        times[-1],
        "s of processor",
        grows=f"links^{exponent:.2f}",
        aim=f"links^{most} at most",
        met=bool(exponent <= most),
        why="" if exponent <= most else WHY,
    )


def measure() -> list[Result]:
    """All figures."""
    trace_strands(chart_of("smooth", SIZES[0]))  # so that nothing is imported while it is timed
    results = []
    for kind in LIMITS:
        for name in CHARTS:
            results += one_chart(name, SIZES[0], kind, beside=True)
            results += one_chart(name, SIZES[-1], kind, beside=False)
            if name == "smooth":
                results += one_chart(name, LARGEST, kind, beside=False)
            else:
                results.append(largest_chart(name, kind))
        results.append(growth("smooth", kind, SMOOTH_SIZES, 1.2))
        results += [growth(name, kind, SIZES, 1.3) for name in ("dither", "plaid", "dots 20 %")]
    project = Project("150 × 150", chart_of("smooth", (150, 150)))
    seconds, _ = timed(lambda: make_plan(project), 3)
    results.append(Result("make_plan, smooth, 150 × 150", seconds, "s of processor"))
    return results


def main() -> None:
    if sys.argv[1:2] == ["--one"]:
        trace_largest(*sys.argv[2:])
        return
    for result in measure():
        beside = f"  {result.beside} {result.beside_figure:.3f}" if result.beside else ""
        met = {True: "met", False: "NOT MET", None: ""}[result.met]
        print(f"{result.what}: {result.figure:.3f} s{beside}  {result.grows}  {met}", flush=True)


if __name__ == "__main__":
    main()
