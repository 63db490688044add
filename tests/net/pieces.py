"""The pieces that the net plans: the demo, six small folders, and charts made of whole numbers."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from tests.net.names import house

TESTS = Path(__file__).resolve().parents[1]
DEMO = TESTS.parent / "data" / "harbour-cushion"
FOLDERS = TESTS / "cases" / "pieces"
SIX = ("tiny", "cowl", "argyle", "shaped", "lefty", "garter")


@cache
def demo():
    """The demo piece."""
    return house.open_project(DEMO)


@cache
def piece(name: str):
    """One of the six small folders."""
    return house.open_project(FOLDERS / name)


def patches(
    seed: int, *, stitches: int = 20, rows: int = 14, yarns: int = 3, strays: int = 4, shaped=False
):
    """A chart of slanting areas with some single stitches, no-stitch cells at its edges if shaped.

    Each stitch has the yarn of the nearest of some points, all in whole numbers, so that every
    computer draws the same chart.
    """
    random = np.random.default_rng(seed)
    count = 2 * yarns + 1
    across, up = random.integers(0, stitches, count), random.integers(0, rows, count)
    y, x = np.mgrid[0:rows, 0:stitches]
    far = (x[..., None] - across) ** 2 + (y[..., None] - up) ** 2
    cells = far.argmin(axis=2) % yarns
    cells[random.integers(0, rows, strays), random.integers(0, stitches, strays)] = yarns - 1
    if shaped:
        cells[x < rows // 3 - y] = -1
        cells[stitches - 1 - x < y - rows // 2] = -1
        cells[rows // 2, stitches // 2 - 1 : stitches // 2 + 1] = -1
    letters = tuple("ABCDEFGH"[:yarns])
    return house.Chart.from_cells(cells, letters)


@cache
def yarns():
    """Yarns of every sort: cut or not, felting or not, with a full band, half a band and none."""
    band = {"metres_per_ball": 100, "grams_per_ball": 50}
    return {
        "A": house.Yarn("A", "Grey", "#8a8f98", balls_in_hand=1, feltable=True, **band),
        "B": house.Yarn(
            "B", "Plum", "#6a2c5a", balls_in_hand=3, dye_lot="2 of 114, 1 of 131", **band
        ),
        "C": house.Yarn("C", "Gold", "#d9a321", metres_per_ball=45, balls_in_hand=0.5),
        "D": house.Yarn("D", "Slate", "#868c96", may_be_cut=False, balls_in_hand=1, **band),
    }


def project(chart, name: str = "net", **asked):
    """A project with these yarns, as far as the chart has them."""
    known = {letter: yarn for letter, yarn in yarns().items() if letter in chart.letters}
    return house.Project(name, chart, **({"yarns": known} | asked))
