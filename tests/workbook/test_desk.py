"""The desk: one open piece, and who is told when it changes."""

import pytest

from planner import Gauge, PlanError, open_project
from planner.folder import log_progress, read_progress
from planner.piece import UNDONE, WORKED, OwnChoice, rows_worked
from planner.strands import note_row
from planner.workbook import open_desk
from planner.workbook.desk import Desk
from tests.helpers.forms import small
from tests.helpers.progress import small_piece


def test_open_desk():
    assert open_desk("harbour-cushion").project.name == "Harbour cushion"
    with pytest.raises(PlanError, match=r'no piece "harbor".*harbour-cushion'):
        open_desk("harbor")


def test_watchers_hear_of_every_change():
    desk, heard = small(), []
    desk.on_change(lambda: heard.append(desk.project.gauge.stitches))
    desk.change(gauge=Gauge(18, 28))
    with pytest.raises(PlanError):
        desk.change(choices=(OwnChoice("supply", "A", 1, 1, "whole", "hat"),))
    desk.change(gauge=Gauge(19, 28))
    assert heard == [18, 19]
    assert desk.project.choices == ()


def test_two_desks_on_one_piece(tmp_path):
    """What one notebook has marked, the other refuses to mark again; when it has read the log, both
    agree."""
    folder = small_piece(tmp_path)
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
