"""Times the tracing of strands on a large chart, against the same choice as an integer programme, and against its size.

Run it as `python tests/benchmarks/bench_strands.py`; the integer programme takes up to a minute. It stops with an error
if the two disagree, if the planner is less than 20 times as fast, or if its time grows faster than runs ** 1.2.
"""

import sys
import time
from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner import CarryLimits, Chart, Construction, Gauge, trace_strands
from planner.links import MIDDLE, find_links
from planner.runs import find_runs

SIZES = [(100, 150), (150, 225), (200, 300), (300, 450), (400, 600)]  # stitches, rows
LEAST_RATIO, LARGEST_EXPONENT = 20, 1.2
LIMITS, GAUGE = CarryLimits(), Gauge(20, 20)


def smooth_chart(stitches: int, rows: int) -> Chart:
    """Four colours in areas about eight stitches wide."""
    fields = np.random.default_rng(1).standard_normal((4, rows, stitches))
    return Chart.from_rows(np.array(list("ABCD"))[gaussian_filter(fields, (0, 4, 4)).argmax(axis=0)])


def best_of(times: int, work):
    """The shortest of several times in seconds, and what the work gave."""
    seconds = []
    for _ in range(times):
        start = time.perf_counter()
        answer = work()
        seconds.append(time.perf_counter() - start)
    return min(seconds), answer


def integer_programme(links, ports: int):
    """Which links to take, by HiGHS: most links, then fewest middle starts, then least carried; at most one a port."""
    u, v = links.ports
    number = np.arange(links.count)
    takes = coo_array((np.ones(2 * links.count), (np.concatenate((u, v)), np.concatenate((number, number)))), (ports, links.count))
    cost = 1_000 * (links.kind == MIDDLE) + links.shift + links.skipped * float(GAUGE.aspect)
    answer = milp(
        cost - 100_000,
        integrality=np.ones(links.count),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(takes.tocsr(), ub=1),
        options={"mip_rel_gap": 0},
    )
    assert answer.success, answer.message
    return links[answer.x > 0.5]


def against_integer_programme(chart: Chart) -> float:
    """Prints both answers and times; returns how many times as fast the planner is."""
    ours, strands = best_of(5, lambda: trace_strands(chart, gauge=GAUGE, limits=LIMITS))
    runs = find_runs(chart, Construction())
    links = find_links(runs, *zip(*[LIMITS.at(GAUGE)] * len(chart.letters), strict=True))
    theirs, chosen = best_of(1, lambda: integer_programme(links, 2 * runs.count))
    print(f"{chart}\n{runs.count:,} runs, {links.count:,} links\n")
    print(f"{'':24}{'strands':>9}{'middle':>9}{'carried':>9}{'seconds':>10}")
    for name, picked, seconds in (("planner, whole tracing", strands.links, ours), ("HiGHS, choice only", chosen, theirs)):
        middle, carried = (picked.kind == MIDDLE).sum(), picked.shift.sum() + picked.skipped.sum() * float(GAUGE.aspect)
        print(f"{name:24}{runs.count - picked.count:>9,}{middle:>9,}{carried:>9,.0f}{seconds:>10.3f}")
    print(f"ratio {theirs / ours:.0f} (at least {LEAST_RATIO})\n")
    assert strands.count == runs.count - chosen.count
    return theirs / ours


def against_size() -> float:
    """Prints the time for each size; returns the exponent of the time's growth with the number of runs."""
    print(f"{'chart':>12}{'runs':>9}{'strands':>9}{'seconds':>10}")
    counts, times = [], []
    for stitches, rows in SIZES:
        chart = smooth_chart(stitches, rows)
        seconds, strands = best_of(5, lambda chart=chart: trace_strands(chart, gauge=GAUGE, limits=LIMITS))
        counts.append(strands.runs.count)
        times.append(seconds)
        print(f"{f'{stitches} × {rows}':>12}{strands.runs.count:>9,}{strands.count:>9,}{seconds:>10.3f}")
    exponent = np.polyfit(np.log(counts), np.log(times), 1)[0]
    print(f"time grows as runs ** {exponent:.2f} (at most {LARGEST_EXPONENT})")
    return exponent


def main():
    exponent = against_size()
    print()
    ratio = against_integer_programme(smooth_chart(*SIZES[-1]))
    assert ratio >= LEAST_RATIO, ratio
    assert exponent <= LARGEST_EXPONENT, exponent


if __name__ == "__main__":
    main()
