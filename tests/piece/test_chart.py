"""The chart: rows in and out, counted from the bottom."""

import pytest
from hypothesis import given, settings

from planner import Chart
from tests.helpers.grids import grids


@settings(derandomize=True, deadline=None)
@given(grids())
def test_rows_out_are_the_rows_in(grid):
    chart = Chart.from_rows(grid)
    assert chart.to_rows() == grid
    assert Chart.from_rows(chart.to_rows()) == chart
    assert (chart.rows, chart.columns) == (len(grid), len(grid[0]))
    assert chart.stitches() == {
        yarn: sum(row.count(yarn) for row in grid) for yarn in chart.letters
    }


def test_bottom_row_is_row_1():
    chart = Chart.from_rows(["AAB", ".BB"])
    assert chart.letters == ("A", "B")
    assert chart.cells.tolist() == [[-1, 1, 1], [0, 0, 1]]
    assert repr(chart) == "Chart of 3 stitches × 2 rows in 2 yarns: A, B"
    assert chart != Chart.from_rows([".BB", "AAB"])
    with pytest.raises(ValueError, match="read-only"):
        chart.cells[0, 0] = 1
