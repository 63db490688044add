"""Times the four pictures of a plan, drawn and encoded as a page has them, beside their floor.

Run it as `python tests/benchmarks/bench_drawing.py`. The target: chart, strand map, order of the
strands and load together in 0.8 s of processor for the demo and 1.5 s for 200 × 300. The floor of
a picture is matplotlib drawing one image of the same pixels, and saving it, packed as quickly.
"""

from __future__ import annotations

import base64
import io
import math
import re
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner import Chart, Project, make_plan, open_project
from planner.pictures import QUICK, draw_chart, draw_load, draw_strand_order, draw_strands
from planner.plan import Plan
from planner.workbook import picture_html
from tests.benchmarks.results import Result
from tests.conftest import DEMO
from tests.helpers.knitter import draw_chart as random_chart

PICTURES: dict[str, Callable[[Plan], Figure]] = {
    "chart": draw_chart,
    "strand map": draw_strands,
    "order of the strands": draw_strand_order,
    "load": draw_load,
}
SMALL, MIDDLE, LARGE = "the demo, 72 × 96", "150 × 150", "200 × 300"
AIMS = {SMALL: 0.8, LARGE: 1.5}  # seconds for all four
UNIT = "s of processor"
FLOOR = "matplotlib, one image of these pixels"
TIMES = 5


def plans() -> Iterator[tuple[str, Plan]]:
    """The demo and two random charts of areas about eight stitches wide, by their names."""
    yield SMALL, make_plan(open_project(DEMO))
    for name, stitches, rows in ((MIDDLE, 150, 150), (LARGE, 200, 300)):
        chart = random_chart(1, stitches=stitches, rows=rows, yarns=4, smooth=4)
        yield name, make_plan(Project(name, Chart.from_rows(chart)))


def busy(work: Callable[[], object]) -> float:
    """The least seconds of processor that the work took in several runs."""
    seconds = []
    for _ in range(TIMES):
        start = time.process_time()
        work()
        seconds.append(time.process_time() - start)
    return min(seconds)


def pixels_of(page: str) -> np.ndarray:
    """The pixels of the picture in some HTML."""
    found = re.search('base64,([^"]+)', page)
    assert found is not None
    with Image.open(io.BytesIO(base64.b64decode(found[1]))) as picture:
        return np.asarray(picture.convert("RGB"))


def draw_pixels(pixels: np.ndarray) -> None:
    """Draw the pixels as one image by matplotlib alone, and save it as PNG."""
    height, width = pixels.shape[:2]
    figure = Figure(figsize=(width / 100, height / 100), dpi=100)
    figure.add_axes((0, 0, 1, 1)).imshow(pixels, aspect="auto", interpolation="nearest")
    figure.savefig(io.BytesIO(), format="png", pil_kwargs={"compress_level": QUICK})


def measure() -> list[Result]:
    """Each of the pictures of each plan, and the four together."""
    results, totals = [], {}
    for name, plan in plans():
        figures, floors = [], []
        for picture, draw in PICTURES.items():
            # The first one works out what the plan has not been asked for yet.
            pixels = pixels_of(picture_html(draw(plan), picture))
            figures.append(busy(lambda draw=draw, plan=plan: picture_html(draw(plan), "")))
            floors.append(busy(lambda pixels=pixels: draw_pixels(pixels)))
            words = f"Picture: {picture}, {name}"
            results.append(Result(words, figures[-1], UNIT, FLOOR, floors[-1]))
        totals[name] = sum(figures)
        results.append(together(name, totals, sum(floors)))
    return results


def together(name: str, totals: dict[str, float], floor: float) -> Result:
    """The four pictures of one plan; `totals` are the seconds of this one and of those before."""
    total = totals[name]
    grows = ""
    if name == LARGE:
        exponent = math.log(total / totals[MIDDLE]) / math.log(200 * 300 / 150**2)
        grows = f"stitches^{exponent:.2f}"
    aim = AIMS.get(name)
    met = None if aim is None else total <= aim
    return Result(
        f"The four pictures together, {name}",
        total,
        UNIT,
        FLOOR,
        floor,
        grows=grows,
        aim="" if aim is None else f"at most {aim} s",
        met=met,
        why=f"{total / aim:.1f} times the aim" if aim and not met else "",
    )


def main():
    for result in measure():
        figure = f"{result.figure:7.3f} {result.unit}, {result.ratio:4.1f} times its floor"
        print(f"{result.what:55}{figure}  {result.aim} {result.grows}".rstrip())


if __name__ == "__main__":
    main()
