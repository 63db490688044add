"""Will it last? What is left on each supply and of each yarn, by hand and by SciPy's normal."""

import pandas as pd
import pytest
from scipy.stats import norm

from planner import Chart, Gauge, Project, Yarn, make_plan
from planner.knitting.progress import will_it_last, will_yarns_last
from planner.piece.log import JOINED, LEFT, UNDONE, WORKED, Entry
from planner.piece.settings import Allowances, MultiplierChoice
from tests.helpers.progress import log_of


def table_after(*lines, rows=("A" * 20,) * 4, spread=0.0, units="cm", **yarn):
    """will_it_last at 2 stitches to the cm, multiplier 4 and tails of 10 cm: a stitch takes 2 cm, a
    row of 20 takes 40."""
    plan = make_plan(
        Project(
            "piece",
            Chart.from_rows(rows),
            {letter: Yarn(letter, **yarn) for letter in "AB"},
            Gauge(20, 25),
            allow=Allowances(tail_cm=10, cast_on=0, bind_off=0),
            multiplier=MultiplierChoice("own", 4.0, spread),
            units=units,
        )
    )
    return will_it_last(plan, log_of(*lines))


def test_left_as_planned():
    """By hand: four rows of 40 cm and two tails are 180 cm; after one row, the starting tail in the
    work, 130 cm are left."""
    table = table_after((WORKED, 1))
    [line] = table.itertuples()
    assert (line.strand, line.part) == ("A1", "whole")
    assert (line.left_planned_m, line.still_needed_m) == (1.30, 1.30)
    assert pd.isna(line.left_measured_m)
    assert pd.isna(line.out_in_row_earliest)
    assert pd.isna(line.out_in_row_latest)
    assert (line.chance_it_lasts_percent, line.what_to_do) == (100.0, "")


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
    assert line.what_to_do == "now: join a new piece at a border, two ends"


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
    """By hand: a new piece of 300 cm after row 2 lasts to the end whatever was left of the old
    one."""
    short = (WORKED, 1), (LEFT, 1, "A1", 60.0), (WORKED, 2)
    assert table_after(*short).what_to_do[0].startswith("now: ")
    [line] = table_after(*short, (JOINED, 2, "A1", 300.0)).itertuples()
    assert line.what_to_do == ""
    assert line.chance_it_lasts_percent == 100
    assert pd.isna(line.out_in_row_earliest)
    assert 2.90 <= line.left_planned_m <= 3.00


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
    assert even.chance_it_lasts_percent == 50.0
    assert (even.out_in_row_earliest, pd.isna(even.out_in_row_likely)) == (4, True)
    [more] = table_after((WORKED, 1), (LEFT, 1, "A1", 140.0), spread=0.5).itertuples()
    assert more.chance_it_lasts_percent == round(100 * norm.cdf((13 / 3 - 4) / 0.5), 1)
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
        == "now: splice a new piece on, it felts"
    )
    uncut = table_after((WORKED, 1), (LEFT, 1, "A1", 60.0), may_be_cut=False)
    assert uncut.what_to_do[0] == "now: take more from the ball"


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
    assert table.left_likely_m == pytest.approx((400 - 5 * per_row - 30) / 100, abs=0.006)
    assert table.still_needed_m == pytest.approx(5 * per_row / 100, abs=0.006)
    assert table.chance_it_lasts_percent == 100 * (10 * per_row <= 400 - 30)
