"""How a chart is laid on pages: the fewest that are legible, sharing a row and a column."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.paper.chart_pages import LEAST_MM, cell_that_fits, cut, tiles
from planner.paper.drawing import Drawing, borders, stretches
from planner.paper.papers import A4, POINTS_PER_MM

sizes = st.integers(1, 300)


@given(sizes, st.integers(2, 60))
def test_stretches_share_one_and_are_the_fewest(length, most):
    found = cut(length, most)
    covered = [place for first, end in found for place in range(first, end)]
    assert sorted(set(covered)) == list(range(length))
    assert max(end - first for first, end in found) <= most
    for (_, end), (first, _) in pairwise(found):
        assert end - first == 1
    # With one page fewer, sharing one each, so many could not be covered.
    assert len(found) == 1 or (len(found) - 1) * (most - 1) + 1 < length


@given(sizes, sizes, st.floats(0.4, 2.5))
def test_every_stitch_is_on_a_page_in_legible_cells(columns, rows, aspect):
    room = A4.room
    found = tiles(columns, rows, aspect, room)
    seen = np.zeros((rows, columns), dtype=int)
    for tile in found:
        tile.of(seen)[:] += 1
    assert seen.min() >= 1
    most = (max(tile.columns for tile in found), max(tile.rows for tile in found))
    width, height = cell_that_fits(*most, aspect, room)
    assert min(width, height) >= LEAST_MM * POINTS_PER_MM * (1 - 1e-9)
    assert height / width == pytest.approx(aspect)
    assert width * most[0] <= room[0] * (1 + 1e-9)
    assert height * most[1] <= room[1] * (1 + 1e-9)


def test_pages_begin_at_the_bottom_right_as_the_knitting_does():
    first, second, *_ = tiles(150, 200, 0.7, A4.room)
    assert (first.right, first.bottom) == (150, 0)
    assert (second.right, second.bottom) == (first.left + 1, 0)


grids = st.integers(1, 6).flatmap(
    lambda columns: st.lists(
        st.lists(st.integers(0, 2), min_size=columns, max_size=columns), min_size=1, max_size=6
    )
)


@given(grids)
def test_borders_and_fills_are_those_of_the_cells(rows):
    """Against every pair of neighbours, one by one."""
    cells = np.array(rows)
    drawn = set()
    for column, row, to_column, to_row in borders(cells):
        for place in range(row, to_row):
            drawn.add(("upright", column, place))
        for place in range(column, to_column):
            drawn.add(("level", place, row))
    wanted = set()
    for row, column in np.ndindex(cells.shape):
        if column and cells[row, column] != cells[row, column - 1]:
            wanted.add(("upright", column, row))
        if row and cells[row, column] != cells[row - 1, column]:
            wanted.add(("level", column, row))
    assert drawn == wanted
    filled = np.full(cells.shape, -1)
    for value in range(3):
        for row, first, end in stretches(cells == value):
            filled[row, first:end] = value
    assert (filled == cells).all()


def test_every_tenth_line_is_stronger_counted_from_the_right_of_the_whole_chart():
    drawing = Drawing(rows=1, columns=12, cell_width=10, cell_height=10)
    drawing.rule(stitches_before=5, rows_before=3)
    _, strong = drawing.svg().split("<path")[1:]
    # Five stitches lie to the right of it, so the tenth line is five from its right.
    assert 'd="M70 10L70 0"' in strong
