"""Dye lots: which strands of the demo come from which lot, and what cannot be shared."""

from dataclasses import replace

import pytest

from planner import CarryLimits, Chart, PlanError, Project, Yarn, make_plan
from planner.buying.lots import share_lots
from planner.piece import Allowances, OwnChoice
from planner.units import show_total
from tests.helpers.plans import demo, plan_of, random_plan


def test_areas_that_lie_apart_keep_to_one_lot():
    """The cream of the demo, 14.8 m, from two lots of a few metres: no area is of both."""
    share = share_lots([demo()], "W", {"018": 0.1, "019": 0.15})
    assert share.buy == 0
    assert share.proven
    assert share.cost[0] == 0
    assert (share.table.groupby("in_area").lot.nunique() == 1).all()
    assert "Every colour area is worked from one lot" in share.said
    assert (share.table.groupby("lot").length_m.sum() <= [0.1 * 90, 0.15 * 90]).all()


def test_one_area_too_large_for_a_lot():
    """The demo's sky is one area and takes more than a ball: the new lot takes its topmost strand
    alone."""
    share = share_lots([demo()], "N")
    assert (share.buy, share.proven) == (1, True)
    assert share.table.piece[share.table.lot == "a new lot"].tolist() == ["N8"]
    assert "1 ball to buy" in share.said
    assert "1 change of lot within an area" in share.said


def test_a_lot_to_each_sleeve():
    share = share_lots([demo("measured")] * 2, "N", {"041": 1, "057": 1})
    assert share.cost == (0, 0, 2, 1)
    assert share.table.groupby("copy").lot.nunique().tolist() == [1, 1]


def test_lots_are_of_what_is_measured_off_embroidery_included():
    """By hand: B is begun from its middle, 0.25 and 0.20 m (see the totals on paper), and a dot of
    2.2 cm and two tails of 14 cm is embroidered, 0.35 m: 0.80 m in all. A ball of 0.5 m is one
    lot: it holds the half and half, and the dot is of another."""
    dot = OwnChoice("embroider", "B", 3, 10, "whole", "by itself")
    plan = plan_of(
        ["ABAAABABAAA", "AAAABABAAAA", "AAAAABAAAAA"],
        {"B": Yarn("B", metres_per_ball=0.5)},
        by_yarn={"A": CarryLimits(across=1)},
        allow=Allowances(tail_cm=14, cast_on=0, bind_off=0, label_error=0),
        choices=(dot,),
    )
    share = share_lots([plan], "B", {"018": 1, "019": 1})
    columns = ["lot", "piece", "length_m", "from_row", "to_row"]
    assert share.table[columns].astype(object).fillna("").to_numpy().tolist() == [
        ["018", "B1", 0.45, 1, 3],
        ["019", "embroidery B1", 0.35, "", ""],
    ]
    assert "B from 0.5 m of 018 and 0.4 m of 019." in share.said
    needed = plan.shopping_list.set_index("yarn").piece_m["B"]
    assert share.table.length_m.sum() == pytest.approx(needed)


@pytest.mark.parametrize("number", range(6))
@pytest.mark.parametrize("units", ["cm", "in"])
def test_lots_add_up_to_what_the_piece_takes(number, units):
    plan = random_plan(number)
    plan = make_plan(replace(plan.project, units=units))
    for need in plan.needed:
        if need.yarn.metres_per_ball:
            share = share_lots([plan], need.yarn.letter, {"one": 1000})
            unit, unit_cm = ("m", 100) if units == "cm" else ("yd", 91.44)
            assert share.table[f"length_{unit}"].sum() * unit_cm == pytest.approx(
                need.piece_cm, abs=0.006 * unit_cm * len(share.table)
            )
            assert show_total(need.piece_cm, units) in share.said


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: share_lots([demo()], "Q"), ["Q"]),
        (
            lambda: share_lots([make_plan(Project("p", Chart.from_rows(["AA"])))], "A"),
            ["metres_per_ball"],
        ),
    ],
)
def test_lots_that_cannot_be_shared(make, words):
    with pytest.raises(PlanError) as caught:
        make()
    assert [word for word in words if word not in str(caught.value)] == []
