"""Limits by their price: the slider, the curve, and what is read from them."""

from planner import CarryLimits, open_project
from planner.workbook import tradeoff_form
from tests.helpers.folders import contents
from tests.helpers.forms import by_label, said, said_html


def test_the_slider_plans_with_a_rung_and_the_curve_follows(desk):
    form = tradeoff_form(desk)
    slider = by_label(form)["plan with line"]
    before = desk.plan.traced.count
    slider.value = slider.max
    assert desk.plan.traced.count < before
    assert desk.project.limits == CarryLimits(7, 10, 6)
    assert "planned so" in said(form)
    assert slider.value == slider.max  # the plan now
    assert open_project(desk.project.folder).limits == CarryLimits(7, 10, 6)


def test_the_limits_of_one_yarn_alone(desk):
    form = tradeoff_form(desk)
    general, before = desk.project.limits, desk.plan.traced.count
    by_label(form)["limits of"].value = "N"
    slider = by_label(form)["plan with line"]
    slider.value += 1
    assert desk.project.limits == general
    assert desk.project.by_yarn["N"] == CarryLimits(2, 5, 3)
    assert desk.plan.traced.count == before - 3  # behind the wings of the gulls
    assert "limits of yarn N" in said_html(form)  # the words of the picture


def test_looking_at_the_tradeoff_changes_nothing(desk):
    form = tradeoff_form(desk)
    before = contents(desk.project.folder)
    for letter in ("K", "T", "yarns without own limits"):
        by_label(form)["limits of"].value = letter
    assert contents(desk.project.folder) == before


def test_limits_of_their_own_are_said(desk):
    assert "N: limits of its own, left as they are" in said(tradeoff_form(desk))


def test_the_steps_that_save_are_told(desk):
    """As the table has it: line 3 is the first that lets a colour move, 162 → 74 ends."""
    words = said(tradeoff_form(desk))
    assert "The step that saves most is from line 2 to line 3: 162 → 74 ends." in words
    assert "N 6 ends for 18 stitches carried" in words
    assert "It saves no end for K, R, T, Y." in words
