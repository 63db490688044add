"""The forms of notebook 3, without a browser."""

from dataclasses import replace
from pathlib import Path

import pytest

from planner import CarryLimits, make_plan, open_project
from planner.folder import read_choices
from planner.piece import Allowances, MultiplierChoice, OwnChoice
from planner.workbook import (
    Desk,
    choice_form,
    how_to_wind,
    lengths_by_strand,
    lengths_form,
    strand_order_form,
    strands_in_words,
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


def test_strand_order_form():
    desk = small(rows=["AB"] * 40)
    form = strand_order_form(desk)
    before = form.words()
    assert 'alt="Order of the strands in rows 1 to 14"' in before
    box(form, "from row").value = 27
    assert 'alt="Order of the strands in rows 27 to 40"' in form.words()


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
    box(form, "held as").value = "as suggested"
    box(form, "Keep this choice").click()
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


@pytest.mark.parametrize(("units", "unit"), [("cm", "m"), ("in", "yd")])
def test_lengths_by_strand(units, unit):
    """Each share of a strand's length in a column, in the units of the piece; they add up."""
    table = lengths_by_strand(small(units=units).plan)
    shares = ["worked", "carried", "cast_on", "bind_off", "tails", "margin"]
    lengths = [f"{share}_{unit}" for share in [*shares, "wound", "rule"]]
    assert list(table) == ["strand", "first_row", "stitches", *lengths]
    total = table[lengths[:6]].sum(axis=1)
    assert total.tolist() == pytest.approx(table[f"wound_{unit}"].tolist(), abs=0.003)


def test_how_to_wind_speaks_of_what_is_held():
    words = how_to_wind(small().plan)
    held = set(small().plan.supplies.supply)
    assert words.count("<p>") == len(held)
    assert all(f"<b>{kind.capitalize()}.</b>" in words for kind in held)


def test_small_areas_worth_embroidering_are_named_beside_the_strands():
    """By hand: 3 strands of N and 2 of Y in row 2; with Y embroidered 1, and 2 ends an area."""
    desk = small(rows=["N" * 9, "NYNNNYYNN", "N" * 9], limits=CarryLimits(middle_start=False))
    worth = (
        "Worth embroidering: both small or thin areas in Y (3 stitches): 5 → 1 at once, ends of "
        "strands 10 → 2, and 4 of the embroidery. See notebook 5."
    )
    assert embroider_instead(desk.plan) == worth
    pane = desk.pane(strands_in_words)
    assert "5 strands" in pane.value
    assert worth in pane.value
    # A ground that runs behind them leaves nothing worth the work: 2 strands, 2 areas.
    desk.change(by_yarn={"N": CarryLimits(across=2), "Y": CarryLimits(across=3)})
    assert embroider_instead(desk.plan) == ""
    assert pane.value == repr(desk.plan.traced)


def test_diagonal_lines_worth_embroidering():
    """The figures of a second computation."""
    argyle = open_project(PIECES / "argyle")
    assert embroider_instead(make_plan(argyle)) == (
        "Worth embroidering: all 3 small or thin areas in F (991 stitches): 17 → 11 at once, ends "
        "of strands 168 → 162, and 6 of the embroidery (mind: more than one needleful, each with "
        "two ends not counted here). See notebook 5."
    )
