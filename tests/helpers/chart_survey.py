"""How pictures of charts in many styles are read: right, asked, marked, refused, or silently wrong.

    python -m tests.helpers.chart_survey [TIMES]

prints the table by style.
"""

from __future__ import annotations

import sys
import zlib
from collections import Counter
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from scipy.optimize import linear_sum_assignment

from planner.charts import open_artwork, read_grid_picture
from planner.errors import PlanError
from tests.helpers.chart_pictures import STYLES, Drawn, Style
from tests.helpers.chart_screens import chromium, screen_styles, taken_by
from tests.helpers.chart_shapes import SOURCES

RIGHT, ASKED, MARKED, REFUSED, SILENT = "right", "asked", "marked", "refused", "silent"
CELLS, MARKED_CELLS = "cells", "marked cells"  # of pictures that are right


def wrong_cells(cells, drawn) -> np.ndarray | None:
    """Which cells are not as they were drawn, whatever the yarns are called; None at another size.

    No stitch must be no stitch.
    """
    if cells.shape != drawn.shape:
        return None
    yarns = int(max(cells.max(), drawn.max())) + 1
    together = np.zeros((yarns + 1, yarns + 1))
    np.add.at(together, (cells.ravel(), drawn.ravel()), 1)  # −1 is the last one
    colour, yarn = linear_sum_assignment(-together[:yarns, :yarns])
    meant = np.append(yarn[np.argsort(colour)], -1)
    return meant[cells] != drawn


def drawn_in_style(name: str, style: Style, number: int) -> Drawn:
    """A picture in a style; by its number from areas of chance, from icons or from bitmaps."""
    rng = np.random.default_rng([number, zlib.crc32(name.encode())])
    return style(rng, SOURCES[number % len(SOURCES)])


class Reading(NamedTuple):
    """What came of reading a picture.

    `is_needless` is a question or a mark although it is right and leaves nothing open; `marked` is
    how many of its cells are marked.
    """

    drawn: Drawn
    outcome: str
    is_needless: bool = False
    marked: int = 0


def read_in_style(name: str, style: Style, number: int) -> Reading:
    """A picture in a style, and what came of reading it."""
    drawn = drawn_in_style(name, style, number)
    try:
        read = read_grid_picture(open_artwork(drawn.data, "chart.png"))
    except PlanError:
        return Reading(drawn, REFUSED)
    doubtful = read.doubtful[::-1]
    is_asked = bool(read.asks) or doubtful.any()
    wrong = wrong_cells(read.cells[::-1].astype(int), drawn.cells)
    if wrong is not None and not wrong.any():
        return Reading(drawn, RIGHT, bool(is_asked and not drawn.asks), int(doubtful.sum()))
    if read.asks:
        return Reading(drawn, ASKED)
    if wrong is not None and not (wrong & ~doubtful).any():
        return Reading(drawn, MARKED)
    return Reading(drawn, SILENT)


def survey(times: int, styles: Mapping[str, Style]) -> dict[str, Counter]:
    """What came of each style, so many pictures of each; how often a word was needless; and how
    many cells of those that are right there are, and are marked."""
    found: dict[str, Counter] = {}
    for name, style in styles.items():
        found[name] = Counter()
        for number in range(times):
            reading = read_in_style(name, style, number)
            found[name][reading.outcome] += 1
            found[name]["needless"] += reading.is_needless
            if reading.outcome == RIGHT:
                found[name][CELLS] += reading.drawn.cells.size
                found[name][MARKED_CELLS] += reading.marked
    return found


def survey_of_all(times: int) -> dict[str, Counter]:
    """What came of all styles, those of pages drawn by Chromium."""
    with chromium() as browser:
        return survey(times, STYLES | screen_styles(taken_by(browser)))


def main(times: int) -> None:
    """Print the table."""
    found = survey_of_all(times)
    heads = (RIGHT, ASKED, MARKED, REFUSED, SILENT, "needless")
    print(f"{'style':28}" + "".join(f"{head:>10}" for head in heads))
    for name, counts in found.items():
        print(f"{name:28}" + "".join(f"{counts[head] or '':>10}" for head in heads))
    total = sum(found.values(), Counter())
    print(f"{'all':28}" + "".join(f"{total[head]:>10}" for head in heads))
    print(f"{total[MARKED_CELLS]} of {total[CELLS]} cells of those that are right are marked")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
