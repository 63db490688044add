"""Casting on all in one yarn, by hand: widths of the first row, two tails, two ends."""

import pytest

from planner import PlanError
from planner.piece import Allowances
from tests.helpers.plans import plan_of

TWO = ["AABB", "AABB"]


def in_one(letter="A", **more):
    return plan_of(TWO, allow=Allowances(cast_on_in=letter, **more))


def test_the_length_that_is_cast_on_with():
    """By hand: four stitches, four widths of each, and two tails of 15 cm."""
    plan = in_one()
    (piece,) = [piece for piece in plan.pieces if piece.label == "cast-on"]
    stitch_cm = float(plan.project.gauge.stitch_cm)
    assert piece.length_cm == pytest.approx(4 * 4 * stitch_cm + 30)
    assert plan.pieces[0] == piece
    # No strand casts on with its own.
    assert {part.cast_on_cm for part in plan.parts} == {0.0}
    in_sections = plan_of(TWO, allow=Allowances())
    assert {part.cast_on_cm for part in in_sections.parts} == {4 * 2 * stitch_cm}


def test_it_is_bought_and_its_ends_are_sewn_in():
    plan, in_sections = in_one(), plan_of(TWO, allow=Allowances())
    assert plan.ends_in_all == in_sections.ends_in_all + 2 == len(plan.ends)
    assert plan.ends.end.tolist().count("cast-on") == 2
    assert plan.winding_list.line.iloc[0].endswith(": cast-on")
    listed = plan.winding_list.set_index("labels").length_m
    assert plan.yarn_cm == pytest.approx(100 * listed.sum())


def test_the_first_row_begins_each_yarn():
    cast_on, (first, _), _ = in_one().all_cards
    assert [str(line) for line in cast_on.lines] == ["  4 A cast-on: cut, tail 15 cm"]
    assert [need.title for need in cast_on.ready] == ["cast-on"]
    assert [need.title for need in first.ready] == ["B1", "A1"]
    assert [line.steps for line in first.lines] == [("new, tail 15 cm",)] * 2


def test_none_where_nothing_is_cast_on():
    plan = in_one(cast_on=0)
    assert plan.all_cards.cast_on is None
    assert not [piece for piece in plan.pieces if piece.label == "cast-on"]


def test_a_yarn_that_is_not_on_the_chart():
    with pytest.raises(PlanError, match='cast on in yarn "Q", which is not on the chart'):
        in_one("Q")
