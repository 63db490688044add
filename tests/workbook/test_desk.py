"""The desk: one open piece, and who is told when it changes."""

import pytest

from planner import Gauge, PlanError
from planner.piece import OwnChoice
from planner.workbook import open_desk
from tests.helpers.forms import small


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
