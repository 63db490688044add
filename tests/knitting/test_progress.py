"""Progress: rows marked and taken back, what is left, whether it lasts; and where and when the ends
are sewn in."""

import re
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from planner import Chart, Construction, Gauge, PlanError, Project, Yarn, make_plan, open_project
from planner.folder import log_progress, read_progress
from planner.knitting.progress import will_it_last
from planner.piece.log import (
    JOINED,
    LEFT,
    UNDONE,
    WORKED,
    Entry,
    check_mark,
    notes_by_row,
    rows_worked,
)
from planner.piece.settings import Allowances, Habits, MultiplierChoice
from planner.strands.knitted import note_row
from planner.workbook.desk import Desk
from tests.helpers.knitter import draw_chart

DAY = "2025-03-01"


def log(*lines):
    """A log from (what, row) and, for a supply, (what, row, strand, cm)."""
    out = []
    for number, (what, row, *supply) in enumerate(lines, start=1):
        strand, length = supply or ("", None)
        out.append(Entry(number, DAY, what, row, strand=strand, length_cm=length))
    return tuple(out)


@pytest.fixture
def folder(tmp_path):
    """A small piece: four rows of 20 stitches, two yarns."""
    (tmp_path / "piece.toml").write_text('format = 1\nname = "small"\n', encoding="utf-8")
    (tmp_path / "chart.csv").write_text(
        "\n".join(["A" * 12 + "B" * 8] * 4) + "\n", encoding="utf-8"
    )
    return tmp_path


# Marking rows


def test_rows_worked_counts_back_and_forth():
    lines = [
        (WORKED, 1),
        (WORKED, 2),
        (UNDONE, 2),
        (WORKED, 2),
        (WORKED, 3),
        (UNDONE, 3),
        (UNDONE, 2),
    ]
    assert [rows_worked(log(*lines[:n])) for n in range(len(lines) + 1)] == [0, 1, 2, 1, 2, 3, 2, 1]


def test_lines_count_by_their_number_not_their_place():
    lines = log((WORKED, 1), (WORKED, 2), (UNDONE, 2))
    assert rows_worked(lines[::-1]) == 1


def test_notes_of_rows_taken_back_are_gone():
    lines = [
        Entry(1, DAY, WORKED, 1, runs="4 A1"),
        Entry(2, DAY, WORKED, 2, runs="4 A1 cut"),
        Entry(3, DAY, UNDONE, 2),
    ]
    assert notes_by_row(lines) == {1: "4 A1"}
    assert notes_by_row([*lines, Entry(4, DAY, WORKED, 2, runs="4 A2")]) == {1: "4 A1", 2: "4 A2"}


TWO_WORKED = [(WORKED, 1), (WORKED, 2)]
REFUSED = {  # log, what is marked, row, what the message names
    "twice": (TWO_WORKED, WORKED, 2, ["Row 2", "already", "row 3"]),
    "an early row twice": (TWO_WORKED, WORKED, 1, ["Row 1", "already", "row 3"]),
    "out of turn": (TWO_WORKED, WORKED, 4, ["Row 4", "row 3", "not marked"]),
    "the first out of turn": ([], WORKED, 2, ["Row 2", "row 1", "not marked"]),
    "past the end": ([(WORKED, n) for n in range(1, 6)], WORKED, 6, ["5 rows", "all are worked"]),
    "back past the start": ([], UNDONE, 1, ["No row", "none to take back"]),
    "row 0 taken back": ([(WORKED, 1), (UNDONE, 1)], UNDONE, 0, ["No row", "none to take back"]),
    "back over a row": (TWO_WORKED, UNDONE, 1, ["last row worked", "row 2"]),
    "a row to come taken back": (TWO_WORKED, UNDONE, 3, ["last row worked", "row 2"]),
}


@pytest.mark.parametrize("name", REFUSED)
def test_marks_that_cannot_be(name):
    before, what, row, named = REFUSED[name]
    with pytest.raises(PlanError) as refused:
        check_mark(log(*before), what, row, 5)
    for word in named:
        assert word in str(refused.value)


def test_marks_that_can_be():
    check_mark(log(), WORKED, 1, 5)
    check_mark(log(*TWO_WORKED), WORKED, 3, 5)
    check_mark(log(*TWO_WORKED), UNDONE, 2, 5)
    check_mark(log(*TWO_WORKED, (UNDONE, 2), (LEFT, 1, "A1", 50.0)), WORKED, 2, 5)


# A log that does not fit


def test_a_log_from_another_piece_is_refused(folder):
    """By its stitches: they are noted with each row."""
    entries = [Entry(1, DAY, WORKED, 1, stitches=60)]
    with pytest.raises(
        PlanError, match="row 1 was worked with 60 stitches, but the chart has 20 stitches there"
    ):
        rows_worked(entries, [20] * 4)
    with pytest.raises(PlanError, match="no such row"):
        rows_worked([Entry(1, DAY, WORKED, 5, stitches=20)], [20] * 4)
    assert rows_worked([Entry(1, DAY, WORKED, 1, stitches=20)], [20] * 4) == 1


def test_a_width_that_has_changed_since(folder):
    """Nothing is lost: the log stays byte for byte, and with the chart put back it is read as
    before."""
    project = open_project(folder)
    log_progress(project, WORKED, 1, runs=note_row(make_plan(project).traced, 1))
    path, kept = folder / "progress.csv", (folder / "progress.csv").read_bytes()
    chart = (folder / "chart.csv").read_text()
    (folder / "chart.csv").write_text("\n".join(["A" * 13 + "B" * 8] * 4) + "\n")
    wider = open_project(folder)
    for attempt in (lambda: make_plan(wider), lambda: log_progress(wider, WORKED, 2)):
        with pytest.raises(PlanError, match="20 stitches, but the chart has 21 stitches"):
            attempt()
    assert path.read_bytes() == kept
    (folder / "chart.csv").write_text(chart)
    assert rows_worked(open_project(folder).progress) == 1


HEADER = "number,date,what,row,stitches,runs,strand,part,length_cm,note\n"
UNREADABLE = {
    "unknown what": (
        HEADER + "1,2025-03-01,row knitted,1,20,,,,,\n",
        ["number 1", "row knitted", "row worked"],
    ),
    "row in words": (HEADER + "1,2025-03-01,row worked,one,20,,,,,\n", ["line 2", "row", "one"]),
    "half a row": (
        HEADER + "1,2025-03-01,row worked,1.5,20,,,,,\n",
        ["line 2", "row", "1.5", "whole number"],
    ),
    "row below 0": (HEADER + "1,2025-03-01,row worked,-1,20,,,,,\n", ["number 1", "-1"]),
    "no row": (HEADER + "1,2025-03-01,row worked,,20,,,,,\n", ["line 2", "row is empty"]),
    "left without a length": (HEADER + "1,2025-03-01,left,1,,,A1,whole,,\n", ["number 1", "A1"]),
    "left below 0": (HEADER + "1,2025-03-01,left,1,,,A1,whole,-5,\n", ["number 1", "A1", "-5"]),
    "a number twice": (
        HEADER + "1,2025-03-01,row worked,1,20,,,,,\n1,2025-03-01,row worked,2,20,,,,,\n",
        ["number 1", "two lines"],
    ),
    "no column for rows": ("number,date,what\n1,2025-03-01,row worked\n", ['no column "row"']),
    "a column of another file": (
        "number,date,what,row,colour\n1,2025-03-01,row worked,1,red\n",
        ['"colour"'],
    ),
    "too many cells": (
        HEADER + "1,2025-03-01,row worked,1,20,12 A1,8 B1,,,,x\n",
        ["line 2", "more cells"],
    ),
    "a quote never closed": (
        HEADER + '1,2025-03-01,row worked,1,20,"12 A1,,,,\n',
        ["cannot be read as CSV"],
    ),
}


@pytest.mark.parametrize("name", UNREADABLE)
def test_unreadable_lines(folder, name):
    """The message names file and place, and the file stays as it was, also when one more line
    should be added."""
    text, named = UNREADABLE[name]
    path = folder / "progress.csv"
    project = open_project(folder)
    path.write_text(text, encoding="utf-8")
    for attempt in (lambda: open_project(folder), lambda: log_progress(project, WORKED, 1)):
        with pytest.raises(PlanError) as refused:
            attempt()
        for word in ["progress.csv", *named]:
            assert word in str(refused.value)
    assert path.read_text(encoding="utf-8") == text


# The file


def test_lines_are_added_and_never_changed(folder):
    project = open_project(folder)
    path, before = folder / "progress.csv", b""
    plan = make_plan(project)
    for what, row, values in (
        (WORKED, 1, {"runs": note_row(plan.traced, 1)}),
        (LEFT, 1, {"strand": "A1", "part": "whole", "length_cm": 70.5, "note": "weighed, 1 g"}),
        (WORKED, 2, {"runs": note_row(plan.traced, 2)}),
        (UNDONE, 2, {}),
        (JOINED, 1, {"strand": "B1", "length_cm": 200.0}),
    ):
        entry = log_progress(project, what, row, **values)
        now = path.read_bytes()
        assert now.startswith(before)
        assert now.count(b"\n") == before.count(b"\n") + (1 if before else 2)
        assert read_progress(folder)[-1] == entry
        before = now
    assert [entry.number for entry in read_progress(folder)] == [1, 2, 3, 4, 5]
    assert [entry.stitches for entry in read_progress(folder)] == [20, 0, 20, 20, 0]
    assert rows_worked(open_project(folder).progress) == 1


def test_a_refused_mark_writes_nothing(folder):
    project = open_project(folder)
    log_progress(project, WORKED, 1, runs=note_row(make_plan(project).traced, 1))
    kept = (folder / "progress.csv").read_bytes()
    for what, row in ((WORKED, 1), (WORKED, 3), (UNDONE, 2)):
        with pytest.raises(PlanError):
            log_progress(project, what, row)
    assert (folder / "progress.csv").read_bytes() == kept


@pytest.mark.parametrize("row", [0, 5, 99])
def test_rows_that_are_not_there_are_refused_in_words(folder, row):
    project = open_project(folder)
    for what in (WORKED, UNDONE):
        with pytest.raises(PlanError):
            log_progress(project, what, row)
    assert not (folder / "progress.csv").exists()


def test_a_piece_without_a_folder_keeps_no_progress():
    with pytest.raises(PlanError, match="no folder"):
        log_progress(Project("piece", Chart.from_rows(["A"])), WORKED, 1)


def test_two_desks_on_one_piece(folder):
    """What one notebook has marked, the other refuses to mark again; when it has read the log, both
    agree."""
    one, other = Desk(open_project(folder)), Desk(open_project(folder))
    log_progress(one.project, WORKED, 1, runs=note_row(one.plan.traced, 1))
    with pytest.raises(PlanError, match="Row 1 is marked as worked already; the next is row 2"):
        log_progress(other.project, WORKED, 1, runs=note_row(other.plan.traced, 1))
    assert len(read_progress(folder)) == 1
    other.read_progress_again()
    log_progress(other.project, WORKED, 2, runs=note_row(other.plan.traced, 2))
    with pytest.raises(PlanError, match="Only the last row worked, row 2"):
        log_progress(one.project, UNDONE, 1)
    one.read_progress_again()
    assert one.project.progress == read_progress(folder)
    assert rows_worked(one.project.progress) == 2
    assert not one.unsaved


# Will it last?


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
    return will_it_last(plan, log(*lines))


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


# Ends


HOW = {
    "flat": Construction(),
    "flat, left-handed": Construction(hand="left", first_row="WS"),
    "garter": Construction(fabric="garter"),
    "rounds": Construction(worked="rounds"),
}


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
    ends, areas, times, last = (
        plan.ends,
        plan.area_of_cell,
        HOW[name].rows_per_chart_row,
        plan.traced.runs.rows,
    )
    assert len(ends) == plan.traced.ends
    for end in ends.itertuples():
        row, column = (end.row - 1) // times, 16 - end.stitch
        assert areas[row, column] == end.area
        way, neighbour, side = re.fullmatch(
            r"(upwards|downwards) along (?:its border with (\w) on the |the )(left|right)(?: edge of the piece)?",
            end.sew_in,
        ).groups()
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
    for area, mine in ends.groupby("area"):
        lines = [
            (end.sew_in.split()[0], end.sew_in.split()[-1], end.row)
            for end in mine.itertuples()
            if "edge of the piece" not in end.sew_in
        ]
        assert len(set(lines)) == len(lines), area
    assert all(a <= b for a, b in pairwise(ends.row))
    assert np.all(ends.sew_after_row == 10)
