"""Two forms on one desk: each shows what the desk holds, and writes only what was touched."""

from dataclasses import replace

import pytest

from planner import CarryLimits, Construction, Gauge, Yarn, open_project
from planner.folder import with_units
from planner.piece import Allowances, Habits, MultiplierChoice, Weighing
from planner.workbook import (
    apply_form,
    ceiling_form,
    construction_form,
    gauge_form,
    lengths_form,
    limits_form,
    tradeoff_form,
    units_form,
    ways_form,
    weighing_form,
    yarns_form,
)
from planner.workbook.labels import label_of
from tests.helpers.forms import box, boxes, by_label, press, said, small

STILL = "The plan still goes by what was set before."
OWN = {"by_yarn": {"A": CarryLimits(1, 5, 2)}}
IN_INCHES = with_units(small().project, "in")
OWN_MULTIPLIER = {"multiplier": MultiplierChoice("own", 3.9)}

# A form; the label of one of its boxes, which of those alike, and what is typed there; a change
# that was made elsewhere in the same settings; and the settings that both of them come to.
TOUCHED = [
    (gauge_form, "rows", 0, 30, {"gauge": Gauge(22, 28)}, {"gauge": Gauge(22, 30)}),
    (
        construction_form,
        "fabric",
        0,
        "garter",
        {"how": Construction(worked="rounds")},
        {"how": Construction(worked="rounds", fabric="garter")},
    ),
    (limits_form, "up", 0, "3", {"limits": CarryLimits(1, 2)}, {"limits": CarryLimits(1, 2, 3)}),
    (limits_form, "up", 1, "3", OWN, {"by_yarn": {"A": CarryLimits(1, 5, 3)}}),
    (
        ways_form,
        "crowded above",
        0,
        20,
        {"habits": Habits(place="train", loose_up_to_cm=111.11)},
        {"habits": Habits(place="train", loose_up_to_cm=111.11, crowded=20)},
    ),
    (
        lengths_form,
        "cast-on",
        0,
        2,
        {"allow": Allowances(tail_cm=12.345)},
        {"allow": Allowances(tail_cm=12.345, cast_on=2)},
    ),
    (
        weighing_form,
        "and up to (rows)",
        0,
        6,
        {"weighing": Weighing(carry_stitches=9)},
        {"weighing": Weighing(carry_stitches=9, carry_rows=6)},
    ),
    (
        weighing_form,
        "duplicate stitch",
        0,
        1.3,
        {"allow": Allowances(tail_cm=12)},
        {"allow": Allowances(tail_cm=12, embroider_factor=1.3)},
    ),
    (
        apply_form,
        "a supply may fall short",
        0,
        50,
        {"allow": Allowances(tail_cm=12)},
        {"allow": Allowances(tail_cm=12, short_once_in=50)},
    ),
    (lengths_form, "your own", 0, 4, OWN_MULTIPLIER, {"multiplier": MultiplierChoice("own", 4)}),
    (
        lengths_form,
        "multiplier",
        0,
        "own",
        {"units": "in"},
        {"multiplier": MultiplierChoice("own", 3.7)},
    ),
    (
        units_form,
        "show",
        0,
        "in",
        {"gauge": Gauge(22, 28)},
        {"units": "in", "allow": IN_INCHES["allow"], "habits": IN_INCHES["habits"]},
    ),
]
NAMES = [f"{case[0].__name__}, {case[1]} {case[2]}" for case in TOUCHED]


@pytest.mark.parametrize(("make", "label", "nth", "typed", "elsewhere", "both"), TOUCHED, ids=NAMES)
def test_only_what_was_touched_is_written(make, label, nth, typed, elsewhere, both):
    desk = small()
    form = make(desk)
    desk.change(**elsewhere)
    before = desk.project
    box(form, label, nth).value = typed
    assert desk.project == replace(before, **both)


@pytest.mark.parametrize(("make", "label", "nth", "typed", "elsewhere", "both"), TOUCHED, ids=NAMES)
def test_two_forms_of_a_kind_follow_each_other(make, label, nth, typed, elsewhere, both):
    desk = small()
    here, there = make(desk), make(desk)
    desk.change(**elsewhere)
    box(here, label, nth).value = typed
    shown = [
        [child.value for child in boxes(form) if hasattr(child, "value") and child.description]
        for form in (here, there)
    ]
    assert shown[0] == shown[1]
    assert typed in shown[1]


def test_a_limit_touched_here_leaves_those_that_were_chosen_elsewhere():
    desk = small()
    limits, tradeoff = limits_form(desk), tradeoff_form(desk)
    slider = by_label(tradeoff)["plan with line"]
    slider.value = slider.max
    assert desk.project.limits == CarryLimits(7, 10, 6)
    assert [box(limits, label).value for label in ("across", "sideways", "up")] == ["7", "10", "6"]
    box(limits, "up").value = "3"
    assert desk.project.limits == CarryLimits(7, 10, 3)


def test_own_limits_chosen_elsewhere_are_shown_and_stay():
    desk = small()
    limits, tradeoff = limits_form(desk), tradeoff_form(desk)
    by_label(tradeoff)["limits of"].value = "A"
    slider = by_label(tradeoff)["plan with line"]
    slider.value = slider.max
    assert box(limits, "this yarn has").value is True
    box(limits, "across", 1).value = "1"
    assert desk.project.by_yarn == {"A": CarryLimits(1, 10, 6)}


REFUSED = [
    (gauge_form, "stitches", 0, 20, "more than 0"),
    (gauge_form, "over", float("nan"), 10, "not a number"),
    (construction_form, "selvedge", 101, 0, "at most 100"),
    (limits_form, "sideways", "2,500 cm", "5", "2.500"),
    (ways_form, "loose strand up to", 2000, 2.75, "A loose strand is the shortest"),
    (ways_form, "wraps go round", -1, 20, "must be 0 or more"),
    (lengths_form, "each tail", float("inf"), 15, "a number"),
    (weighing_form, "mark rows with", 0, 12, "too few"),
    (apply_form, "a supply may fall short", 1, 20, "2 or more"),
]


@pytest.mark.parametrize(
    ("make", "label", "typed", "holds", "why"),
    REFUSED,
    ids=[f"{case[0].__name__}, {case[1]}" for case in REFUSED],
)
def test_what_is_refused_falls_back_and_is_said(make, label, typed, holds, why):
    desk = small()
    form, before = make(desk), desk.project
    box(form, label).value = typed
    assert box(form, label).value == holds
    assert desk.project == before
    assert why in said(form)
    assert STILL in said(form)


def test_a_refused_limit_of_one_yarn_falls_back_to_its_own():
    desk = small(by_yarn={"A": CarryLimits(across=2)})
    form = limits_form(desk)
    box(form, "across", 1).value = "two"
    assert box(form, "across", 1).value == "2"
    assert 'The carry limit "across" is "two"' in said(form)


def test_a_refused_multiplier_falls_back():
    desk = small(multiplier=MultiplierChoice("own", 3.9, 0.2))
    form = lengths_form(desk)
    box(form, "your own multiplier").value = 0.9
    assert box(form, "your own multiplier").value == 3.9
    assert desk.project.multiplier == MultiplierChoice("own", 3.9, 0.2)


def test_a_multiplier_of_ones_own_comes_back_with_its_spread():
    desk = small(multiplier=MultiplierChoice("own", 3.9, 0.2))
    form = lengths_form(desk)
    box(form, "multiplier").value = "rule of three"
    assert box(form, "your own multiplier").disabled
    box(form, "multiplier").value = "own"
    assert desk.project.multiplier == MultiplierChoice("own", 3.9, 0.2)
    box(form, "your own multiplier").value = 4
    assert desk.project.multiplier == MultiplierChoice("own", 4)


def test_looking_at_forms_changes_nothing():
    """Lengths are shown rounded, in yards and inches; only what is typed is written."""
    desk = small(units="in", habits=Habits(loose_up_to_cm=111.11), limits=CarryLimits("0.50 in"))
    before = desk.project
    for make in (gauge_form, limits_form, ways_form, lengths_form, weighing_form, units_form):
        make(desk)
    desk.change(units="cm")
    desk.change(units="in")
    assert desk.project == before


def test_lengths_are_shown_in_the_units_of_the_desk():
    desk = small()
    ways, lengths = ways_form(desk), lengths_form(desk)
    box(units_form(desk), "show").value = "in"
    assert label_of(box(ways, "loose strand")) == "loose strand up to (yd)"
    assert box(ways, "loose strand").value == 3
    assert label_of(box(lengths, "each tail")) == "each tail (in)"
    box(lengths, "each tail").value = 6
    assert desk.project.allow.tail_cm == pytest.approx(15.24)


def test_what_is_typed_stays_as_it_was_typed():
    """A box that says what holds already, in digits of its own, is not written anew."""
    desk = small()
    form = ways_form(desk)
    box(form, "loose strand up to").value = 2.125
    assert desk.project.habits.loose_up_to_cm == 212.5
    assert box(form, "loose strand up to").value == 2.125


# Several counts of the gauge

COUNTED_TWICE = Gauge("20 over 10, 42 over 20", "28 over 10")


def counted_twice(form):
    """A second count of stitches in the form, 42 over 20 cm."""
    press(form, "Another count of stitches")
    box(form, "stitches", 1).value, box(form, "over", 1).value = 42, 20


def test_counts_are_shown_in_another_form():
    desk = small()
    here, there = gauge_form(desk), gauge_form(desk)
    counted_twice(here)
    assert desk.project.gauge == COUNTED_TWICE
    for form in (here, there):
        assert [box(form, "stitches", nth).value for nth in (0, 1)] == [20, 42]
    desk.change(units="in")  # another change leaves the counts alone
    assert box(here, "stitches", 1).value == 42


def test_a_gauge_from_elsewhere_takes_the_place_of_the_counts():
    desk = small()
    here, there = gauge_form(desk), gauge_form(desk)
    counted_twice(here)
    box(there, "stitches").value = 24
    assert box(here, "stitches").value == 24
    desk.change(gauge=Gauge(24, 30))
    for form in (here, there):
        assert box(form, "rows").value == 30
        assert len(boxes(by_label(form)["stitches"])) == 1


def test_a_count_that_is_refused_falls_back_and_leaves_the_others():
    desk = small()
    form = gauge_form(desk)
    counted_twice(form)
    box(form, "over", 1).value = -3
    assert "Please look at this" in said(form)
    assert [box(form, "stitches", nth).value for nth in (0, 1)] == [20, 42]
    assert box(form, "over", 1).value == 20
    assert desk.project.gauge == COUNTED_TWICE


def test_a_line_filled_in_by_half_changes_nothing():
    desk = small(gauge=Gauge(30, 42, 15))
    form = gauge_form(desk)
    press(form, "Another count of rows")
    box(form, "rows", 1).value = 41
    assert desk.project.gauge == Gauge(30, 42, 15)
    assert box(form, "rows", 1).value == 41


# Yarns


def test_a_yarn_changed_elsewhere_is_not_put_down_as_it_was():
    desk = small(yarns={"A": Yarn("A", "Sand")})
    here, there = yarns_form(desk), yarns_form(desk)
    by_label(here)["name"].value = "Dune"
    by_label(there)["balls in hand"].value = 3
    press(there, "Keep this yarn")
    assert by_label(here)["balls in hand"].value == 3
    assert by_label(here)["name"].value == "Dune"  # what is typed stays until it is put down
    press(here, "Keep this yarn")
    assert desk.project.yarns["A"] == Yarn("A", "Dune", balls_in_hand=3)
    assert by_label(there)["name"].value == "Dune"


def test_a_ball_is_shown_in_yards_and_stays_as_it_was_typed():
    """109 yd are 99.6696 m; 85 m are shown as 92.9571 yd and are 85 m after all."""
    desk = small(yarns={"A": Yarn("A", metres_per_ball=85), "B": Yarn("B")})
    form, units = yarns_form(desk), units_form(desk)
    box(units, "show").value = "in"
    band = box(form, "yards in a ball")
    assert band.value == 92.9571
    by_label(form)["name"].value = "Sand"
    press(form, "Keep this yarn")
    assert desk.project.yarns["A"] == Yarn("A", "Sand", metres_per_ball=85)
    band.value = 109
    press(form, "Keep this yarn")
    assert desk.project.yarns["A"].metres_per_ball == pytest.approx(99.6696)
    assert band.value == 109
    band.value = 120  # typed, and not put down before the unit is changed
    box(units, "show").value = "cm"
    assert (band.description[:6], band.value) == ("metres", 109.728)
    press(form, "Keep this yarn")
    assert desk.project.yarns["A"].metres_per_ball == pytest.approx(109.728)


def test_a_ball_in_a_piece_that_is_opened_in_inches():
    form = yarns_form(small(units="in", yarns={"A": Yarn("A", metres_per_ball=100)}))
    assert box(form, "yards in a ball").value == 109.3613


def test_a_length_of_yarn_below_nothing_is_refused_in_the_unit_shown():
    desk = small(units="in")
    form = yarns_form(desk)
    box(form, "yards in a ball").value = -3
    press(form, "Keep this yarn")
    assert "yards in a ball (0: not known) is -3" in said(form)
    lengths = lengths_form(desk)
    box(lengths, "each tail").value = -2
    assert "each tail (in) is -2" in said(lengths)


def test_a_way_under_a_ceiling_is_not_accepted_for_another_plan(desk):
    form = ceiling_form(desk)
    by_label(form)["never more at once than"].value = 8
    press(form, "Find a way")
    assert not by_label(form)["Take all of it"].disabled
    desk.change(limits=CarryLimits(middle_start=False))
    assert by_label(form)["Take all of it"].disabled
    press(form, "Take all of it")  # as a browser that has not heard of it yet would
    assert "Find a way once more" in said(form)
    assert desk.project.choices == open_project(desk.project.folder).choices
