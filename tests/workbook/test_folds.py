"""Folds: what they hold is made when they are opened, and their headings follow the plan."""

import ipywidgets as widgets
import pytest

from planner import PlanError
from planner.workbook import Pane, SideBySide, fold
from tests.helpers.forms import said, small


def test_what_a_fold_holds_is_made_once_and_when_it_is_opened():
    made = []

    def make():
        made.append(Pane(value="a secret"))
        return made[-1]

    folded = fold(small(), "More", make)
    assert (made, folded.is_open) == ([], False)
    assert folded.words() == "<b>More</b>"
    for _ in range(3):
        folded.heading.click()
    assert folded.is_open
    assert folded.body.children == tuple(made)
    assert len(made) == 1
    assert "a secret" in folded.words()


def test_a_heading_says_how_things_stand_now():
    desk = small()
    folded = fold(desk, lambda plan: f"Units: {plan.project.units}", Pane)
    assert folded.heading.description == "Units: cm"
    desk.change(units="in")
    assert folded.heading.description == "Units: in"


@pytest.mark.parametrize("error", [PlanError("There is no chart."), KeyError("chart")])
def test_a_fold_that_cannot_be_made_says_why_and_is_tried_anew(error):
    tries = []

    def make():
        tries.append(error)
        if len(tries) == 1:
            raise error
        return widgets.HTML("made")

    folded = fold(small(), "More", make)
    folded.heading.click()
    assert "Please look at this" in said(folded)
    for _ in range(2):
        folded.heading.click()
    assert [child.value for child in folded.body.children] == ["made"]
    assert len(tries) == 2


def test_what_stands_side_by_side_is_kept_one_after_the_other():
    shown = SideBySide([Pane(value="left"), Pane(value="right")])
    assert shown.words() == "left<br>right"
