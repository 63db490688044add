"""Two forms on one desk: each shows what the desk holds, and writes only what was touched."""

from planner import CarryLimits
from planner.workbook import limits_form, tradeoff_form
from tests.helpers.forms import box, by_label, small


def test_a_limit_touched_here_leaves_those_that_were_chosen_elsewhere():
    desk = small()
    limits, tradeoff = limits_form(desk), tradeoff_form(desk)
    slider = by_label(tradeoff)["plan with line"]
    slider.value = len(slider.options) - 1
    assert desk.project.limits == CarryLimits(7, 10, 6)
    box(limits, "up").value = "3"
    assert desk.project.limits == CarryLimits(7, 10, 3)
