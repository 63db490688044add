"""The chart as it will look, and the map of its strands."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_hex

from planner import Chart, Gauge, Project, Yarn, make_plan
from planner.colour import NO_STITCH_GREY, contrast
from planner.pictures import draw_chart, draw_strands, strand_grid, strand_shades
from planner.pictures.chart import NO_STITCH_MARK, lettered_runs
from planner.pictures.labels import LABEL_PT
from planner.pictures.words import Words
from planner.piece import OwnChoice
from planner.strands import find_runs, label_areas
from tests.helpers.drawn import PATCH, PIECES, piece_plan, words_in

EXTREME = {
    letter: Yarn(letter, colour=colour)
    for letter, colour in zip("ABCD", ("#000000", "#ffffff", "#243b63", "#b5452c"), strict=True)
}


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


def test_a_map_may_be_narrow():
    """As wide as is said, its letters as large as ever."""
    plan = piece_plan("big")
    wide, narrow = draw_strands(plan), draw_strands(plan, width_in=5.5)
    assert [wide.get_size_inches()[0], narrow.get_size_inches()[0]] == [9, 5.5]
    for figure in (wide, narrow):
        (*_, labels, _) = figure.findobj(Words)
        assert set(plan.traced.labels) <= {text.split()[0] for text in words_in(figure)}
        assert labels.get_sizes().tolist() == [LABEL_PT**2]


def test_labels_read_on_their_shades():
    """WCAG 2.2, 1.4.3: 4.5, on yarns from black to white; each rim has the shade of its strand."""
    plan = make_plan(replace(PIECES["big"], yarns=EXTREME))
    grid = strand_grid(plan)
    shades = strand_shades(plan, grid)
    assert len(set(shades)) > len(EXTREME)
    inside = next(
        words for words in draw_strands(plan).findobj(Words) if words.texts[0][0] in "ABCD"
    )
    inks = inside.get_facecolors()[1::2]
    rims = inside.get_edgecolors()[::2]
    places = inside.get_offsets()[::2]
    for text, (x, y), ink, rim in zip(inside.texts, places, inks, rims, strict=True):
        strand = plan.traced.labels.index(text.split("\n")[0])
        assert grid[int(y), int(x)] == strand
        assert to_hex(rim) == shades[strand]
        assert contrast(to_hex(ink), shades[strand]) >= 4.5


def test_edges_show_between_dark_strands():
    """White where both are dark, dark elsewhere: never alike to both sides (WCAG 2.2, 1.4.11)."""
    plan = make_plan(replace(PIECES["big"], yarns=EXTREME))
    grid = strand_grid(plan)
    shades = strand_shades(plan, grid)
    sheet = draw_strands(plan).axes[0]
    lines = [patch for patch in sheet.patches if len(patch.get_path()) > 10]
    by_colour = {to_hex(patch.get_edgecolor()): patch.get_path().vertices for patch in lines}
    ends = by_colour["#ffffff"].reshape(-1, 2, 2).astype(int)
    assert len(ends) > 10
    for (x, y), _ in ends:
        cells = ((y, x - 1), (y, x), (y - 1, x), (y - 1, x - 1))
        around = {grid[cell] for cell in cells if min(cell) >= 0 and cell < grid.shape}
        assert sum(contrast("white", shades[strand]) > 4.5 for strand in around) >= 2


def test_no_stitch_is_struck_out_and_has_a_grey_of_its_own():
    """By eye: .AA. over ABBA over AB.A."""
    sheet = draw_strands(piece_plan("no-stitch cells")).axes[0]
    (strokes,) = (
        patch for patch in sheet.patches if to_hex(patch.get_edgecolor()) == NO_STITCH_MARK
    )
    begins = strokes.get_path().vertices[::2].tolist()
    assert sorted(begins) == [[0, 2], [2, 0], [3, 2]]
    cells = sheet.images[0].get_array()
    assert to_hex(cells[2, 0] / 255) == NO_STITCH_GREY


def test_no_stitch_belongs_to_no_strand():
    """By eye: .AA. over ABBA over AB.A."""
    grid = strand_grid(piece_plan("no-stitch cells"))
    assert (grid < 0).astype(int).tolist() == [[0, 0, 1, 0], [0, 0, 0, 0], [1, 0, 0, 1]]
