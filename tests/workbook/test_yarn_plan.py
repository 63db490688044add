"""The forms of notebook 3, without a browser."""

from dataclasses import replace
from pathlib import Path

import pytest

from planner import CarryLimits, make_plan, open_project
from planner.folder import read_choices
from planner.piece import Allowances, MultiplierChoice, OwnChoice
from planner.workbook import (
    Desk,
    carrying_form,
    choice_form,
    holding_form,
    how_much_form,
    lengths_form,
    ways_form,
)
from planner.workbook.yarn_plan import embroider_instead, multiplier_asked, supply_choice
from tests.helpers.forms import box, said, small

PIECES = Path(__file__).parents[1] / "cases" / "pieces"


def test_ways_form():
    desk = small(rows=["B" * 5 + "A" * 40] * 20)
    form, pane = ways_form(desk), desk.table(lambda plan: plan.supplies)
    assert "from the ball" in pane.value
    box(form, "where you sit").value = "train"
    assert "bobbin" in pane.value
    box(form, "where you sit").value = "sofa"
    assert desk.plan.supplies.supply.tolist() == ["from the ball"] * 2
    # Where two are more than is comfortable: a bobbin, a ball to whoever would rather not rewind.
    box(form, "comfortable up to").value = 1
    assert desk.plan.supplies.supply[0] == "bobbin"
    box(form, "rewinding").value = False
    assert "from the ball" in pane.value
    box(form, "rewinding").value = True
    box(form, "butterfly up to").value = 26
    assert (desk.project.habits.butterfly_up_to_cm, desk.plan.supplies.supply[0]) == (
        2600,
        "butterfly",
    )
    box(form, "butterfly up to").value = 30
    assert "bobbin the longest" in said(form)
    assert desk.project.habits.butterfly_up_to_cm == 2600
    box(form, "butterfly up to").value = 11
    box(form, "yarn between hand").value = "long"
    assert desk.project.habits.drop == "long"


def test_swatches_are_asked_for_once():
    """200 rows of 40 stitches take more than a swatch of 12 cm; the one stitch in B does not."""
    desk = small(rows=["A" * 39 + "B"] + ["A" * 40] * 199)
    form = lengths_form(desk)
    swatches = {}
    for wanted in box(form, "a swatch is counted in").options:
        box(form, "a swatch is counted in").value = wanted
        assert desk.project.allow.swatch_in == wanted
        swatches[wanted] = (desk.plan.shopping_list.swatch_m > 0).tolist()
    assert swatches == {
        "every yarn": [True, False],
        "the ground yarn": [True, False],
        "no yarn": [False, False],
    }


def test_shares_are_asked_for_in_per_cent():
    desk = small()
    form = lengths_form(desk)
    spare, short = box(form, "to spare"), box(form, "balls may be short by")
    assert (spare.value, short.value) == (5, 10)
    spare.value = 7.5
    assert desk.project.allow.spare == 0.075
    short.value = 60
    assert "share such as 0.10 for 10 %" in said(form)
    assert (desk.project.allow.label_error, short.value) == (0.1, 10)


def test_rows_that_are_knitted_elsewhere():
    desk = small(rows=["A" * 40] * 20)
    form = ways_form(desk)
    elsewhere = box(form, "elsewhere in rows")
    elsewhere.value = "11-20 train"
    assert desk.project.habits.elsewhere == "11-20 train"
    assert desk.plan.supplies.supply.tolist() == ["from the ball, then butterfly"]
    # What cannot be read is said, and what was there before stays.
    elsewhere.value = "in the train"
    assert "write the rows and the place" in said(form)
    assert desk.project.habits.elsewhere == "11-20 train"
    elsewhere.value = ""
    assert desk.project.habits.elsewhere == ""
    assert desk.plan.supplies.supply.tolist() == ["from the ball"]


def test_lengths_form():
    desk = small()
    form, pane = lengths_form(desk), desk.table(lambda plan: plan.strands)
    own = box(form, "your own multiplier")
    assert own.disabled
    box(form, "multiplier").value = "rule of three"
    assert desk.plan.strands.margin_m.tolist() == [0] * 3
    box(form, "multiplier").value = "own"
    own.value = 4
    assert not own.disabled
    assert desk.project.multiplier == MultiplierChoice("own", 4)
    assert desk.plan.multipliers["A"].value == 4
    before = pane.value
    own.value = 0.9
    assert "as short as the row is wide" in said(form)
    assert (desk.plan.multipliers["A"].value, pane.value) == (4, before)
    own.value = 4.2
    box(form, "each tail").value = 10
    box(form, "bind-off").value = 0
    assert desk.project.allow == Allowances(tail_cm=10, bind_off=0)
    assert set(desk.plan.strands.tails_m) == {0.2}
    assert set(desk.plan.strands.bind_off_m) == {0}
    box(form, "a strand may fall short").value = 1
    assert "2 or more" in said(form)
    assert desk.project.allow.short_once_in == 20


@pytest.mark.parametrize(("make", "name", "field", "value"), [
    (ways_form, "habits", "balls on the table", 3),
    (lengths_form, "allow", "cast-on", 3),
])  # fmt: skip
@pytest.mark.parametrize("units", ["cm", "in"])
def test_one_field_changed_is_one_setting_changed(make, name, field, value, units):
    """Lengths shown in inches or yards, rounded, are not written back unless they are typed."""
    desk = small(units=units)
    before = getattr(desk.project, name)
    form = make(desk)
    box(form, field).value = value
    after = getattr(desk.project, name)
    assert after == replace(
        before, **{"balls on the table": {"balls_on_table": 3}, "cast-on": {"cast_on": 3}}[field]
    )


def test_choice_form(demo_copy):
    desk = Desk(open_project(demo_copy))
    form, pane = choice_form(desk), desk.table(lambda plan: plan.supplies)
    before = pane.value
    box(form, "strand").value, box(form, "held as").value = "K1", "from the ball"
    box(form, "Keep this choice").click()
    path = demo_copy / "choices.csv"
    first = desk.plan.strands.set_index("strand").loc["K1"]
    assert read_choices(path) == (
        OwnChoice("supply", "K", first.first_row, first.first_stitch, "whole", "from the ball"),
    )
    assert path.read_text().splitlines()[1].endswith(",from the ball,K1")
    assert desk.plan.supplies.set_index("strand").loc["K1", ["supply", "chosen"]].tolist() == [
        "from the ball",
        "by you",
    ]
    assert "by you" in pane.value
    assert "K1: from the ball" in said(form)
    # There is nothing to keep where what is chosen holds already.
    assert box(form, "Keep this choice").disabled
    box(form, "held as").value = "as suggested"
    assert not box(form, "Take your choice back").disabled
    box(form, "Take your choice back").click()
    assert box(form, "Keep this choice").disabled
    assert len(path.read_text().splitlines()) == 3
    assert read_choices(path) == ()
    assert pane.value == before


def test_choice_form_offers_the_strands_there_are():
    desk = small()
    form = choice_form(desk)
    assert list(box(form, "strand").options) == ["A1", "B1", "A2"]
    desk.change(limits=CarryLimits(across=2))
    assert set(box(form, "strand").options) == set(desk.plan.traced.labels)
    assert len(box(form, "strand").options) == 2
    box(form, "Keep this choice").click()
    assert "no folder" in said(form)


def test_choice_form_shows_what_holds_for_the_strand():
    """Also where it was decided elsewhere, and where another strand is looked at."""
    desk = small()
    form = choice_form(desk)
    assert box(form, "held as").value == "as suggested"
    assert "A1: " in said(form)
    box(form, "strand").value = "B1"
    assert "B1: " in said(form)
    desk.change(choices=(supply_choice(desk.plan.traced, "B1", "bobbin"),))
    assert box(form, "held as").value == "bobbin"
    assert "B1: bobbin (by your own choice)" in said(form)
    box(form, "strand").value = "A2"
    assert box(form, "held as").value == "as suggested"


def test_a_multiplier_typed_for_one_piece_is_not_another_s(demo_copy):
    desk = Desk(open_project(demo_copy))
    desk.change(multiplier=MultiplierChoice("own", 4.2))
    form = lengths_form(desk)
    assert box(form, "your own multiplier").value == 4.2
    desk.go_to(PIECES / "tiny")
    assert box(form, "your own multiplier").value == 3.7


# What the folds hold: beside each form stands what a change has made of the plan


@pytest.mark.parametrize(
    ("make", "field", "value", "change"),
    [
        (carrying_form, "across", "2", "3 → 2 strands"),
        (holding_form, "loose strand up to", 0.1, "3 → 0 loose strands"),
        (how_much_form, "each tail", 20, "m of yarn"),
    ],
)
def test_a_fold_says_what_its_form_has_changed(make, field, value, change):
    desk = small()
    form = make(desk)
    assert "→" not in said(form).split("·")[0]
    box(form, field).value = value
    assert change in said(form)


# The functions behind the forms


@pytest.mark.parametrize(
    ("way", "value", "asked"),
    [
        ("measured", 3.9, MultiplierChoice("measured")),
        ("own", 3.9, MultiplierChoice("own", 3.9, 0.2)),
        ("own", 4, MultiplierChoice("own", 4)),
    ],
)
def test_multiplier_asked(way, value, asked):
    assert multiplier_asked(way, value, MultiplierChoice("own", 3.9, 0.2)) == asked


def test_supply_choice_is_kept_by_its_place():
    """By eye: B begins in row 2, worked from the left, with the fourth stitch from the right."""
    traced = small().plan.traced
    choice = supply_choice(traced, "B1", "bobbin")
    assert choice == OwnChoice("supply", "B", 2, 4, "whole", "bobbin")
    assert supply_choice(traced, "B1", "as suggested").choice == ""


def test_small_areas_worth_embroidering_are_named_beside_the_strands():
    """By hand: 3 strands of N and 2 of Y in row 2; with Y embroidered 1, and 2 ends an area."""
    desk = small(rows=["N" * 9, "NYNNNYYNN", "N" * 9], limits=CarryLimits(middle_start=False))
    worth = (
        "Worth embroidering (see notebook 5):\nboth small or thin areas in Y (3 stitches): 5 → 1 "
        "at once, ends of strands 10 → 2, and 4 of the embroidery"
    )
    assert embroider_instead(desk.plan) == worth
    form = carrying_form(desk)
    assert all(line in said(form) for line in worth.splitlines())
    # A ground that runs behind them leaves nothing worth the work: 2 strands, 2 areas.
    desk.change(by_yarn={"N": CarryLimits(across=2), "Y": CarryLimits(across=3)})
    assert embroider_instead(desk.plan) == ""
    assert "embroidering" not in said(form)


def test_diagonal_lines_worth_embroidering():
    """The figures of a second computation."""
    argyle = open_project(PIECES / "argyle")
    assert embroider_instead(make_plan(argyle)) == (
        "Worth embroidering (see notebook 5):\nall 3 small or thin areas in F (991 stitches): "
        "17 → 11 at once, ends of strands 168 → 162, and 6 of the embroidery (mind: more than one "
        "needleful, each with two ends not counted here)"
    )
