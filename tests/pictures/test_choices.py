"""Pictures of choices: the curve of rungs, and the bobbins row by row."""

from itertools import pairwise

import pytest

from planner import make_plan, open_project
from planner.buying import bobbin_table
from planner.choices import tradeoff
from planner.pictures import draw_bobbins, draw_tradeoff
from planner.piece import SUPPLIES
from tests.conftest import DEMO
from tests.helpers.drawn import written


@pytest.fixture(scope="module")
def plan():
    return make_plan(open_project(DEMO))


def test_the_curve_shows_every_rung_and_rings_the_present_one(plan):
    table = tradeoff(plan.project)
    figure = draw_tradeoff(table, "t")
    for ax, column in zip(figure.axes, ("ends", "live"), strict=True):
        points = table[["carried_stitches", column]].to_numpy()
        good, beaten, ringed = (line.get_xydata().tolist() for line in ax.lines)
        assert good == points[~table.beaten].tolist()
        assert beaten == points[table.beaten].tolist()
        assert ringed == points[table.present].tolist()


def test_rungs_are_numbered_as_in_the_table(plan):
    """Those that cost the same share a point, and so a text."""
    table = tradeoff(plan.project)
    texts = written(draw_tradeoff(table, "t").axes[0])
    placed = {int(number): place for text, place in texts for number in text.split(", ")}
    assert len({place for _, place in texts}) == len(texts)
    points = zip(table.carried_stitches, table.ends, strict=True)
    assert placed == dict(enumerate(points, start=1))


def test_the_bobbins_picture_has_each_piece(plan):
    table = bobbin_table(plan)
    ax = draw_bobbins(plan, table).axes[0]
    assert [text for text, _ in written(ax)] == table.piece.tolist()
    bars, _, _ = ax.collections
    boxes = [bar.get_extents() for bar in bars.get_paths()]
    spans = [(box.x0 + 0.5, box.width) for box in boxes]
    assert spans == list(zip(table.from_row, table.to_row - table.from_row + 1, strict=True))
    middles = [(box.y0 + box.y1) / 2 for box in boxes]
    assert middles == pytest.approx(table.bobbin.tolist())


def test_a_stroke_stands_where_one_stops_to_wind(plan):
    """With as few bobbins as will do, some are wound on the way; with one for each piece one stops
    only where something is measured off its ball in mid-strand."""
    for owned in (None, 200):
        table = bobbin_table(plan, owned=owned)
        late = table[table.wind != "before you start"]
        measured_off = late[late.piece.str.contains(" from row ")]
        assert set(measured_off.wind) <= set(late.wind)
        assert (set(measured_off.wind) == set(late.wind)) is (owned is not None)
        _, _, strokes = draw_bobbins(plan, table).axes[0].collections
        rows = [stroke[0, 0] + 0.5 for stroke in strokes.get_segments()]
        assert rows == late.from_row.tolist()


@pytest.mark.parametrize("bobbins", [1, 2, 9])
def test_every_bobbin_has_its_line_and_its_name(plan, bobbins):
    """One bobbin too: its bar is no lower than others, and nothing reaches out of the picture."""
    table = bobbin_table(plan, kinds=SUPPLIES, owned=200)
    figure = draw_bobbins(plan, table[table.bobbin <= bobbins])
    figure.canvas.draw()
    ax = figure.axes[0]
    names = [label for label in ax.get_yticklabels() if label.get_text()]
    assert [name.get_text() for name in names] == [f"bobbin {n + 1}" for n in range(bobbins)]
    boxes = [name.get_window_extent() for name in names]
    assert all(box.x0 > 0 for box in boxes)
    assert all(above.y0 > below.y1 for above, below in pairwise(boxes))
    low, high = ax.get_ylim()
    bar_in = 0.8 * ax.bbox.height / figure.dpi / (low - high)
    assert bar_in > 0.25


def test_no_bobbins_no_bars(plan):
    figure = draw_bobbins(plan, bobbin_table(plan, kinds=()))
    assert not any(len(shapes.get_paths()) for shapes in figure.axes[0].collections)
