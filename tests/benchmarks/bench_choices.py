"""Times the offers of a chart of 150 × 150: all priced, and those that keep under a ceiling.

Run it as `python tests/benchmarks/bench_choices.py`. The target: all offers of a chart with dots
strewn over it in less than 3 s on a computer that does nothing else.
"""

import sys
from collections import Counter
from functools import partial
from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner import Chart, Project
from planner.choices.ceiling import keep_under
from planner.choices.offers import find_offers
from planner.choices.pricing import Pricing
from planner.choices.trade_off import tradeoff
from tests.benchmarks.timing import timed


def chart_with_dots(stitches: int, rows: int, share: float) -> Chart:
    """Four colours in areas about eight stitches wide, and a share of stitches in any colour."""
    random = np.random.default_rng(1)
    shape = (rows, stitches)
    # Each stitch has the colour whose smooth field is highest there.
    fields = gaussian_filter(random.standard_normal((4, *shape)), (0, 4, 4))
    is_dot = random.random(shape) < share
    cells = np.where(is_dot, random.integers(0, 4, shape), fields.argmax(axis=0))
    return Chart.from_rows(np.array(list("ABCD"))[cells])


def main():
    # The first plan imports what the others use.
    find_offers(Project("to warm up", chart_with_dots(20, 20, 0)))
    for share in (0, 0.01):
        project = Project("benchmark", chart_with_dots(150, 150, share))
        now = Pricing(project).now
        print(f"150 × 150, {share:.0%} of the stitches strewn:")
        print(f"  {now.strands} strands, at most {now.live} at once")
        offers = timed("all offers priced", partial(find_offers, project))
        print("   ", dict(Counter(offer.about for offer in offers)))
        timed("the trade-off", partial(tradeoff, project))
        most = now.live - 3
        ceiling = timed(f"never more than {most}", partial(keep_under, project, most))
        print("   ", ceiling)


if __name__ == "__main__":
    main()
