"""The ends: where each lies. How each is run is tested with finishing."""

import pytest

from planner import CarryLimits, Chart, Construction, Project, make_plan
from planner.piece import Allowances, Habits
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
