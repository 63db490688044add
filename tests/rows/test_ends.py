"""The ends: where each lies, along which border of its area it is sewn in, and after which row."""

import re
from itertools import pairwise

import numpy as np
import pytest

from planner import CarryLimits, Chart, Construction, Project, make_plan
from planner.piece import Allowances, Habits
from planner.rows import End, plan_sewing
from tests.helpers.knitter import draw_chart
from tests.helpers.rows import every_random_case, random_case, worked_rows

# Where they lie


@every_random_case
def test_ends_are_two_a_strand_and_two_a_join(number):
    _, plan = random_case(number)
    joins = plan.supplies[plan.supplies.yarn != "A"].refills.sum()  # A felts and is spliced
    assert len(plan.ends) == 2 * plan.traced.count + 2 * joins
    assert plan.supplies.refill_ends.sum() == 2 * joins
    counts = (
        plan.ends.groupby("strand")
        .end.value_counts()
        .unstack(fill_value=0)
        .reindex(columns=["start", "stop", "join"], fill_value=0)
    )
    assert (counts.start + counts.stop == 2).all()
    # A strand begun from its middle has no starting end.
    middle = plan.strands.set_index("strand").middle_start
    assert (counts.start.loc[middle.index] == (~middle).astype(int)).all()


@every_random_case
def test_each_end_lies_on_its_own_yarn(number):
    rows, plan = random_case(number)
    piece = worked_rows(rows, plan.traced.how)
    areas = plan.areas.set_index("area")
    for end in plan.ends.itertuples():
        assert piece[end.row - 1][-end.stitch] == end.yarn, end
        assert end.strand.startswith(end.yarn)
        assert areas.yarn[end.area] == end.yarn
        assert end.side == plan.rows.side[end.row - 1]
    assert plan.ends.row.is_monotonic_increasing


@every_random_case
def test_starts_and_stops_lie_where_the_strand_begins_and_ends(number):
    _, plan = random_case(number)
    strands = plan.strands.set_index("strand")
    for end in plan.ends[plan.ends.end == "start"].itertuples():
        assert (end.row, end.stitch) == tuple(
            strands.loc[end.strand, ["first_row", "first_stitch"]]
        )
    last = plan.ends[plan.ends.end == "stop"].groupby("strand").row.max()
    assert (last == strands.last_row.loc[last.index]).all()


@every_random_case
def test_ends_by_area_add_up(number):
    _, plan = random_case(number)
    assert plan.ends_by_area.ends.sum() == len(plan.ends)
    assert plan.ends_by_area.ends.tolist() == [
        (plan.ends.area == area).sum() for area in plan.ends_by_area.area
    ]
    assert (plan.ends_by_area.ends > 0).all()


def test_ends_by_eye():
    """A patch in a ground that it splits: where each of the four strands starts and stops, counted
    from the right."""
    rows = ["AAAAAA", "AABBAA", "AABBAA", "AAAAAA"]
    ends = make_plan(
        Project("patch", Chart.from_rows(rows), limits=CarryLimits(middle_start=False))
    ).ends
    of = {
        strand: list(zip(some.end, some.row, some.side, some.stitch, strict=True))
        for strand, some in ends.groupby("strand")
    }
    assert of["B1"] == [("start", 2, "WS", 4), ("stop", 3, "RS", 4)]
    assert of["A1"][0] == ("start", 1, "RS", 1)
    assert len(ends) == 2 * 3
    assert ends[ends.yarn == "A"].end.tolist().count("stop") == 2


@pytest.mark.parametrize(
    ("worked", "bind_off", "stitches"),
    [
        # By eye, the last row leftwards: each stops at its left edge. Bound off back over the row,
        # each stops where its run began, at its right edge.
        ("flat", 0, {"A1": 2, "B1": 6}),
        ("flat", 6, {"A1": 1, "B1": 3}),
        ("turned", 6, {"A1": 1, "B1": 3}),
        # Not turned, the bind-off goes on the same way round.
        ("rounds", 6, {"A1": 2, "B1": 6}),
    ],
)
def test_what_is_bound_off_stops_at_the_other_edge(worked, bind_off, stitches):
    """C ends a row before: it is not bound off, whatever becomes of the others."""
    rows = ["BBBBAA", "CCCCAA", "CCCCAA"]
    for bound_off in (0, bind_off):
        plan = make_plan(
            Project(
                "piece",
                Chart.from_rows(rows),
                how=Construction(worked=worked),
                allow=Allowances(bind_off=bound_off),
            )
        )
        stops = plan.ends[plan.ends.end == "stop"].set_index("strand").stitch
        assert stops["C1"] == (6 if worked == "rounds" else 3)
    assert stops[list(stitches)].to_dict() == stitches


def test_a_join_is_where_the_piece_runs_out():
    rows = ["A" * 40] * 20
    habits = Habits(loose_up_to_cm=60, butterfly_up_to_cm=90, bobbin_up_to_cm=400, place="train")
    piece = Project(
        "piece", Chart.from_rows(rows), allow=Allowances(cast_on=0, bind_off=0), habits=habits
    )
    plan = make_plan(piece)
    due = [int(row) for row in plan.supplies.refill_rows[0].split(", ")]
    joins = plan.ends[plan.ends.end == "join"]
    assert joins.row.tolist() == [row for row in due for _ in range(2)]
    # RS rows begin at the right.
    assert joins.stitch.tolist() == [1 if row % 2 else 40 for row in joins.row]


# Where and when they are sewn in


HOW = {
    "flat": Construction(),
    "flat, left-handed": Construction(hand="left", first_row="WS"),
    "garter": Construction(fabric="garter"),
    "rounds": Construction(worked="rounds"),
    "turned": Construction(worked="turned"),
}


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
        outside = column + step
        # In a tube the row goes on at the other side.
        columns = range(-16, 32) if HOW[name].is_tube else range(16)
        while outside in columns and areas[row, outside % 16] == end.area:
            outside += step
        if HOW[name].is_tube:
            outside %= 16
        if neighbour:
            assert rows[len(rows) - 1 - row][outside] == neighbour
            assert areas[row, outside] != end.area
        else:
            assert outside in (-1, 16)
        assert end.sew_after_row % every == 0 or end.sew_after_row == last
        assert end.row <= end.sew_after_row <= last
        if way == "upwards":
            assert end.sew_after_row > end.row or end.row == last


@pytest.mark.parametrize("worked", ["rounds", "turned"])
def test_rounds_have_no_edge_to_sew_along(worked):
    """The fabric of rounds is a tube: an area that goes on over the seam has no border there."""
    rows = ["AAABBBBBBBAA"] * 12
    plan = make_plan(Project("piece", Chart.from_rows(rows), how=HOW[worked]))
    assert [text for text in plan.ends.sew_in if "edge of the piece" in text] == []


def test_a_no_stitch_cell_is_no_edge():
    """By hand: the gap in B's row parts nothing; B's end lies between A on either side, not at the
    edge of the piece."""
    rows = ["AAABB.BBBAAA"] * 12
    plan = make_plan(Project("piece", Chart.from_rows(rows)))
    of_b = plan.ends[plan.ends.yarn == "B"]
    assert not of_b.sew_in.str.contains("edge of the piece").any()


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


def end_at(column, row, what, area=1):
    """An end in the middle of nowhere in particular."""
    return End("A1", "A", what, row, "RS", column, stitch=12 - column, area=area)


def test_an_end_keeps_off_a_border_that_has_one_already():
    """By eye, on 12 × 30 stitches in one yarn: the left edge is nearer to all of these.

    The second start would lie on the first, so it goes to the right. The third, three rows up,
    finds both taken and lies on the first; eight rows above it the left is free again. A stop is
    sewn downwards, over rows of its own.
    """
    plan = make_plan(Project("plain", Chart.from_rows(["A" * 12] * 30)))
    ends = [end_at(*place, "start") for place in ((1, 0), (2, 0), (3, 3), (1, 11))]
    ends.append(end_at(1, 29, "stop"))
    planned = plan_sewing(ends, plan.traced, plan.area_of_cell, 10)
    left, right = "along the left edge of the piece", "along the right edge of the piece"
    ways = [f"upwards {left}", f"upwards {right}", f"upwards {left}", f"upwards {left}"]
    assert [end.sew_in for end in planned] == [*ways, f"downwards {left}"]


def test_an_end_is_sewn_in_when_the_rows_it_lies_along_are_done():
    """By eye: a start in row 1 lies along rows 1 to 9 and is sewn in after row 10, one in row 4
    after row 20; a stop in row 11 is sewn in downwards, after row 20. No row comes after the
    last."""
    plan = make_plan(Project("plain", Chart.from_rows(["A" * 12] * 24)))
    ends = [end_at(1, 0, "start"), end_at(1, 3, "start"), end_at(1, 10, "stop")]
    ends += [end_at(1, 19, "start"), end_at(1, 23, "stop")]
    planned = plan_sewing(ends, plan.traced, plan.area_of_cell, 10)
    assert [end.sew_after for end in planned] == [10, 20, 20, 24, 24]
