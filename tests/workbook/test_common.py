"""The forms of several notebooks: the gauge, limits and units, without a browser."""

from dataclasses import replace

import ipywidgets as widgets
import pytest

from planner import CarryLimits, Gauge, PlanError, Yarn, open_project
from planner.workbook import (
    Desk,
    gauge_form,
    lengths_form,
    limits_form,
    units_form,
    ways_form,
)
from planner.workbook.common import (
    gauge_in_words,
    gauge_of_counts,
    letter_of,
    limits_of,
    metres_per_gram,
    with_own_limits,
)
from planner.workbook.labels import unit_of
from tests.helpers.folders import contents
from tests.helpers.forms import box, boxes, said, small

# The gauge


def test_a_changed_gauge_changes_the_winding_list():
    """By eye: 4 stitches of B, 2 cm × 3.7, two tails and a margin of 2.5 to 4 cm: 40 to 41 cm.

    At 10 stitches to 10 cm it is 48 to 50.
    """
    desk = small()
    form, pane = gauge_form(desk), desk.table(lambda plan: plan.winding_list)
    assert "1 × B, 0.45 m: B1" in pane.value
    box(form, "stitches").value = 10
    assert desk.project.gauge == Gauge(10, 28)
    assert "1 × B, 0.50 m: B1" in pane.value
    assert "A stitch is 10.00 mm wide" in said(form)


def test_gauge_over_another_length_and_in_inches():
    desk = small()
    form = gauge_form(desk)
    box(form, "lengths measured in").value = "in"
    for over in (0, 1):
        box(form, "over", over).value = 4
    assert desk.project.gauge == Gauge(20, 28, 4, "in")
    # 6 stitches of 1/5 in, 4 rows of 1/7 in; the sentence is in the units of the piece.
    assert "The chart comes out 3.0 × 1.5 cm" in said(form)
    box(units_form(desk), "show").value = "in"
    assert "A stitch is 0.2 in wide and a row 0.143 in high" in said(form)
    assert "The chart comes out 1.2 × 0.6 in" in said(form)


def test_another_unit_leaves_the_gauge_as_it_was_counted():
    """10 cm are shown as 3.937 in and stay 10 cm, also when a count beside them is changed."""
    desk = small()
    form = gauge_form(desk)
    box(form, "lengths measured in").value = "in"
    assert [box(form, "over", nth).value for nth in (0, 1)] == [3.937, 3.937]
    assert desk.project.gauge == Gauge(20, 28)
    box(form, "stitches").value = 21
    assert desk.project.gauge == Gauge(21, 28)
    box(form, "lengths measured in").value = "cm"
    assert [box(form, "over", nth).value for nth in (0, 1)] == [10, 10]
    assert desk.project.gauge == Gauge(21, 28)


def test_counts_are_there_after_the_folder_is_opened_again(demo_copy):
    desk = Desk(open_project(demo_copy))
    form = gauge_form(desk)
    box(form, "lengths measured in").value = "in"
    box(form, "Another count of stitches").click()
    typed = [("stitches", 0, 33, 6), ("stitches", 1, 34, 6), ("rows", 0, 22.5, 3)]
    for what, nth, count, over in typed:
        box(form, what, nth).value = count
        box(form, "over", nth if what == "stitches" else 2).value = over
    assert str(desk.project.gauge) == "33 and 34 stitches over 6 in, 22.5 rows over 3 in"
    again = gauge_form(Desk(open_project(demo_copy)))
    assert box(again, "lengths measured in").value == "in"
    for what, nth, count, over in typed:
        assert box(again, what, nth).value == count
        assert box(again, "over", nth if what == "stitches" else 2).value == over


def test_several_counts_are_kept():
    """50 st × 100 rows measured three times: 3.09 stitches and 3.91 rows to the cm.

    Published, practitioner page.
    """
    desk = small()
    form = gauge_form(desk)
    measured = {
        "stitches": [(50, 15.7), (50, 16.1), (50, 16.8)],
        "rows": [(100, 25.7), (100, 25.9), (100, 25.2)],
    }
    for what, pairs in measured.items():
        for _ in pairs[1:]:
            box(form, f"Another count of {what}").click()
    lines = [line for line in boxes(form, widgets.HBox) if "plan-count" in line._dom_classes]
    for line, (count, over) in zip(lines, measured["stitches"] + measured["rows"], strict=True):
        line.children[0].value, line.children[1].value = count, over
    assert desk.project.gauge.stitches == "50 over 15.7, 50 over 16.1, 50 over 16.8"
    assert float(desk.project.gauge.stitches_per_cm) == pytest.approx(3.09, abs=0.005)
    assert float(desk.project.gauge.rows_per_cm) == pytest.approx(3.91, abs=0.005)


@pytest.mark.parametrize("what", ["stitches", "rows"])
@pytest.mark.parametrize("value", [0, -20, float("nan"), 0.00001])
def test_a_bad_gauge_is_said_and_leaves_the_plan(what, value):
    desk = small()
    form, pane = gauge_form(desk), desk.table(lambda plan: plan.winding_list)
    before = desk.project, desk.plan, pane.value
    box(form, what).value = value
    assert (desk.project, desk.plan, pane.value) == before
    assert "Please look at this: " in said(form)
    assert what in said(form)
    box(form, what).value = 24
    assert "Please look at this" not in said(form)
    assert getattr(desk.project.gauge, what) == 24


# Limits and units


def test_limits_form():
    """By eye: the ground may go across behind the patch of two, then one strand of A does."""
    desk = small()
    form, pane = limits_form(desk), desk.words(repr)
    assert desk.plan.traced.count == 3
    box(form, "across").value = "2"
    assert desk.plan.traced.count == 2
    assert "2 strands" in pane.value
    box(form, "across").value = "0.5 in"
    assert desk.project.limits.across == "0.5 in"
    assert desk.plan.traced.count == 2
    for bad in ("two", "-1", "2,500 cm", ""):
        box(form, "across").value = bad
        assert "Please look at this" in said(form), bad
        assert desk.project.limits.across == "0.5 in"
    box(form, "across").value = "0"
    assert "Please look at this" not in said(form)
    assert desk.plan.traced.count == 3


def test_limits_of_one_yarn():
    desk = small()
    form = limits_form(desk)
    which, own, across = (
        box(form, "yarn"),
        box(form, "this yarn has"),
        box(form, "across", 1),
    )
    assert (which.value, own.value, across.disabled) == ("A", False, True)
    own.value = True
    across.value = "2"
    assert not across.disabled
    assert desk.project.by_yarn == {"A": CarryLimits(across=2, middle_start=False)}
    assert desk.plan.traced.count == 2
    which.value = "B"
    assert (own.value, across.value) == (False, "0")
    assert desk.project.by_yarn == {
        "A": CarryLimits(across=2, middle_start=False)
    }  # looking changes nothing
    which.value = "A"
    assert (own.value, float(across.value)) == (True, 2)
    own.value = False
    assert desk.project.by_yarn == {}


def test_units_form():
    desk = small()
    form, pane = units_form(desk), desk.table(lambda plan: plan.winding_list)
    assert "length (m)" in pane.value
    box(form, "show").value = "in"
    assert "length (in)" in pane.value
    assert "length (m)" not in pane.value
    assert "what you chose yourself is as it was" in said(form)


def test_usual_lengths_follow_the_unit_and_others_stay():
    """15 cm become 6 in and 15 cm again; 14 cm are 14 cm all the time."""
    desk = small()
    form, lengths, ways = units_form(desk), lengths_form(desk), ways_form(desk)
    desk.change(habits=replace(desk.project.habits, butterfly_up_to_cm=1200))
    before = desk.project
    box(form, "show").value = "in"
    assert box(lengths, "each tail").value == 6
    assert box(lengths, "side of a swatch").value == 5
    labels = ("loose strand", "butterfly", "bobbin", "wraps go")
    assert [box(ways, label).value for label in labels] == [3, 13.12, 30, 8]
    assert desk.project.habits.butterfly_up_to_cm == 1200
    box(lengths, "each tail").value = 7
    box(form, "show").value = "cm"
    assert desk.project == replace(before, allow=replace(before.allow, tail_cm=17.78))


def test_limits_are_shown_in_the_units_of_the_piece():
    desk = small(limits=CarryLimits("2.5 cm", middle_start=False))
    form = limits_form(desk)
    desk.change(units="in")
    assert box(form, "across").value == "0.984 in"
    assert "such as 1 in" in said(form)
    box(form, "sideways").value = "1 in"
    assert (desk.project.limits.across, desk.project.limits.sideways) == ("2.5 cm", "1 in")
    desk.change(units="cm")
    assert (box(form, "across").value, box(form, "sideways").value) == ("2.5 cm", "2.54 cm")
    assert desk.project.limits.sideways == "1 in"


def test_behind_a_bare_number_stands_what_it_counts():
    desk = small(limits=CarryLimits("2.5 cm"))
    form = limits_form(desk)
    assert [unit_of(box(form, name)) for name in ("across", "up")] == ["", "rows"]
    box(form, "across").value = "2"
    assert unit_of(box(form, "across")) == "stitches"


def test_a_yarn_with_limits_of_its_own_is_looked_at_first():
    desk = small(by_yarn={"B": CarryLimits(2)})
    assert box(limits_form(desk), "yarn").value == "B"


# Kept as it is made


def test_a_field_that_is_left_is_kept(demo_copy):
    desk = Desk(open_project(demo_copy))
    form = gauge_form(desk)
    box(form, "stitches").value = 21
    assert "stitches = 21" in (demo_copy / "piece.toml").read_text()
    assert open_project(demo_copy) == desk.project
    before = contents(demo_copy)
    box(form, "stitches").value = -3
    assert "more than 0" in said(form)
    assert box(form, "stitches").value == 21
    assert contents(demo_copy) == before


# The functions behind the forms


@pytest.mark.parametrize(
    ("stitches", "rows", "gauge"),
    [
        ([(30, 15)], [(42, 15)], Gauge(30, 42, 15)),  # taken as it was counted
        ([(30, 15)], [(28, 10)], Gauge("30 over 15", "28 over 10")),
        ([(30, 15), (21, 10)], [(28, 10)], Gauge("30 over 15, 21 over 10", "28 over 10")),
        ([(30, 15), (21, 0)], [(42, 15), (0, 10)], Gauge(30, 42, 15)),  # filled in by half
    ],
)
def test_gauge_of_counts(stitches, rows, gauge):
    assert gauge_of_counts(stitches, rows, "cm") == gauge


@pytest.mark.parametrize("counts", [[(0, 10)], [(0, 10), (20, 0)]])
def test_no_gauge_without_a_count(counts):
    with pytest.raises(PlanError, match=r"stitches|width"):
        gauge_of_counts(counts, [(28, 10)], "cm")


def test_gauge_in_words():
    """6 stitches of 5 mm, 4 rows of 10 ÷ 28 cm."""
    words = gauge_in_words(small().plan)
    sizes = "A stitch is 5.00 mm wide and a row 3.57 mm high. The chart comes out 3.0 × 1.4 cm."
    assert words == sizes


def test_own_limits_given_and_taken():
    own, project = CarryLimits(1), small().project
    given = replace(project, **with_own_limits(project, "A", own))
    assert (limits_of(given, "A"), limits_of(given, "B")) == (own, project.limits)
    assert with_own_limits(given, "A", None) == {"by_yarn": {}}


def test_what_a_label_and_a_band_say():
    traced = small().plan.traced
    assert [letter_of(traced, strand) for strand in traced.labels] == ["A", "B", "A"]
    assert metres_per_gram(Yarn("A", metres_per_ball=85, grams_per_ball=50)) == 1.7
    assert metres_per_gram(Yarn("A", metres_per_ball=85)) is None
