"""The log of progress: lines are only added, and what cannot be read is said and left as it is."""

import pytest

from planner import Chart, PlanError, Project, make_plan, open_project
from planner.folder import read_progress
from planner.piece.log import (
    EXCHANGED,
    JOINED,
    LEFT,
    SHORT,
    STOPPED,
    UNDONE,
    WORKED,
    rows_worked,
)
from planner.strands.knitted import note_row
from tests.helpers.folders import marked
from tests.helpers.progress import small_piece


@pytest.fixture
def folder(tmp_path):
    """A small piece: four rows of 20 stitches, two yarns."""
    return small_piece(tmp_path)


# A log that does not fit


def test_a_width_that_has_changed_since(folder):
    """Nothing is lost: the log stays byte for byte, and with the chart put back it is read as
    before."""
    project = open_project(folder)
    marked(project, WORKED, 1, runs=note_row(make_plan(project).traced, 1))
    path = folder / "progress.csv"
    before = path.read_bytes()
    chart = (folder / "chart.csv").read_text()
    wider = open_project(small_piece(folder, ["A" * 13 + "B" * 8] * 4))
    for attempt in (lambda: make_plan(wider), lambda: marked(wider, WORKED, 2)):
        with pytest.raises(PlanError, match="20 stitches, but the chart has 21 stitches"):
            attempt()
    assert path.read_bytes() == before
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
    for attempt in (lambda: open_project(folder), lambda: marked(project, WORKED, 1)):
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
        entry = marked(project, what, row, **values)
        now = path.read_bytes()
        assert now.startswith(before)
        assert now.count(b"\n") == before.count(b"\n") + (1 if before else 2)
        assert read_progress(folder)[-1] == entry
        before = now
    assert [entry.number for entry in read_progress(folder)] == [1, 2, 3, 4, 5]
    assert [entry.stitches for entry in read_progress(folder)] == [20, 0, 20, 20, 0]
    assert rows_worked(open_project(folder).progress) == 1


def test_a_log_of_an_older_version_is_read_and_goes_on(folder):
    """It has no columns for what is noted in mid-row: they are put in, and its lines stay."""
    project = open_project(folder)
    note = note_row(make_plan(project).traced, 1)
    worked = f'1,2025-03-01,row worked,1,20,"{note}",,,,\n'
    left = "2,2025-03-01,left,1,,,A1,whole,70,\n"
    (folder / "progress.csv").write_text(HEADER + worked + left, encoding="utf-8")
    marked(open_project(folder), SHORT, 2, strand="A1", stitch=7, note="a knot")
    log = read_progress(folder)
    assert [(entry.what, entry.row, entry.stitch, entry.other) for entry in log] == [
        (WORKED, 1, 0, ""),
        (LEFT, 1, 0, ""),
        (SHORT, 2, 7, ""),
    ]
    text = (folder / "progress.csv").read_text(encoding="utf-8")
    assert "1,2025-03-01,row worked,1,20," in text
    assert make_plan(open_project(folder)).project.progress == log


def test_a_log_that_a_spreadsheet_has_been_at(folder):
    """Sorted by another column, numbers with a point, empty cells: it is read as it was."""
    marked(open_project(folder), STOPPED, 1, stitch=4, note="tea, then bed")
    marked(open_project(folder), EXCHANGED, 1, strand="A1", other="B1", stitch=4)
    before = read_progress(folder)
    path = folder / "progress.csv"
    header, *lines = path.read_text(encoding="utf-8").splitlines()
    edited = [line.replace(",4,", ",4.0,") for line in lines[::-1]]
    path.write_text("\ufeff" + "\r\n".join([header, *edited]) + "\r\n", encoding="utf-8")
    assert read_progress(folder) == before


def test_a_refused_mark_writes_nothing(folder):
    project = open_project(folder)
    marked(project, WORKED, 1, runs=note_row(make_plan(project).traced, 1))
    before = (folder / "progress.csv").read_bytes()
    for what, row in ((WORKED, 1), (WORKED, 3), (UNDONE, 2), (UNDONE, 0)):
        with pytest.raises(PlanError):
            marked(project, what, row)
    assert (folder / "progress.csv").read_bytes() == before


@pytest.mark.parametrize("row", [0, 5, 99])
def test_rows_that_are_not_there_are_refused_in_words(folder, row):
    project = open_project(folder)
    for what in (WORKED, UNDONE):
        with pytest.raises(PlanError):
            marked(project, what, row)
    assert not (folder / "progress.csv").exists()


def test_a_piece_without_a_folder_keeps_no_progress():
    with pytest.raises(PlanError, match="no folder"):
        marked(Project("piece", Chart.from_rows(["A"])), WORKED, 1)
