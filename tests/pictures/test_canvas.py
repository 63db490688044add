"""The canvas: steps of numbers, edges between cells, the size of the sheet."""

import io

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from PIL import Image

from planner.pictures.canvas import (
    QUICK,
    Sheet,
    chart_size,
    edges_along,
    fitting_step,
    numbered_rows,
    png_of,
    unlike_neighbours,
)
from tests.helpers.drawn import piece_plan, written


@pytest.mark.parametrize(
    ("size", "step"),
    [(20, 1), (16, 1), (15.9, 2), (3, 10), (0.16, 100), (0.01, 100)],
)
def test_numbers_stand_at_least_so_far_apart_if_any_step_allows_it(size, step):
    assert fitting_step(size, 16) == step


@pytest.mark.parametrize(
    ("rows", "step", "both_sides", "numbered"),
    [
        (3, 1, True, [1, 2, 3]),
        (9, 2, True, [1, 2, 3, 4, 5, 6, 7, 8]),  # 2, 4 … at one side, the rows below at the other
        (9, 2, False, [1, 2, 4, 6, 8]),
        (21, 5, True, [1, 5, 10, 15, 20]),  # an odd step changes sides by itself
        (21, 10, True, [1, 9, 10, 19, 20]),
        (1, 10, True, [1]),
    ],
)
def test_which_rows_are_numbered(rows, step, both_sides, numbered):
    assert [row + 1 for row in numbered_rows(rows, step, both_sides=both_sides)] == numbered


def edges_between(cells) -> list:
    """The lines between unlike cells."""
    return edges_along(*unlike_neighbours(np.array(cells))).tolist()


def test_edges_between_unlike_cells():
    """By eye: 0 1 in the lower row, 0 0 in the upper one."""
    assert edges_between([[0, 1], [0, 0]]) == [[[1, 0], [1, 1]], [[1, 1], [2, 1]]]


def test_an_edge_is_one_line_from_end_to_end():
    """By eye: two columns, parted over all three rows, but for a step in the middle one."""
    assert edges_between([[0, 1]] * 3) == [[[1, 0], [1, 3]]]
    stepped = edges_between([[0, 1, 1], [0, 0, 1], [0, 1, 1]])
    assert [[1, 0], [1, 1]] in stepped
    assert [[1, 2], [1, 3]] in stepped
    assert [[2, 1], [2, 2]] in stepped


def test_no_edges_in_one_colour():
    assert edges_between(np.zeros((3, 4))) == []


@pytest.mark.parametrize(
    ("columns", "rows", "aspect", "size"),
    [
        (40, 40, 0.75, (8, 6)),
        (40, 100, 0.75, (8, 15)),
        (40, 200, 0.75, (4, 15)),  # twice as high as there is room
    ],
)
def test_a_chart_is_as_wide_as_it_may_be_unless_it_is_too_tall(columns, rows, aspect, size):
    assert chart_size(columns, rows, aspect) == pytest.approx(size)


def test_stitches_are_numbered_from_the_right():
    """6 stitches of 96 points each: room for every number."""
    sheet = Sheet(piece_plan("patch").traced, "a title")
    numbers = {text: x for text, (x, y) in written(sheet.ax) if y == 0}
    assert numbers == {str(number): 6.5 - number for number in range(1, 7)}
    assert sheet.stitch_pt == pytest.approx(96)


def test_rows_are_numbered_where_they_begin():
    """Flat and right-handed: RS rows begin at the right, WS rows at the left."""
    sheet = Sheet(piece_plan("patch").traced, "a title")
    numbers = {text: place for text, place in written(sheet.ax) if place[1]}
    assert numbers == {"1": (6, 0.5), "2": (0, 1.5), "3": (6, 2.5), "4": (0, 3.5)}


def test_a_picture_is_drawn_once():
    """Even where a layout is made, for which matplotlib would draw it twice."""
    figure, times = Figure(layout="constrained"), []

    class Counted(Line2D):
        def draw(self, renderer):
            times.append(renderer)

    figure.add_subplot().add_artist(Counted([], []))
    png_of(figure)
    assert len(times) == 1


def test_a_png_is_of_the_size_asked_for_however_it_is_packed():
    """3 × 2 inches (computed)."""
    figure = Figure(figsize=(3, 2), dpi=50)
    figure.text(0.5, 0.5, "words")
    quick, usual, fine = png_of(figure, packed=QUICK), png_of(figure), png_of(figure, dpi=100)
    small, same, large = (Image.open(io.BytesIO(data)) for data in (quick, usual, fine))
    assert small.size == same.size == (150, 100)
    assert large.size == (300, 200)
    assert small.tobytes() == same.tobytes()
    assert len(usual) < len(quick)
    assert small.mode == "RGB"
    assert large.info["dpi"] == pytest.approx((100, 100), abs=0.1)
