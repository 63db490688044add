"""Pictures of a plan: each draws, and shows what it should."""

import io
import re
from functools import cache

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from planner import CarryLimits, Chart, Construction, Gauge, Project, Yarn, make_plan
from planner.pictures import (
    draw_chart,
    draw_load,
    draw_strand_order,
    draw_strands,
    strand_grid,
    strand_tints,
)
from tests.conftest import ROOT
from tests.helpers.forms import PATCH
from tests.helpers.knitter import draw_chart as random_chart

# Pictures

NOISE = random_chart(3, stitches=18, rows=14, yarns=4, smooth=0)
PIECES = {
    "1 × 1": Project("dot", Chart.from_rows(["A"])),
    "one colour": Project("plain", Chart.from_rows(["AAAA"] * 5)),
    "garter": Project("ridges", Chart.from_rows(PATCH), how=Construction(fabric="garter")),
    "rounds": Project(
        "tube", Chart.from_rows(["ABBA", "BBAA", "BAAB"]), how=Construction(worked="rounds")
    ),
    "no-stitch cells": Project("neck", Chart.from_rows([".AA.", "ABBA", "AB.A"])),
    "many strands": Project(
        "noise", Chart.from_rows(NOISE), limits=CarryLimits(sideways=1, middle_start=False)
    ),
    "big": Project(
        "panel", Chart.from_rows(random_chart(5, stitches=40, rows=50, yarns=4, smooth=3))
    ),
    "money": Project("$a_$ and $b^$", Chart.from_rows(["AB"]), {"A": Yarn("A", "$x_$")}),
}


@cache
def piece_plan(name):
    return make_plan(PIECES[name])


PICTURES = [draw_chart, draw_strands, draw_strand_order, draw_load]
DRAWN = [
    (name, draw)
    for name in PIECES
    for draw in (PICTURES[:2] if name in ("big", "money", "no-stitch cells") else PICTURES)
]


@pytest.mark.parametrize(
    ("name", "draw"), DRAWN, ids=[f"{name}, {draw.__name__}" for name, draw in DRAWN]
)
def test_pictures_draw(name, draw):
    """Each is a Figure with its own canvas, draws without a warning, and is not blank."""
    figure = draw(piece_plan(name))
    assert isinstance(figure, Figure)
    figure.set_dpi(50)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())[..., :3]
    ink = (pixels != pixels[0, 0]).any(axis=-1)
    assert 0.01 < ink.mean() < 1
    assert len(np.unique(pixels[ink], axis=0)) > 3


def test_many_strands_are_many():
    assert piece_plan("many strands").traced.count >= 50


def test_every_strand_has_its_label_in_the_picture():
    plan = piece_plan("many strands")
    texts = {
        text.get_text().split("\n")[0].split(" ")[0] for text in draw_strands(plan).axes[0].texts
    }
    assert set(plan.traced.labels) <= texts


def test_strands_that_touch_have_unlike_tints():
    plan = piece_plan("many strands")
    grid = strand_grid(plan)
    tints = np.array(strand_tints(grid, plan.traced.count), dtype=object)
    for a, b in ((grid[:, 1:], grid[:, :-1]), (grid[1:], grid[:-1])):
        assert (tints[a[a != b]] != tints[b[a != b]]).all()
    for strand in range(plan.traced.count):
        assert (grid == strand).sum() == plan.strands.stitches[strand]


def test_the_chart_is_drawn_in_its_colours_the_right_way_up():
    """By eye: A below, B above, in the colours of their yarns."""
    yarns = {"A": Yarn("A", colour="#ff0000"), "B": Yarn("B", colour="#0000ff")}
    figure = draw_chart(make_plan(Project("two", Chart.from_rows(["BBBB", "AAAA"]), yarns)))
    cells = figure.axes[0].images[0].get_array()
    assert cells.shape == (2, 4, 3)
    assert figure.axes[0].images[0].origin == "lower"
    np.testing.assert_allclose(cells[0], [[1, 0, 0]] * 4)
    np.testing.assert_allclose(cells[1], [[0, 0, 1]] * 4)


@pytest.mark.parametrize("gauge", [Gauge(20, 28), Gauge(30, 24)])
def test_the_chart_is_drawn_at_its_true_aspect(gauge):
    """6 stitches × 4 rows: height ÷ width as knitted (computed)."""
    figure = draw_chart(make_plan(Project("patch", Chart.from_rows(PATCH), gauge=gauge)))
    box = figure.axes[0].get_window_extent()
    assert box.height / box.width == pytest.approx(
        4 * gauge.row_cm / (6 * gauge.stitch_cm), rel=1e-6
    )


def test_load_shows_every_row():
    plan = piece_plan("many strands")
    heights = {
        round(bar.get_x() + 0.5): bar.get_height() for bar in draw_load(plan).axes[0].patches
    }
    assert heights == dict(zip(plan.rows.row, plan.rows.live, strict=True))


def test_pictures_keep_away_from_pyplot():
    """Widgets call them while a cell runs, and pyplot cannot bear that."""
    modules = list((ROOT / "planner").rglob("*.py"))
    assert len(modules) > 20
    assert [
        path.name
        for path in modules
        if re.search(r"^\s*(from|import) .*\b(pyplot|pylab)\b", path.read_text(), re.MULTILINE)
    ] == []


def test_a_picture_is_the_same_every_time():
    plan, files = piece_plan("rounds"), []
    for _ in range(2):
        files.append(io.BytesIO())
        draw_strands(plan).savefig(files[-1], format="png", dpi=50, metadata={"Software": None})
    assert files[0].getvalue() == files[1].getvalue()
