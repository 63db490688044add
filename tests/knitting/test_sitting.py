"""A sitting: the good rows to stop at, where it ends, and what to have ready until then."""

import pytest

from planner import Construction, Yarn
from planner.knitting import end_of_sitting, good_rows_to_stop, ready_for_sitting, sitting_now
from planner.knitting.sitting import Wanted
from planner.piece import STOPPED, Habits, OwnChoice
from tests.helpers.plans import plan_of, stripes
from tests.helpers.progress import worked
from tests.helpers.rows import every_random_case, random_case


def stops_of(plan):
    return good_rows_to_stop(plan, [True] * len(plan.loads))


def test_a_sitting_ends_after_a_wrong_side_row_before_which_nothing_begins():
    """By eye: B works rows 4 to 6, so row 3 is a row to stop at in rounds only."""
    rows = ["A" * 12] * 4 + ["A" * 8 + "B" * 4] * 3 + ["A" * 12] * 3
    assert stops_of(plan_of(rows)) == [2, 4, 6, 8, 10]
    assert stops_of(plan_of(rows, how=Construction(first_row="WS"))) == [1, 5, 7, 9]
    assert stops_of(plan_of(rows, how=Construction(worked="rounds"))) == [
        1,
        2,
        4,
        5,
        6,
        7,
        8,
        9,
        10,
    ]


def test_no_stop_where_the_balls_are_not_clear():
    plan = plan_of(["A" * 12] * 6)
    clear = [row != 3 for row in range(6)]  # all but row 4
    assert good_rows_to_stop(plan, clear) == [2, 6]


@every_random_case
def test_stops_are_quiet(number):
    _, plan = random_case(number)
    rows = plan.rows.set_index("row")
    for row in stops_of(plan):
        assert rows.live[row] <= max(plan.project.habits.comfortable, rows.live.quantile(0.25))
        assert row == len(rows) or rows.starts[row + 1] == 0


@pytest.mark.parametrize(
    ("done", "stops", "until"),
    [
        (0, [2, 4, 10, 14], 10),  # the last one in twelve rows
        (4, [2, 4, 10, 14], 14),
        (2, [20, 30], 20),  # the first after them
        (20, [20], 40),  # none: to the end
        (0, [], 40),
    ],
)
def test_where_a_sitting_ends(done, stops, until):
    assert end_of_sitting(plan_of(["A" * 12] * 40), done, stops) == until


def test_the_end_of_a_sitting_stays_while_rows_are_marked():
    """By hand, stops after every second row: sittings of twelve rows, and a shorter one where the
    knitter noted that she stopped."""
    plan, stops = plan_of(["A" * 12] * 40), range(2, 41, 2)
    sittings = [sitting_now(plan, worked(done), stops) for done in range(41)]
    assert sittings[:12] == [(0, 12)] * 12
    assert sittings[12:24] == [(12, 24)] * 12
    assert sittings[36:40] == [(36, 40)] * 4
    stopped = [sitting_now(plan, worked(done, (STOPPED, 6, 0)), stops) for done in range(6, 20)]
    assert stopped == [(6, 18)] * 12 + [(18, 30)] * 2
    in_mid_row = sitting_now(plan, worked(6, (STOPPED, 7, 3)), stops)
    assert in_mid_row == (6, 18)


@every_random_case
def test_every_sitting_is_over_where_it_was_to_end(number):
    _, plan = random_case(number)
    stops = stops_of(plan)
    ends = {sitting_now(plan, worked(done), stops).until for done in range(len(plan.loads))}
    for done in range(len(plan.loads)):
        begun, until = sitting_now(plan, worked(done), stops)
        assert begun <= done < until
        assert begun in ends | {0}


def test_what_is_wound_and_laid_out_for_a_sitting():
    """By hand: B is 12 stitches of 2 cm and two tails of 15 cm, 54 cm: 55 are measured off. It is
    wanted in row 4."""
    rows = ["A" * 12] * 4 + ["A" * 8 + "B" * 4] * 3 + ["A" * 12] * 3
    yarns = {"A": Yarn("A", "Dune"), "B": Yarn("B", "Moss")}
    own = (OwnChoice("supply", "A", 1, 1, "whole", "from the ball"),)
    plan = plan_of(rows, yarns, choices=own)
    first = ready_for_sitting(plan, 0, 3)
    assert [(each.before, each.what, each.yarn, each.length) for each in first] == [
        ("1", "A1", "A", "")  # a ball is not measured off
    ]
    then = ready_for_sitting(plan, 3, 10)
    assert then == [Wanted("4", "B1", "B", "loose strand", "0.55 m")]
    assert ready_for_sitting(plan, 4, 10) == []


def test_what_is_measured_off_and_joined_in_a_sitting_is_said():
    off_its_ball = plan_of(["A" * 20] * 14, habits=Habits(elsewhere="7-14 train"))
    (wanted,) = ready_for_sitting(off_its_ball, 1, 14)
    assert (wanted.before, wanted.what) == ("7", "A1 from row 7")
    assert wanted.held.endswith(", off its ball then")
    bobbins = Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train")
    refilled = plan_of(stripes(40, 40, rows=22), habits=bobbins)
    to_join = ready_for_sitting(refilled, 2, 8)
    assert {each.held for each in to_join} == {"bobbin, to join in this row"}


def test_lengths_are_in_the_units_shown():
    plan = plan_of(["A" * 12] * 10, units="in")
    assert not any(" m" in each.length for each in ready_for_sitting(plan, 0, 10))
