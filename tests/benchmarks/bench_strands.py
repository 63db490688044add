"""Times the tracing of strands on a large chart, against the same choice as an integer programme,
and against its size.

Run it as `python tests/benchmarks/bench_strands.py`; the integer programme takes up to a minute. It
stops with an error if the two disagree, if the planner's choice of links is less than 20 times as
fast as HiGHS's choice among the same links, or if the whole tracing's time grows faster than runs
** 1.2. How much faster depends on the limits: wide ones hang together.
"""

import sys
import time
from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner import CarryLimits, Chart, Construction, Gauge, Project, make_plan, trace_strands
from planner.strands.links import MIDDLE, find_links
from planner.strands.matching import cheapest_matching
from planner.strands.runs import find_runs

SIZES = [(100, 150), (150, 225), (200, 300), (300, 450), (400, 600)]  # stitches, rows
LEAST_RATIO, LARGEST_EXPONENT = 20, 1.2
GAUGE = Gauge()
LIMITS, WIDE = CarryLimits(), CarryLimits(across=3, sideways=8, up=4)


def smooth_chart(stitches: int, rows: int) -> Chart:
    """Four colours in areas about eight stitches wide."""
    fields = np.random.default_rng(1).standard_normal((4, rows, stitches))
    return Chart.from_rows(
        np.array(list("ABCD"))[gaussian_filter(fields, (0, 4, 4)).argmax(axis=0)]
    )


def best_of(times: int, work):
    """The shortest of several times in seconds, and what the work gave."""
    seconds = []
    for _ in range(times):
        start = time.perf_counter()
        answer = work()
        seconds.append(time.perf_counter() - start)
    return min(seconds), answer


def integer_programme(links, ports: int):
    """Which links to take, by HiGHS: most links, then fewest middle starts, then least carried; at
    most one a port."""
    u, v = links.ports
    number = np.arange(links.count)
    takes = coo_array(
        (np.ones(2 * links.count), (np.concatenate((u, v)), np.concatenate((number, number)))),
        (ports, links.count),
    )
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


def against_integer_programme(chart: Chart, limits: CarryLimits) -> float:
    """Prints both answers and times; returns how many times as fast the planner chooses among the
    same links."""
    whole, strands = best_of(5, lambda: trace_strands(chart, gauge=GAUGE, limits=limits))
    runs = find_runs(chart, Construction())
    links = find_links(runs, *zip(*[limits.at(GAUGE)] * len(chart.letters), strict=True))
    carried = links.shift * GAUGE.aspect.denominator + links.skipped * GAUGE.aspect.numerator
    choice, taken = best_of(
        5, lambda: cheapest_matching(*links.ports, (links.kind == MIDDLE).astype(int), carried)
    )
    theirs, chosen = best_of(1, lambda: integer_programme(links, 2 * runs.count))
    print(
        f"across {limits.across}, sideways {limits.sideways}, up {limits.up}: {runs.count:,} runs, {links.count:,} links"
    )
    print(f"{'':24}{'strands':>9}{'middle':>9}{'carried':>9}{'seconds':>10}{'ratio':>8}")
    answers = [
        ("planner, whole tracing", strands.links, whole),
        ("planner, choice only", links[taken], choice),
    ]
    for name, picked, seconds in [*answers, ("HiGHS, choice only", chosen, theirs)]:
        middle, carried = (
            (picked.kind == MIDDLE).sum(),
            picked.shift.sum() + picked.skipped.sum() * float(GAUGE.aspect),
        )
        ratio = f"{theirs / seconds:.1f}"
        print(
            f"{name:24}{runs.count - picked.count:>9,}{middle:>9,}{carried:>9,.0f}{seconds:>10.3f}{ratio:>8}"
        )
    print()
    assert strands.count == runs.count - chosen.count
    return theirs / choice


def against_size() -> float:
    """Prints the time for each size; returns the exponent of the time's growth with the number of
    runs."""
    print(f"{'chart':>12}{'runs':>9}{'strands':>9}{'seconds':>10}")
    counts, times = [], []
    for stitches, rows in SIZES:
        chart = smooth_chart(stitches, rows)
        seconds, strands = best_of(
            5, lambda chart=chart: trace_strands(chart, gauge=GAUGE, limits=LIMITS)
        )
        counts.append(strands.runs.count)
        times.append(seconds)
        print(
            f"{f'{stitches} × {rows}':>12}{strands.runs.count:>9,}{strands.count:>9,}{seconds:>10.3f}"
        )
    exponent = np.polyfit(np.log(counts), np.log(times), 1)[0]
    print(f"time grows as runs ** {exponent:.2f} (at most {LARGEST_EXPONENT})")
    return exponent


def main():
    exponent = against_size()
    chart = smooth_chart(*SIZES[-1])
    print(f"\n{chart}")
    ratio = min(against_integer_programme(chart, limits) for limits in (LIMITS, WIDE))
    project = Project("150 × 150", smooth_chart(150, 150))
    make_plan(project)
    seconds, plan = best_of(3, lambda: make_plan(project))
    print(f"150 × 150 from chart to all tables: {seconds:.2f} s, {plan.traced!r}")
    assert exponent <= LARGEST_EXPONENT, (
        f"time grows as runs ** {exponent:.2f}, more than {LARGEST_EXPONENT}"
    )
    assert ratio >= LEAST_RATIO, (
        f"the planner is {ratio:.1f} times as fast as HiGHS, less than {LEAST_RATIO}"
    )


if __name__ == "__main__":
    main()
