"""Dye lots: which strands of the demo come from which lot, and what cannot be shared."""

import pytest

from planner import Chart, PlanError, Project, make_plan
from planner.buying.lots import share_lots
from tests.helpers.plans import demo


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
