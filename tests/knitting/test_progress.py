"""Will it last? What is left on each supply and of each yarn, by hand and by SciPy's normal."""

import math
from dataclasses import replace

import pandas as pd
import pytest
from scipy.stats import norm

from planner import CarryLimits, Chart, Gauge, Project, Yarn, make_plan
from planner.knitting.progress import will_it_last, will_yarns_last
from planner.piece.log import EXCHANGED, JOINED, LEFT, SHORT, UNDONE, WORKED, Entry
from planner.piece.settings import Allowances, Habits, MultiplierChoice, OwnChoice
from tests.helpers.plans import V, plan_of
from tests.helpers.progress import DAY, log_of

WOUND = Habits(narrow_stitches=20)


def table_after(*lines, rows=("A" * 20,) * 4, spread=0.0, units="cm", habits=WOUND, **yarn):
    """will_it_last at 2 stitches to the cm, multiplier 4 and tails of 10 cm: a stitch takes 2 cm, a
    row of 20 takes 40. It is narrow to this knitter, so that it is wound where it can be."""
    plan = make_plan(
        Project(
            "piece",
            Chart.from_rows(rows),
            {letter: Yarn(letter, **yarn) for letter in "AB"},
            Gauge(20, 25),
            allow=Allowances(tail_cm=10, cast_on=0, bind_off=0),
            multiplier=MultiplierChoice("own", 4.0, spread),
            units=units,
            habits=habits,
        )
    )
    return will_it_last(plan, log_of(*lines))


def plan_with(rows, **yarn):
    """The plan of what `table_after` tells, of strands that never begin from their middle."""
    return make_plan(
        Project(
            "piece",
            Chart.from_rows(rows),
            {letter: Yarn(letter, **yarn) for letter in "AB"},
            Gauge(20, 25),
            limits=CarryLimits(middle_start=False),
            allow=Allowances(tail_cm=10, cast_on=0, bind_off=0),
            multiplier=MultiplierChoice("own", 4.0, 0.0),
            habits=WOUND,
        )
    )


def after_notes(done, *notes, rows=("A" * 20,) * 4, **yarn):
    """will_it_last when so many rows are worked and this is noted, at 2 cm a stitch."""
    return will_it_last(plan_with(rows, **yarn), (*worked_through_row(done), *notes))


def test_left_as_planned():
    """By hand: four rows of 40 cm and two tails are 180 cm; after one row, the starting tail in the
    work, 130 cm are left."""
    table = table_after((WORKED, 1))
    [line] = table.itertuples()
    assert line.strand == "A1"
    assert (line.left_planned_m, line.still_needed_m) == (1.30, 1.30)
    assert pd.isna(line.left_measured_m)
    assert pd.isna(line.out_in_row_earliest)
    assert pd.isna(line.out_in_row_latest)
    # As planned, there is nothing to say of its chance.
    assert pd.isna(line.chance_it_lasts_percent)
    assert line.what_to_do == ""


def bound_off(*notes):
    """The plan of four rows of 20 stitches that are bound off, and its log when all are worked."""
    allow = Allowances(tail_cm=10, cast_on=0, bind_off=4)
    plan = replace(plan_with(("A" * 20,) * 4).project, allow=allow)
    return make_plan(plan), (*worked_through_row(4), *notes)


def test_what_is_bound_off_is_still_to_come_when_all_rows_are_worked():
    """By hand: four times the width of 10 cm are 40, and the tail at the end 10."""
    [line] = will_it_last(*bound_off()).itertuples()
    assert (line.strand, line.left_planned_m, line.still_needed_m) == ("A1", 0.50, 0.50)
    assert line.what_to_do == ""
    [yarn] = will_yarns_last(*bound_off()).itertuples()
    assert yarn.still_needed_m == 0.4  # both tails are kept back since it was begun


@pytest.mark.parametrize(
    ("left_cm", "what_to_do"),
    [(50.0, ""), (30.0, "now: join a new length of 0.40 m at a border, two ends")],
)
def test_what_is_left_for_binding_off_is_measured(left_cm, what_to_do):
    """By hand: 50 cm are needed; of 30, 20 are missing, and two tails."""
    note = Entry(9, DAY, LEFT, 4, strand="A1", length_cm=left_cm)
    [line] = will_it_last(*bound_off(note)).itertuples()
    assert (line.left_measured_m, line.left_planned_m) == (left_cm / 100, left_cm / 100)
    assert (line.still_needed_m, line.what_to_do) == (0.50, what_to_do)
    assert line.chance_it_lasts_percent == (0 if what_to_do else 100)


def test_only_live_supplies_are_told():
    """By hand: B works rows 2 and 3 only; a supply is told from when it is begun until it has done
    its last row."""
    rows = ["A" * 20, "A" * 12 + "B" * 8, "A" * 12 + "B" * 8, "A" * 20]
    told = [
        set(table_after(*[(WORKED, n) for n in range(1, done + 1)], rows=rows).strand)
        for done in range(5)
    ]
    assert told == [set(), {"A1"}, {"A1", "B1"}, {"A1"}, set()]


def test_measured_left():
    """By hand: of 100 cm left after row 1, 90 may be worked: rows 2 and 3 take 80, row 4 runs
    out."""
    [line] = table_after((WORKED, 1), (LEFT, 1, "A1", 100.0)).itertuples()
    assert (line.left_measured_m, line.left_planned_m, line.still_needed_m) == (1.00, 1.00, 1.30)
    assert (line.out_in_row_earliest, line.out_in_row_likely, line.out_in_row_latest) == (4, 4, 4)
    assert line.chance_it_lasts_percent == 0
    assert line.what_to_do == "now: join a new length of 0.50 m at a border, two ends"


def test_measured_left_a_row_ago():
    """By hand: 100 cm after row 1, and row 2 has taken 40 of it."""
    [line] = table_after((WORKED, 1), (LEFT, 1, "A1", 100.0), (WORKED, 2)).itertuples()
    assert (line.left_measured_m, line.left_planned_m, line.still_needed_m) == (1.00, 0.60, 0.90)
    assert line.out_in_row_likely == 4


@pytest.mark.parametrize(
    ("left", "row"), [(49.0, 2), (51.0, 3), (89.0, 3), (91.0, 4), (129.0, 4), (130.0, None)]
)
def test_the_row_where_it_runs_out(left, row):
    """By hand: 40 cm a row, and a tail of 10 must stay."""
    [line] = table_after((WORKED, 1), (LEFT, 1, "A1", left)).itertuples()
    assert (None if pd.isna(line.out_in_row_likely) else line.out_in_row_likely) == row


def test_a_newer_measurement_holds():
    [line] = table_after((WORKED, 1), (LEFT, 1, "A1", 60.0), (LEFT, 1, "A1", 130.0)).itertuples()
    assert (line.left_measured_m, line.what_to_do) == (1.30, "")


def test_a_measurement_of_a_row_taken_back_does_not_count():
    [line] = table_after((WORKED, 1), (WORKED, 2), (LEFT, 2, "A1", 20.0), (UNDONE, 2)).itertuples()
    assert pd.isna(line.left_measured_m)
    assert line.left_planned_m == 1.30


def test_joined():
    """By hand: a new length of 300 cm after row 2 lasts to the end whatever was left of the old
    one."""
    short = (WORKED, 1), (LEFT, 1, "A1", 60.0), (WORKED, 2)
    assert table_after(*short).what_to_do[0].startswith("now: ")
    [line] = table_after(*short, (JOINED, 2, "A1", 300.0)).itertuples()
    assert line.what_to_do == ""
    assert line.chance_it_lasts_percent == 100
    assert pd.isna(line.out_in_row_earliest)
    assert 2.90 <= line.left_planned_m <= 3.00


def test_what_ran_short_is_told_until_a_new_piece_is_joined():
    """By hand: nothing is left of A from row 2 on. Of 300 cm that are joined 80 are worked by the
    end of row 3; what was left of the old piece is not told any more."""
    short = Entry(9, DAY, SHORT, 2, strand="A1", stitch=7)
    [line] = after_notes(1, short).itertuples()
    assert (line.left_planned_m, line.left_measured_m) == (0, 0)
    assert line.out_in_row_likely == 2
    assert line.what_to_do == "now: join a new length of 1.50 m at a border, two ends"
    joined = replace(short, number=10, what=JOINED, length_cm=300.0)
    [line] = after_notes(3, short, joined).itertuples()
    assert (line.left_planned_m, line.what_to_do) == (2.2, "")
    assert pd.isna(line.left_measured_m)


def test_a_ball_that_ran_short_has_no_more():
    short = Entry(9, DAY, SHORT, 2, strand="A1", stitch=7)
    [line] = after_notes(1, short, may_be_cut=False).itertuples()
    assert line.what_to_do.startswith("now: join a new length")


def test_one_that_begins_in_the_row_on_the_needles_is_told_once_it_ran_short():
    rows = ["B" * 8 + "A" * 12] * 2 + ["A" * 20] * 2
    assert after_notes(2, rows=rows).strand.tolist() == ["A1"]
    short = Entry(9, DAY, SHORT, 3, strand="B1", stitch=3)
    assert after_notes(2, short, rows=rows).strand.tolist() == ["A1", "B1"]


def test_two_that_were_exchanged_have_each_other_s_yarn():
    """By hand: A1 and A2 work 6 stitches of 2 cm a row in five rows beside 8 of B: 60 cm and two
    tails of 10 are wound, and each has 70 less 12 a row. 100 cm are left of A1 when three rows are
    done, as it was measured; from then on they feed A2."""
    rows = ["A" * 6 + "B" * 8 + "A" * 6] * 5
    left = Entry(8, DAY, LEFT, 3, strand="A1", length_cm=100.0)
    swap = Entry(9, DAY, EXCHANGED, 3, strand="A1", other="A2")
    table = after_notes(3, left, rows=rows).set_index("strand")
    assert table.left_planned_m[["A1", "A2"]].tolist() == [1.0, 0.34]
    table = after_notes(3, left, swap, rows=rows).set_index("strand")
    assert table.left_planned_m[["A1", "A2"]].tolist() == [0.34, 1.0]
    assert table.left_planned_m["B1"] == 0.42
    table = after_notes(4, left, swap, rows=rows).set_index("strand")
    assert table.left_planned_m[["A1", "A2"]].tolist() == [0.22, 0.88]
    # Noted twice, each has its own again.
    table = after_notes(4, left, swap, replace(swap, number=10), rows=rows).set_index("strand")
    assert table.left_planned_m[["A1", "A2"]].tolist() == [0.88, 0.22]


def test_one_that_is_not_begun_is_exchanged_with_a_tail_for_each():
    """By hand: A2, at the left of B, begins in row 3 with 8 stitches of 2 cm in two rows and two
    tails: 52 cm. What hung at A1 has been 100 cm; 10 of them are its tail where it is begun. The
    supply wound for A2 is joined at A1 with a tail of 10 cm; row 3 takes 12 stitches of it."""
    rows = ["A" * 8 + "B" * 2 + "A" * 10] * 2 + ["A" * 20] * 2
    left = Entry(8, DAY, LEFT, 2, strand="A1", length_cm=100.0)
    swap = Entry(9, DAY, EXCHANGED, 2, strand="A1", other="A2")
    parts = {held.part.title: held.part for held in plan_with(rows).held}
    assert parts["A2"].hangs_from == 2
    table = after_notes(2, left, swap, rows=rows).set_index("strand")
    assert table.left_planned_m["A2"] == 0.9
    assert table.left_planned_m["A1"] == pytest.approx(parts["A2"].wound_cm / 100 - 0.1, abs=0.005)


def test_another_strand_is_not_touched():
    rows = ["A" * 10 + "B" * 10] * 4
    table = table_after((WORKED, 1), (LEFT, 1, "B1", 20.0), rows=rows).set_index("strand")
    assert pd.isna(table.left_measured_m["A1"])
    assert table.left_planned_m["A1"] == 0.70
    assert table.what_to_do["A1"] == ""
    assert table.what_to_do["B1"] != ""


def test_chance_and_interval():
    """By hand, with the normal distribution from SciPy (computed): 130 cm left, 120 of them for 30
    cm of row, so a multiplier up to 4 lasts: an even chance. With 10 cm more, up to 4 1/3."""
    [even] = table_after((WORKED, 1), (LEFT, 1, "A1", 130.0), spread=0.5).itertuples()
    assert even.chance_it_lasts_percent == 50
    assert (even.out_in_row_earliest, pd.isna(even.out_in_row_likely)) == (4, True)
    [more] = table_after((WORKED, 1), (LEFT, 1, "A1", 140.0), spread=0.5).itertuples()
    # 74.75 in 100: no more is promised.
    assert more.chance_it_lasts_percent == math.floor(100 * norm.cdf((13 / 3 - 4) / 0.5)) == 74
    [short] = table_after((WORKED, 1), (LEFT, 1, "A1", 89.0), spread=0.5).itertuples()
    # 79 cm to work at 4 ± 0.82 (90 in 100): 48, 96, 145 or 40, 80, 120 or 32, 64, 95 cm after each
    # of three rows
    assert (short.out_in_row_earliest, short.out_in_row_likely, short.out_in_row_latest) == (
        3,
        3,
        4,
    )


def test_three_rows_warning():
    """The issue: three rows' warning. Before that the row is named, with three rows or fewer it is
    now."""
    rows = ["A" * 20] * 12
    [early] = table_after((WORKED, 1), (LEFT, 1, "A1", 215.0), rows=rows).itertuples()
    assert early.out_in_row_earliest == 7
    assert early.what_to_do.startswith("before row 7: ")
    worked = [(WORKED, n) for n in range(2, 5)]
    [late] = table_after((WORKED, 1), (LEFT, 1, "A1", 215.0), *worked, rows=rows).itertuples()
    assert late.what_to_do.startswith("now: ")


def test_what_to_do_by_yarn_and_supply():
    assert (
        table_after((WORKED, 1), (LEFT, 1, "A1", 60.0), feltable=True).what_to_do[0]
        == "now: splice on a new length of 0.90 m, it felts"
    )
    superwash = table_after((WORKED, 1), (LEFT, 1, "A1", 60.0), feltable=True, superwash=True)
    assert superwash.what_to_do[0] == "now: join a new length of 0.90 m at a border, two ends"
    uncut = table_after((WORKED, 1), (LEFT, 1, "A1", 60.0), may_be_cut=False)
    assert uncut.what_to_do[0] == "now: take more from the ball"


def test_what_to_do_before_and_after_it_is_measured_off():
    """Rows 1 to 6 from the ball, 7 to 14 in the train: until row 6 is done there is more on the
    ball, then there is not."""
    habits = Habits(elsewhere="7-14 train")
    for done, words in ((5, "take more from the ball"), (6, "join a new length")):
        lines = [(WORKED, row) for row in range(1, done + 1)]
        left = (LEFT, done, "A1", 60.0)
        table = table_after(*lines, left, rows=("A" * 20,) * 14, habits=habits)
        assert words in table.what_to_do[0]


def test_a_carry_still_to_come_is_needed():
    """By hand: B is carried four stitches, 2 cm, on row 2: 10 cm for its five stitches there, 2
    carried, 10 tail."""
    rows = ["A" * 14 + "B" * 5 + "A" * 5, "A" * 10 + "B" * 5 + "A" * 9]
    table = table_after((WORKED, 1), rows=rows).set_index("strand")
    assert table.still_needed_m["B1"] == 0.22
    assert table.left_planned_m["B1"] == 0.22


def test_lengths_in_yards():
    [line] = table_after((WORKED, 1), (LEFT, 1, "A1", 91.44), units="in").itertuples()
    assert line.left_measured_yd == 1.00


# Will the yarn in hand last?


def test_part_balls_are_in_hand_too():
    """By hand: a ball of 4 m and 50 g, and 25 g of another, are 6 m."""
    yarn = Yarn("A", metres_per_ball=4, grams_per_ball=50, balls_in_hand=1, part_balls_g=(25,))
    plan = plan_of(["A" * 20] * 10, {"A": yarn})
    assert will_yarns_last(plan, ()).in_hand_m.tolist() == [6]


def test_yarns_by_hand():
    """Ten rows of 20 stitches, 10 cm wide, at 3 widths a row: 30 cm a row, tails of 15 cm.

    Half of them are worked.
    """
    chart, band = Chart.from_rows(["A" * 20] * 10), Yarn("A", metres_per_ball=4, balls_in_hand=1)
    log = tuple(Entry(i, "2026-03-01", WORKED, i, 20, runs="20 A1") for i in range(1, 6))
    allow = Allowances(tail_cm=15, cast_on=0, bind_off=0)
    project = Project(
        "x", chart, {"A": band}, multiplier=MultiplierChoice("own", 3, 0), allow=allow, progress=log
    )
    plan = make_plan(project)
    per_row = 3 * 20 * plan.traced.gauge.stitch_cm
    table = will_yarns_last(plan, log).iloc[0]
    assert table.in_hand_m == 4
    assert table.left_likely_m == pytest.approx((400 - 5 * per_row - 30) / 100, abs=0.051)
    assert table.still_needed_m == pytest.approx(5 * per_row / 100, abs=0.051)
    assert table.chance_it_lasts_percent == 100 * (10 * per_row <= 400 - 30)


def worked_through_row(done):
    return log_of(*[(WORKED, row) for row in range(1, done + 1)])


def yarns_after(plan, done):
    """What is in hand and what is still needed, by yarn, when so many rows are worked."""
    return will_yarns_last(plan, worked_through_row(done)).set_index("yarn")


REFILLED = Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train")


@pytest.mark.parametrize(
    ("done", "used", "to_come"),
    [
        # Rows of 80 cm, two tails of the strand, and of each refill that is joined by then.
        (0, 0, 22 * 80 + 30 + 4 * 30),
        (4, 4 * 80 + 30, 18 * 80 + 4 * 30),
        (5, 5 * 80 + 30 + 30, 17 * 80 + 3 * 30),
        (10, 10 * 80 + 30 + 2 * 30, 12 * 80 + 2 * 30),
        (22, 22 * 80 + 30 + 4 * 30, 0),
    ],
)
@pytest.mark.parametrize("in_hand", [19.10, 19.09])
def test_the_tails_of_refills_have_to_last_too(done, used, to_come, in_hand):
    """By hand: 40 stitches of 2 cm a row on bobbins of 4 m, refilled in rows 5, 10, 14 and 19.

    22 rows of 80 cm and five pieces with two tails of 15 cm each are 19.10 m.
    """
    band = Yarn("A", metres_per_ball=in_hand, balls_in_hand=1)
    plan = plan_of(["A" * 40 + "B" * 40] * 22, {"A": band}, habits=REFILLED)
    line = yarns_after(plan, done).loc["A"]
    assert line.in_hand_m == 19.1
    assert line.left_likely_m == pytest.approx(19.1 - used / 100, abs=0.05)
    assert line.still_needed_m == pytest.approx(to_come / 100)
    # The last row takes what is left over of 19.10 m; once it is worked nothing is needed.
    assert line.chance_it_lasts_percent == (100 if in_hand == 19.10 or not to_come else 0)
    # The winding list asks for as much, each piece of 5 cm and more.
    assert plan.shopping_list.set_index("yarn").piece_m["A"] == 19.10


@pytest.mark.parametrize("done", [0, 10, 30])
@pytest.mark.parametrize(("in_hand", "chance"), [(0.97, 100), (0.95, 0)])
def test_what_is_embroidered_has_to_last_too(done, in_hand, chance):
    """By hand: 30 stitches of 2 cm, 1.1 times as much, and two tails of 15 cm are 96 cm of K.

    It comes when all is knitted: in no row any of it is used. The ground takes 22 cm a row.
    """
    embroidered = OwnChoice("embroider", "K", 1, 6, "whole", "by itself")
    band = Yarn("K", metres_per_ball=in_hand, balls_in_hand=1)
    plan = plan_of(["WWWWWKWWWWW"] * 30, {"K": band}, choices=(embroidered,))
    table = yarns_after(plan, done)
    assert table.still_needed_m["K"] == 1.0
    assert table.in_hand_m["K"] == table.left_likely_m["K"] == 1.0
    assert table.chance_it_lasts_percent["K"] == chance
    to_come = (30 - done) * 22 + (0 if done else 30)
    assert table.still_needed_m["W"] == pytest.approx(to_come / 100)


@pytest.mark.parametrize(
    ("done", "knitted", "carried", "tails"),
    [(0, 0, 0, 0), (1, 1, 0, 2), (2, 3, 1, 2), (9, 17, 15, 2)],
)
def test_what_is_knitted_and_embroidered_in_one_yarn(done, knitted, carried, tails):
    """By hand: a V of 10 rows, 19 stitches of 2 cm, begun from its middle, a tail for each half.

    From row to row each arm is carried on over a stitch, half a cm, but where the second arm is
    begun. A dot of the same yarn is embroidered: 2.2 cm and two tails.
    """
    rows = [list(row) for row in V]
    rows[0][15] = "B"
    dot = OwnChoice("embroider", "B", 10, 16, "whole", "by itself")
    plan = plan_of(
        ["".join(row) for row in rows],
        {"B": Yarn("B", metres_per_ball=2, balls_in_hand=1)},
        limits=CarryLimits(across=1),
        choices=(dot,),
    )
    assert plan.traced.labels.count("B1") == plan.traced.middle_starts == 1
    line = yarns_after(plan, done).loc["B"]
    used = knitted * 2 + carried * 0.5 + tails * 15
    in_all = 19 * 2 + 17 * 0.5 + 2 * 15 + 2.2 + 30
    assert line.left_likely_m == pytest.approx((200 - used) / 100, abs=0.051)
    assert line.still_needed_m == pytest.approx((in_all - used) / 100, abs=0.051)


def test_a_half_that_waits_is_told_of_by_its_name():
    """By hand: B is begun from its middle in row 1, but its second half is taken up in row 2: until
    then it waits with all of it, two stitches of 2 cm, a shift of a stitch and a tail: 19.5 cm."""
    plan = plan_of(["ABAAAABA", "AABAABAA", "AAABBAAA"], limits=CarryLimits(across=3))
    table = will_it_last(plan, worked_through_row(1)).set_index("strand")
    assert table.index.tolist() == ["A1", "B1a", "B1b"]
    assert table.loc["B1b", ["left_planned_m", "still_needed_m"]].tolist() == [0.2, 0.2]
    # One stitch of three is worked: 24 cm less 2 cm, and what it was shifted.
    assert table.left_planned_m["B1a"] == pytest.approx(0.2, abs=0.025)
    # Measured, it is known by its half.
    half = Entry(9, "2026-03-01", LEFT, 1, strand="B1", part="second half", length_cm=12.0)
    table = will_it_last(plan, (*worked_through_row(1), half)).set_index("strand")
    assert table.left_measured_m.dropna().to_dict() == {"B1b": 0.12}
    assert table.what_to_do["B1b"].startswith("now: ")


def test_a_chance_is_never_said_to_be_certain():
    """By hand: 10 m more than it takes at 4 ± 0.5 will do, but that is no certainty; at just 4 it
    is. Where nothing is left to work, all is certain."""
    for spread, percent in ((0.5, 99), (0.0, 100)):
        [line] = table_after((WORKED, 1), (LEFT, 1, "A1", 1130.0), spread=spread).itertuples()
        assert line.chance_it_lasts_percent == percent
    band = Yarn("A", metres_per_ball=100, balls_in_hand=1)
    plan = plan_of(["AAAA"] * 3, {"A": band}, multiplier=MultiplierChoice("own", 4, 0.5))
    chances = [yarns_after(plan, done).chance_it_lasts_percent["A"] for done in range(4)]
    assert chances == [99, 99, 99, 100]
