"""Times the tracing of strands on a large chart, beside an integer programme and beside its size.

Run it as `python tests/benchmarks/bench_strands.py`; the integer programme, which chooses among the
same links, takes up to a minute. It stops with an error if the two disagree, if the planner's
choice is less than 20 times as fast as HiGHS's, or if the whole tracing's time grows faster than
runs ** 1.2. How much faster the choice is depends on the limits: wide ones hang together.
"""

import sys
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
from tests.benchmarks.timing import best_of

SIZES = [(100, 150), (150, 225), (200, 300), (300, 450), (400, 600)]  # stitches, rows
LEAST_RATIO, LARGEST_EXPONENT = 20, 1.2
GAUGE = Gauge()
LIMITS, WIDE = CarryLimits(), CarryLimits(across=3, sideways=8, up=4)


def smooth_chart(stitches: int, rows: int) -> Chart:
    """Four colours in areas about eight stitches wide."""
    fields = np.random.default_rng(1).standard_normal((4, rows, stitches))
    # Each stitch has the colour whose smooth field is highest there.
    cells = gaussian_filter(fields, (0, 4, 4)).argmax(axis=0)
    return Chart.from_rows(np.array(list("ABCD"))[cells])


def integer_programme(links, ports: int):
    """Which links to take, by HiGHS: most links, then fewest middle starts, then least carried.

    At most one link a port.
    """
    u, v = links.ports
    number = np.arange(links.count)
    both_ports, twice = np.concatenate((u, v)), np.concatenate((number, number))
    takes = coo_array((np.ones(2 * links.count), (both_ports, twice)), (ports, links.count))
    # A link outweighs any middle start, and a middle start whatever yarn is carried.
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
    """How many times as fast the planner chooses among the same links; prints both answers."""
    whole, strands = best_of(5, lambda: trace_strands(chart, gauge=GAUGE, limits=limits))
    runs = find_runs(chart, Construction())
    links = find_links(runs, *zip(*[limits.at(GAUGE)] * len(chart.letters), strict=True))
    middle_starts = (links.kind == MIDDLE).astype(int)
    carried = links.shift * GAUGE.aspect.denominator + links.skipped * GAUGE.aspect.numerator
    choice, taken = best_of(5, lambda: cheapest_matching(*links.ports, middle_starts, carried))
    theirs, chosen = best_of(1, lambda: integer_programme(links, 2 * runs.count))
    print(f"across {limits.across}, sideways {limits.sideways}, up {limits.up}:")
    print(f"{runs.count:,} runs, {links.count:,} links")
    print(f"{'':24}{'strands':>9}{'middle':>9}{'carried':>9}{'seconds':>10}{'ratio':>8}")
    answers = [
        ("planner, whole tracing", strands.links, whole),
        ("planner, choice only", links[taken], choice),
    ]
    for name, picked, seconds in [*answers, ("HiGHS, choice only", chosen, theirs)]:
        strands_left = runs.count - picked.count
        middle = (picked.kind == MIDDLE).sum()
        carried = picked.shift.sum() + picked.skipped.sum() * float(GAUGE.aspect)
        counts = f"{strands_left:>9,}{middle:>9,}{carried:>9,.0f}"
        print(f"{name:24}{counts}{seconds:>10.3f}{theirs / seconds:>8.1f}")
    print()
    assert strands.count == runs.count - chosen.count
    return theirs / choice


def against_size() -> float:
    """The exponent of the time's growth with the number of runs; prints the time for each size."""
    print(f"{'chart':>12}{'runs':>9}{'strands':>9}{'seconds':>10}")
    counts, times = [], []
    for stitches, rows in SIZES:
        chart = smooth_chart(stitches, rows)
        seconds, strands = best_of(
            5, lambda chart=chart: trace_strands(chart, gauge=GAUGE, limits=LIMITS)
        )
        counts.append(strands.runs.count)
        times.append(seconds)
        size = f"{stitches} × {rows}"
        print(f"{size:>12}{strands.runs.count:>9,}{strands.count:>9,}{seconds:>10.3f}")
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
