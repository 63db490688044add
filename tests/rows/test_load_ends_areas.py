"""Load by row, ends and the plan's colour areas, against plain counts on the chart."""

from functools import cache
from itertools import pairwise

import pytest

from planner import CarryLimits, Chart, Construction, Gauge, Project, Yarn, make_plan, open_project
from planner.piece.settings import Allowances, Habits
from planner.rows import End, plan_sewing
from tests.conftest import DEMO
from tests.helpers.knitter import draw_chart

HOW = [
    Construction(),
    Construction(first_row="WS", hand="left"),
    Construction(worked="rounds"),
    Construction(fabric="garter"),
    Construction(worked="rounds", hand="left", fabric="garter"),
]


@cache
def random_case(number):
    """A random chart's rows, top row first, and its plan, with refills and, in every other chart,
    no-stitch cells."""
    rows = draw_chart(
        number, stitches=22, rows=24, yarns=3, smooth=(1, 2, 3.5)[number % 3], holes=number % 2 == 1
    )
    yarns = {"A": Yarn("A", feltable=True), "B": Yarn("B"), "C": Yarn("C", metres_per_ball=50)}
    habits = Habits(
        loose_up_to_cm=60,
        butterfly_up_to_cm=90,
        bobbin_up_to_cm=150,
        balls_on_table=number % 3,
        comfortable=3,
        crowded=6,
    )
    piece = Project(
        f"random {number}",
        Chart.from_rows(rows),
        yarns,
        Gauge(),
        HOW[number % len(HOW)],
        habits=habits,
    )
    return rows, make_plan(piece)


every_random_case = pytest.mark.parametrize("number", range(10))


def worked_rows(rows, how):
    """The cells of each worked row, bottom row first; a ridge is worked twice."""
    return [line for line in reversed(rows) for _ in range(2 if how.fabric == "garter" else 1)]


# Load by row


@every_random_case
def test_load_by_a_plain_count(number):
    rows, plan = random_case(number)
    table, how = plan.rows, plan.traced.how
    piece = worked_rows(rows, how)
    assert table.row.tolist() == list(range(1, len(piece) + 1))
    strands, supplies = plan.strands, plan.supplies
    due = [int(row) for text in supplies.refill_rows for row in text.split(", ") if row]
    for i, (cells, line) in enumerate(zip(piece, table.itertuples(), strict=True)):
        worked = cells.replace(".", "")
        assert line.stitches == len(worked)
        assert line.borders == sum(a != b for a, b in pairwise(worked))
        assert line.live == ((strands.first_row <= line.row) & (line.row <= strands.last_row)).sum()
        assert line.starts == (strands.first_row == line.row).sum()
        assert line.ends == (strands.last_row == line.row).sum()
        assert line.refills == due.count(line.row)
        assert line.load == ("easy" if line.live <= 3 else "busy" if line.live <= 6 else "crowded")
        assert line.chart_row == (i // 2 if how.fabric == "garter" else i) + 1
    assert table.starts.sum() == table.ends.sum() == plan.traced.count


def test_the_random_charts_try_everything():
    plans = [random_case(number)[1] for number in range(10)]
    assert {load for plan in plans for load in plan.rows.load} == {"easy", "busy", "crowded"}
    assert sum(plan.rows.refills.sum() for plan in plans) > 20
    assert sum(plan.traced.middle_starts for plan in plans) > 3


def test_sides_and_directions_by_eye():
    """Flat from a WS row: WS rows left to right, RS rows right to left; in rounds always RS, always
    one way."""
    chart = Chart.from_rows(["AB", "AB", "AB"])
    flat = make_plan(Project("flat", chart, how=Construction(first_row="WS"))).rows
    assert list(zip(flat.side, flat.works, strict=True)) == [
        ("WS", "left to right"),
        ("RS", "right to left"),
        ("WS", "left to right"),
    ]
    tube = make_plan(Project("tube", chart, how=Construction(worked="rounds", hand="left"))).rows
    assert set(zip(tube.side, tube.works, strict=True)) == {("RS", "left to right")}


def test_small_diamond_has_14_borders():
    """25 stitches of B in 27 columns, 3 strands, 14 borders (published,
    vicsknits.wordpress.com/2007/02/10)."""
    rows = ["A" * ((27 - n) // 2) + "B" * n + "A" * ((27 - n) // 2) for n in (1, 3, 5, 7, 5, 3, 1)]
    plan = make_plan(
        Project("diamond", Chart.from_rows(rows), limits=CarryLimits(middle_start=False))
    )
    assert plan.rows.borders.sum() == 14
    assert plan.rows.live.tolist() == [3] * 7
    assert plan.strands.groupby("yarn").stitches.sum()["B"] == 25
    assert plan.traced.count == 3


def test_a_strand_is_live_while_it_is_carried():
    """A patch, two plain rows, the patch again: one strand of B, live in all six rows."""
    patch = ["AAABBBAAA"] * 2
    plan = make_plan(
        Project(
            "patch", Chart.from_rows([*patch, "A" * 9, "A" * 9, *patch]), limits=CarryLimits(up=2)
        )
    )
    strand = plan.strands[plan.strands.yarn == "B"]
    assert (strand.first_row.tolist(), strand.last_row.tolist()) == ([1], [6])
    assert (
        plan.rows.live.iloc[2]
        == 1
        + (
            plan.strands.yarn[(plan.strands.first_row <= 3) & (plan.strands.last_row >= 3)] == "A"
        ).sum()
    )


# Ends


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
    middle = plan.strands.set_index("strand").middle_start
    assert (
        counts.start.loc[middle.index] == (~middle).astype(int)
    ).all()  # begun from the middle: no starting end


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


def test_a_join_is_where_the_piece_runs_out():
    rows = ["A" * 40] * 20
    habits = Habits(loose_up_to_cm=60, butterfly_up_to_cm=90, bobbin_up_to_cm=400, table=False)
    piece = Project(
        "piece", Chart.from_rows(rows), allow=Allowances(cast_on=0, bind_off=0), habits=habits
    )
    plan = make_plan(piece)
    due = [int(row) for row in plan.supplies.refill_rows[0].split(", ")]
    joins = plan.ends[plan.ends.end == "join"]
    assert joins.row.tolist() == [row for row in due for _ in range(2)]
    assert joins.stitch.tolist() == [
        1 if row % 2 else 40 for row in joins.row
    ]  # RS rows begin at the right


# Colour areas


RING = [
    *["B" * 11] * 3,
    *["BBBBYYYBBBB"] * 4,
    *["BYYYBBBYYYB"] * 5,
    *["BBBBYYYBBBB"] * 4,
    *["B" * 11] * 3,
]


def test_ring():
    """5 strands though only 2 + 1 colour areas, at most 5 at once (published,
    textilefusion.com/?p=1170)."""
    plan = make_plan(
        Project("ring", Chart.from_rows(RING), limits=CarryLimits(sideways=3, middle_start=False))
    )
    assert plan.areas.groupby("yarn").size().to_dict() == {"B": 2, "Y": 1}
    assert plan.strands.groupby("yarn").size().to_dict() == {"B": 3, "Y": 2}
    assert plan.rows.live.max() == 5
    assert "3 colour areas" in plan.summary()
    assert "5 strands" in plan.summary()


@pytest.mark.parametrize(("worked", "areas"), [("flat", 3), ("rounds", 2)])
def test_a_tube_closes_at_its_seam(worked, areas):
    """A left and right of B: two areas on a flat piece, one round the tube."""
    plan = make_plan(
        Project("seam", Chart.from_rows(["AABBBA"] * 4), how=Construction(worked=worked))
    )
    assert len(plan.areas) == areas


def test_areas_of_the_demo_are_fewer_than_its_strands():
    plan = make_plan(open_project(DEMO))
    assert len(plan.areas) < plan.traced.count
    assert plan.areas.groupby("yarn").stitches.sum().to_dict() == plan.traced.chart.stitches()


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
    """By eye: a start in row 1 lies along rows 1 to 9 and is sewn in after row 10, one in row 4 after
    row 20; a stop in row 11 is sewn in downwards, after row 20. No row comes after the last."""
    plan = make_plan(Project("plain", Chart.from_rows(["A" * 12] * 24)))
    ends = [end_at(1, 0, "start"), end_at(1, 3, "start"), end_at(1, 10, "stop")]
    ends += [end_at(1, 19, "start"), end_at(1, 23, "stop")]
    planned = plan_sewing(ends, plan.traced, plan.area_of_cell, 10)
    assert [end.sew_after for end in planned] == [10, 20, 20, 24, 24]
