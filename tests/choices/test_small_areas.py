"""Small areas: which may be embroidered, by their widest run and their count, and their names.

Grade of every figure: by hand.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner import Construction
from planner.choices.asked import ask
from planner.choices.small_areas import Shape, areas_to_embroider
from planner.piece import Weighing
from tests.helpers.choices import embroider, piece

THIN = Weighing(embroider_stitches=0, embroider_wide=1)


def diagonal(stitches, width=1, ground="N", yarn="Y"):
    """A line of Y on N that goes one stitch to the right with each row down."""
    rows = []
    for row in range(stitches):
        cells = [ground] * stitches
        cells[row : row + width] = [yarn] * len(cells[row : row + width])
        rows.append("".join(cells))
    return rows


def offered(rows, weighing, **asked):
    """Yarn and stitches of each small area."""
    project = piece(rows, weighing=weighing, **asked)
    found = areas_to_embroider(project, ask(project))
    return [(area.shape.yarn, len(area.shape.rows)) for area in found]


def test_a_diagonal_line_is_as_thin_as_its_widest_run():
    """20 rows, 20 columns, and never more than a stitch in a run."""
    assert offered(diagonal(20), THIN) == [("Y", 20)]
    assert offered(diagonal(20, width=2), THIN) == []
    # 2 in each row and 1 in the last.
    assert offered(diagonal(20, width=2), replace(THIN, embroider_wide=2)) == [("Y", 39)]


def test_runs_of_a_row_do_not_add_up():
    """Both branches of a V are one stitch wide, so the V is."""
    rows = ["YNNNNNY", "NYNNNYN", "NNYNYNN", "NNNYNNN", *["N" * 7] * 4]
    assert offered(rows, THIN) == [("Y", 7)]


def test_an_area_counts_as_small_by_its_stitches():
    rows = ["N" * 6, "NYYYYN", "N" * 6, "N" * 6]
    assert offered(rows, replace(THIN, embroider_stitches=4)) == [("Y", 4)]
    assert offered(rows, replace(THIN, embroider_stitches=3)) == []


def test_a_run_across_the_join_of_a_tube_is_one():
    """By eye: 2 stitches at each edge; on a tube they are 4 side by side."""
    rows = ["YY" + "N" * 20 + "YY"]
    wide = Weighing(embroider_stitches=0, embroider_wide=3)
    around = Construction(worked="rounds")
    assert offered(rows, wide) == [("Y", 2), ("Y", 2)]
    assert offered(rows, wide, how=around) == []
    assert offered(rows, replace(wide, embroider_wide=4), how=around) == [("Y", 4)]


def test_most_of_the_chart_is_not_thin():
    """Columns of N have a quarter of the stitches each, those of Y half of them in one area."""
    rows = ["NYYN"] * 10
    assert offered(rows, replace(THIN, embroider_wide=2)) == [("N", 10), ("N", 10)]


def test_what_is_embroidered_already_is_left_out():
    rows = ["NNNNN", "NYNNN", "NNNYN", "NNNNN"]
    project = piece(rows, embroider("Y", 2, 2), weighing=THIN)
    [area] = areas_to_embroider(project, ask(project))
    assert area.choice == embroider("Y", 3, 4)


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ([(0, 0)], "a single stitch"),
        ([(0, 0), (0, 1), (0, 2)], "a line of 3 stitches"),
        ([(0, 0), (1, 0), (2, 0)], "a line of 3 stitches"),
        ([(0, 0), (1, 1), (2, 2), (3, 1)], "a diagonal line of 4 stitches"),
        ([(0, 1), (1, 0), (1, 2)], "thin lines of 3 stitches"),
        ([(0, 0), (0, 1), (1, 0), (1, 1)], "a patch of 4 stitches"),
    ],
)
def test_what_a_shape_is_called(cells, words):
    rows, columns = zip(*cells, strict=True)
    assert Shape("Y", rows, columns).size(1) == words
