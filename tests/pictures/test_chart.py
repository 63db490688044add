"""The chart as it will look, and the map of its strands."""

from dataclasses import replace

import numpy as np
import pytest

from planner import Chart, Gauge, Project, Yarn, make_plan
from planner.pictures import draw_chart, draw_strands, strand_grid, strand_tints
from planner.pictures.chart import STRAND_TINTS, lettered_runs
from planner.pictures.words import Words
from planner.piece import OwnChoice
from planner.strands import find_runs, label_areas
from tests.helpers.drawn import PATCH, PIECES, piece_plan, words_in


def test_the_chart_is_drawn_in_its_colours_the_right_way_up():
    """By eye: A below, B above, in the colours of their yarns."""
    yarns = {"A": Yarn("A", colour="#ff0000"), "B": Yarn("B", colour="#0000ff")}
    figure = draw_chart(make_plan(Project("two", Chart.from_rows(["BBBB", "AAAA"]), yarns)))
    cells = figure.axes[0].images[0].get_array()
    assert cells.shape == (2, 4, 4)
    assert figure.axes[0].images[0].origin == "lower"
    assert cells[0].tolist() == [[255, 0, 0, 255]] * 4
    assert cells[1].tolist() == [[0, 0, 255, 255]] * 4


@pytest.mark.parametrize("gauge", [Gauge(20, 28), Gauge(30, 24)])
def test_the_chart_is_drawn_at_its_true_aspect(gauge):
    """6 stitches × 4 rows: height ÷ width as knitted (computed)."""
    figure = draw_chart(make_plan(Project("patch", Chart.from_rows(PATCH), gauge=gauge)))
    box = figure.axes[0].get_window_extent()
    true = 4 * gauge.row_cm / (6 * gauge.stitch_cm)
    assert box.height / box.width == pytest.approx(true, rel=1e-6)


@pytest.mark.parametrize(
    ("step", "lettered"),
    [
        (1, [(0, 0), (1, 0), (1, 2), (1, 4), (2, 0), (2, 2), (2, 4), (3, 0)]),
        (2, [(1, 0), (1, 2), (1, 4), (3, 0)]),
        (9, [(0, 0), (1, 2)]),  # no row 5; one for each area, where it is entered first
    ],
)
def test_letters_stand_in_every_nth_row_and_in_each_area(step, lettered):
    """By eye: (row, first column) of the runs of a patch, both from 0."""
    strands = piece_plan("patch").traced
    runs, areas = strands.runs, label_areas(strands.chart)
    chosen = lettered_runs(runs, areas, strands.chart.cells, step=step)
    places = zip(runs.row[chosen].tolist(), runs.lo[chosen].tolist(), strict=True)
    assert sorted(places) == lettered


def test_no_letter_stands_where_it_is_embroidered_over():
    chart = Chart.from_rows(["AAA"])
    runs, areas = find_runs(chart, PIECES["patch"].how), label_areas(chart)
    assert lettered_runs(runs, areas, np.array([[1, 0, 1]]), step=1).tolist() == [True]
    assert lettered_runs(runs, areas, np.array([[0, 1, 0]]), step=1).tolist() == [False]


def embroidered():
    """Thirty stitches of K on a ground of W: as drawn, and with the line of K embroidered."""
    piece = Project("line", Chart.from_rows(["WWWWWKWWWWW"] * 30))
    choice = OwnChoice("embroider", "K", 7, 6, "whole", "by itself")
    return make_plan(piece), make_plan(replace(piece, choices=(choice,)))


@pytest.mark.parametrize("draw", [draw_chart, draw_strands])
def test_what_is_embroidered_is_marked(draw):
    """A mark in the middle of each stitch, and none where all is knitted."""
    knitted, marked = (
        [words for words in draw(plan).findobj(Words) if words.texts == ["V"]]
        for plan in embroidered()
    )
    assert not knitted
    (marks,) = marked
    assert marks.get_offsets().tolist() == [[5.5, row + 0.5] for row in range(30)]


def test_what_is_embroidered_is_named_and_looks_as_it_was_drawn():
    drawn, plan = embroidered()
    words = words_in(draw_chart(plan))
    assert "K, 0 st and 30 embroidered (V)" in words
    assert "W, 330 st" in words
    assert "W, 300 st" in words_in(draw_chart(drawn))
    before, after = (draw_chart(p).axes[0].images[0].get_array() for p in (drawn, plan))
    assert (before == after).all()


def test_every_strand_has_its_label_in_the_picture():
    plan = piece_plan("many strands")
    assert plan.traced.count >= 50
    labels = {text.split()[0] for text in words_in(draw_strands(plan))}
    assert set(plan.traced.labels) <= labels


def test_strands_that_touch_have_unlike_tints():
    plan = piece_plan("many strands")
    grid = strand_grid(plan)
    tints = np.array(strand_tints(grid, plan.traced.count), dtype=object)
    for a, b in ((grid[:, 1:], grid[:, :-1]), (grid[1:], grid[:-1])):
        assert (tints[a[a != b]] != tints[b[a != b]]).all()
    for strand in range(plan.traced.count):
        assert (grid == strand).sum() == plan.strands.stitches[strand]


def test_a_strand_that_touches_all_tints_takes_the_first():
    """There is no other way; labels still tell it apart."""
    count = len(STRAND_TINTS)
    others = np.arange(count)
    grid = np.stack((others, np.full(count, count)))
    assert strand_tints(grid, count + 1) == [*STRAND_TINTS, STRAND_TINTS[0]]


def test_no_stitch_belongs_to_no_strand():
    """By eye: .AA. over ABBA over AB.A."""
    grid = strand_grid(piece_plan("no-stitch cells"))
    assert (grid < 0).astype(int).tolist() == [[0, 0, 1, 0], [0, 0, 0, 0], [1, 0, 0, 1]]
