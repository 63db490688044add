"""Where and when ends are sewn in: along a border of their own area, once its rows are worked."""

import re
from itertools import pairwise

import numpy as np
import pytest

from planner import Chart, Construction, Project, make_plan
from planner.piece.settings import Habits
from tests.helpers.knitter import draw_chart

HOW = {
    "flat": Construction(),
    "flat, left-handed": Construction(hand="left", first_row="WS"),
    "garter": Construction(fabric="garter"),
    "rounds": Construction(worked="rounds"),
}


# Which way, the neighbour's letter or none at the edge, and the side.
SEW_IN = re.compile(
    r"(upwards|downwards) along (?:its border with (\w) on the |the )(left|right)"
    r"(?: edge of the piece)?"
)


@pytest.mark.parametrize("every", [1, 7, 10])
@pytest.mark.parametrize("name", HOW)
def test_ends_are_sewn_along_a_border_of_their_area(name, every):
    """The border that is named lies at the end of the end's own stretch of the area, found cell by
    cell; sewn in after a row that is a multiple of `every`, or the last, and not before the end's
    own row."""
    rows = draw_chart(12, stitches=16, rows=20, yarns=3, smooth=1.5)
    plan = make_plan(
        Project("piece", Chart.from_rows(rows), how=HOW[name], habits=Habits(sew_every=every))
    )
    ends, areas = plan.ends, plan.area_of_cell
    times, last = HOW[name].rows_per_chart_row, plan.traced.runs.rows
    assert len(ends) == plan.traced.ends
    for end in ends.itertuples():
        row, column = (end.row - 1) // times, 16 - end.stitch
        assert areas[row, column] == end.area
        way, neighbour, side = SEW_IN.fullmatch(end.sew_in).groups()
        assert way == ("upwards" if end.end == "start" else "downwards")
        step = 1 if side == "right" else -1
        at = column
        while 0 <= at + step < 16 and areas[row, at + step] == end.area:
            at += step
        outside = at + step
        if neighbour:
            assert rows[len(rows) - 1 - row][outside] == neighbour
            assert areas[row, outside] != end.area
        else:
            assert outside in (-1, 16)
        assert end.sew_after_row % every == 0 or end.sew_after_row == last
        assert end.row <= end.sew_after_row <= last
        if way == "upwards":
            assert end.sew_after_row > end.row or end.row == last


def test_rounds_have_no_edge_to_sew_along():
    """The fabric of rounds is a tube: an area that goes on over the seam has no border there."""
    rows = ["AAABBBBBBBAA"] * 12
    plan = make_plan(Project("piece", Chart.from_rows(rows), how=HOW["rounds"]))
    assert [text for text in plan.ends.sew_in if "edge of the piece" in text] == []


def test_a_no_stitch_cell_is_no_edge():
    """By hand: the gap in B's row parts nothing; B's end lies between A on either side, not at the
    edge of the piece."""
    rows = ["AAABB.BBBAAA"] * 12
    plan = make_plan(Project("piece", Chart.from_rows(rows)))
    assert [
        end.sew_in
        for end in plan.ends.itertuples()
        if end.yarn == "B" and "edge of the piece" in end.sew_in
    ] == []


def test_a_start_in_garter_has_its_rows_before_it_is_sewn():
    """An end sewn upwards lies along rows that must be worked by then: as many chart rows in garter
    as in stockinette."""
    after = {}
    for name in ("flat", "garter"):
        rows = ["AAAABBBBAAAA"] * 20 + ["A" * 12] * 2
        plan = make_plan(
            Project("piece", Chart.from_rows(rows), how=HOW[name], habits=Habits(sew_every=1))
        )
        times = HOW[name].rows_per_chart_row
        [start] = [end for end in plan.ends.itertuples() if end.yarn == "B" and end.end == "start"]
        after[name] = (start.sew_after_row - start.row) // times
    assert after["garter"] >= after["flat"]


def test_ends_at_one_place_are_sewn_along_both_borders():
    """By hand: each strand has a start and a stop in its area; they do not lie on each other."""
    rows = ["AAAABBBBAAAA"] * 10
    ends = make_plan(Project("piece", Chart.from_rows(rows))).ends
    for area, ends_of_area in ends.groupby("area"):
        lines = [
            (end.sew_in.split()[0], end.sew_in.split()[-1], end.row)
            for end in ends_of_area.itertuples()
            if "edge of the piece" not in end.sew_in
        ]
        assert len(set(lines)) == len(lines), area
    assert all(a <= b for a, b in pairwise(ends.row))
    assert np.all(ends.sew_after_row == 10)
