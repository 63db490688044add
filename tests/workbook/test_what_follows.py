"""What follows from the plan in notebook 3: map and winding list, tables, the order of strands."""

from dataclasses import replace

import pytest

from planner import CarryLimits, Yarn, make_plan, open_project
from planner.piece import BALL, Allowances, MultiplierChoice, OwnChoice
from planner.units import CM_PER
from planner.workbook import (
    Desk,
    how_much_form,
    how_to_wind,
    lengths_by_strand,
    plan_form,
    strand_order_form,
    what_to_wind,
    winding_table,
)
from planner.workbook.what_follows import (
    how_bought,
    how_long,
    sections_table,
    supplies_by_strand,
    to_mind_html,
    winding_in_full,
)
from tests.conftest import DEMO
from tests.helpers.forms import box, said, small
from tests.helpers.progress import knitted


@pytest.fixture(scope="module")
def demo():
    return make_plan(open_project(DEMO))


# The winding list beside the map


@pytest.mark.parametrize(
    ("strand", "held_as"),
    [
        ("T1", "from the ball"),
        ("N7", "from ball 2 (to be bought)"),
        ("K1 from row 30", "loose strand, measured off its ball then"),
        ("W7", "loose strand, begun 0.30 m from one end"),
        ("Y2, Y5, Y6: each", "loose strand"),
    ],
)
def test_a_line_of_the_winding_list_says_how_it_is_held(demo, strand, held_as):
    table = winding_table(demo).set_index("strand")
    assert table.loc[strand, "held_as"] == held_as


def test_the_winding_list_has_the_lines_and_lengths_of_the_plan(demo):
    """Those of the balls apart; what is cast on with is wanted before the first row."""
    is_fed = demo.winding_list.supply == BALL
    for from_ball in (False, True):
        short, full = (
            winding_table(demo, from_ball=from_ball),
            demo.winding_list[is_fed == from_ball],
        )
        assert short.length.tolist() == [f"{length:.2f} m" for length in full.length_m]
        before = short.before_row.replace("cast-on", "1").astype(int)
        assert before.tolist() == full.first_row.tolist()
        assert short.yarn.tolist() == full.yarn.tolist()


def test_what_comes_next_stands_first_and_what_is_begun_is_folded(demo):
    """With 12 rows worked; what is in the list is what it was, once each."""
    worked = make_plan(replace(demo.project, progress=knitted(demo, 12)))
    begun, next_ = (set(labels_of(winding_table(worked, begun=each))) for each in (True, False))
    assert begun | next_ == set(labels_of(winding_table(worked)))
    assert not begun & next_
    for piece in worked.pieces:
        if piece.label in begun:
            assert piece.ready_row < 12
    shown = what_to_wind(Desk(worked.project, plan=worked)).value
    listed, _, folded = shown.partition("<details><summary>Begun already")
    assert all(label in folded for label in begun)
    first = winding_table(worked, from_ball=False, begun=False).before_row.iloc[0]
    assert int(first) > 12
    assert "cast-on" not in listed
    assert "Begun already" not in what_to_wind(Desk(demo.project, plan=demo)).value


def labels_of(table):
    """The labels of the pieces in a winding list, each by itself."""
    return ", ".join(cell.removesuffix(": each") for cell in table.strand).split(", ")


def test_what_is_measured_and_not_planned_with_is_said(demo):
    desk = Desk(demo.project, plan=demo)
    form = plan_form(desk, desk.words(repr), what_to_wind(desk))
    assert "what you have measured is not planned with yet" in said(form)
    box(how_much_form(desk), "Plan with what was measured").click()
    assert desk.project.multiplier.way == "measured"
    assert "not planned with" not in said(form)


def test_its_labels_are_those_of_the_map(demo):
    """Every strand of the map stands in the list, and nothing else does."""
    labels = set()
    for cell in winding_table(demo).strand:
        names = cell.removesuffix(": each").split(", ")
        labels |= {name.partition(" from row ")[0] for name in names}
    assert labels == set(demo.traced.labels)


def test_rounds_are_called_so():
    desk = small(units="in")
    assert list(winding_table(desk.plan))[3:] == ["length", "before_row"]


def test_the_first_screen_follows():
    desk = small()
    form = plan_form(desk, desk.words(repr), what_to_wind(desk))
    assert "3 strands · 6 ends to sew in · at most 3 hang at once" in said(form)
    desk.change(limits=CarryLimits(across=2))
    assert "2 strands · 4 ends to sew in · at most 2 hang at once" in said(form)
    assert form.words().count("2 strands") == 2


# Tables


def test_columns_that_say_the_usual_in_every_line_are_left_out():
    assert "refills" not in sections_table(small().plan)


def test_halves_are_told_apart(demo):
    strands = supplies_by_strand(demo).strand.tolist()
    assert {"W7a", "W7b"} < set(strands)
    assert "W7" not in strands


@pytest.mark.parametrize(("units", "unit"), [("cm", "m"), ("in", "yd")])
def test_lengths_by_strand(units, unit):
    """Each share of a strand's length in a column, in the units of the piece; they add up. What is
    to be measured off is the sum of the winding list's lines."""
    plan = small(units=units).plan
    table = lengths_by_strand(plan)
    listed_cm = sum(each.piece_cm for each in plan.needed)
    in_all = table[f"to_measure_off_{unit}"].sum() * float(CM_PER[unit])
    assert in_all == pytest.approx(listed_cm)
    shares = ["worked", "carried", "cast_on", "bind_off", "tails", "margin"]
    lengths = [f"{share}_{unit}" for share in [*shares, "wound", "to_measure_off", "rule"]]
    assert list(table) == ["strand", "yarn", "stitches", *lengths]
    total = table[lengths[:6]].sum(axis=1)
    assert total.tolist() == pytest.approx(table[f"wound_{unit}"].tolist(), abs=0.003)


def test_how_to_wind_speaks_of_what_is_held():
    plan = small().plan
    words = how_to_wind(plan)
    held = {piece.supply for piece in plan.pieces}
    assert words.count("<p>") == len(held)
    assert all(f"<b>{kind.capitalize()}.</b>" in words for kind in held)


def test_how_to_wind_speaks_of_what_is_wound_off_a_ball_in_mid_strand(demo):
    """No strand begins on a bobbin that this one ends on."""
    begun = {each.supply for each in demo.held}
    later = {piece.supply for piece in demo.pieces}
    assert later >= begun
    assert how_to_wind(demo).count("<p>") == len(later)


def test_the_full_list_has_weights_only_where_the_bands_tell_them():
    assert winding_in_full(small().plan).weight_g.isna().all()
    yarns = {"A": Yarn("A", metres_per_ball=100, grams_per_ball=50)}
    assert winding_in_full(small(yarns=yarns).plan).weight_g.notna().any()


# Sentences that read figures


def test_how_long_tells_the_rule_of_three_apart():
    """By hand: 24 stitches of 0.5 cm × 3 = 36 cm, and two tails of 15 cm for each of 3 strands."""
    words = how_long(small().plan)
    assert "By the rule of three the strands take 1.3 m" in words
    assert "here it is 3.7, and a margin" in words
    by_rule = small(multiplier=MultiplierChoice("rule of three")).plan
    assert how_long(by_rule) == by_rule.how_sure()


@pytest.mark.parametrize(
    ("allow", "words"),
    [
        (Allowances(), "a swatch of 12 cm in each yarn that takes as much as one and 5 % to spare"),
        (Allowances(swatch_in="no yarn", spare=0), "no swatch and 0 % to spare"),
        (Allowances(swatch_in="the ground yarn"), "a swatch of 12 cm in the ground yarn"),
        (Allowances(label_error=0.07), "7 % shorter than their bands say"),
    ],
)
def test_how_bought(allow, words):
    assert words in how_bought(small(allow=allow).plan)


def test_one_length_is_told_in_one_way(demo):
    """Strand by strand the same as on the list, line by line."""
    on_list = winding_table(demo)
    lengths = {}
    for line in on_list.itertuples():
        for name in line.strand.removesuffix(": each").split(", "):
            lengths.setdefault(name.partition(" ")[0], []).append(line.length)
    by_strand = supplies_by_strand(demo).set_index("strand").length
    for strand, told in lengths.items():
        if strand in by_strand:
            assert by_strand[strand] == " + ".join(told) or len(told) > 1
            assert sorted(by_strand[strand].split(" + ")) == sorted(told)
    halves = [by_strand["W7a"], by_strand["W7b"]]
    assert sum(float(half.split()[0]) for half in halves) == float(lengths["W7"][0].split()[0])


# The order of the strands


def test_strand_order_form():
    desk = small(rows=["AB"] * 40)
    form = strand_order_form(desk)
    assert 'alt="Order of the strands in rows 1 to 14"' in form.words()
    box(form, "from row").value = 27
    assert 'alt="Order of the strands in rows 27 to 40"' in form.words()


def test_the_order_of_the_strands_follows_another_chart():
    """Of 40 rows the last 14 begin with row 27; of 20 with row 7; of 4 there is but one stretch."""
    desk, long = small(rows=["AB"] * 40), small(rows=["AB"] * 40).project.chart
    form = strand_order_form(desk)
    slider = box(form, "from row")
    slider.value = 27
    for rows, first, words in ((20, 7, "rows 7 to 20"), (4, 1, "rows 1 to 4")):
        desk.change(chart=small(rows=["AB"] * rows).project.chart)
        assert (slider.max, slider.value) == (first, first)
        assert words in form.words()
    desk.change(chart=long)
    assert slider.max == 27


def test_the_order_of_another_piece_begins_around_its_fullest_row(demo_copy):
    desk = small(rows=["AB"] * 40)
    form = strand_order_form(desk)
    desk.go_to(demo_copy)
    assert 'alt="Order of the strands in rows 28 to 41"' in form.words()


def test_what_to_mind_before_buying_stands_below_the_shopping_list(demo):
    words = to_mind_html(demo)
    assert words.startswith("<h4>Before you buy</h4><ul><li>N and R beside W and Y: reds")
    assert words.count("<li>") == 2
    assert to_mind_html(small().plan) == ""


def test_what_is_embroidered_stands_on_the_list_and_hangs_in_no_row(demo):
    star = OwnChoice("embroider", "Y", 71, 23, "whole", "by itself")
    table = winding_table(make_plan(replace(demo.project, choices=(star,))))
    line = table[table.held_as == "to embroider"]
    assert len(line) == 1
    assert (line.before_row == "").all()
    assert (table.before_row != "").sum() == len(table) - 1
