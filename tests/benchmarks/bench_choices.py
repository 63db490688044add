"""Times the pricing of all offers of a chart of 150 × 150, and how a ceiling on strands at once is
kept.

Run it as `python tests/benchmarks/bench_choices.py`. The target: all offers of a chart with dots
strewn over it in less than 3 s on a computer that does nothing else.
"""

import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner import Chart, Project
from planner.choices.ceiling import keep_under
from planner.choices.offers import find_offers
from planner.choices.pricing import Pricing
from planner.choices.trade_off import tradeoff


def chart_with_dots(stitches: int, rows: int, share: float) -> Chart:
    """Four colours in areas about eight stitches wide, and a share of stitches in any colour."""
    random = np.random.default_rng(1)
    cells = gaussian_filter(random.standard_normal((4, rows, stitches)), (0, 4, 4)).argmax(axis=0)
    cells = np.where(
        random.random((rows, stitches)) < share, random.integers(0, 4, (rows, stitches)), cells
    )
    return Chart.from_rows(np.array(list("ABCD"))[cells])


def timed(what: str, work):
    wall, busy = time.perf_counter(), time.process_time()
    answer = work()
    print(
        f"  {what}: {time.perf_counter() - wall:.2f} s ({time.process_time() - busy:.2f} s of the processor)"
    )
    return answer


if __name__ == "__main__":
    find_offers(Project("to warm up", chart_with_dots(20, 20, 0)))
    for share in (0, 0.01):
        project = Project("benchmark", chart_with_dots(150, 150, share))
        now = Pricing(project).now
        print(
            f"150 × 150, {share:.0%} of the stitches strewn: {now.strands} strands, at most {now.live} at once"
        )
        offers = timed("all offers priced", lambda project=project: find_offers(project))
        print("   ", dict(Counter(offer.about for offer in offers)))
        timed("the trade-off", lambda project=project: tradeoff(project))
        most = now.live - 3
        print(
            "   ",
            timed(
                f"never more than {most}",
                lambda project=project, most=most: keep_under(project, most),
            ),
        )
