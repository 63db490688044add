"""The desk: one open piece, and who is told when it changes."""

import pytest

from planner import Gauge, PlanError, open_project
from planner.folder import read_progress
from planner.piece import OwnChoice, rows_worked
from planner.workbook import Desk, open_desk
from tests.helpers.forms import small, work_rows
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
    """What one notebook has marked, the other does not mark again: it shows it, and says it."""
    folder = small_piece(tmp_path)
    one, other = Desk(open_project(folder)), Desk(open_project(folder))
    work_rows(one)
    with pytest.raises(PlanError, match=r"row 1 worked\. Look at the card again"):
        work_rows(other)
    assert len(read_progress(folder)) == 1
    work_rows(other)
    with pytest.raises(PlanError, match=r"row 2 worked\. Look at the card again"):
        work_rows(one, -1)
    assert one.project.progress == other.project.progress == read_progress(folder)
    assert rows_worked(one.project.progress) == 2
