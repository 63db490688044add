"""Prices, each against a whole plan. Grade of every figure: computed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner import CarryLimits, Chart, Construction, Project, make_plan, open_project
from planner.choices.offers import find_offers
from planner.multiplier import Multiplier
from planner.piece import MultiplierChoice, Weighing
from planner.supplies import Planned
from tests.conftest import DEMO
from tests.helpers.choices import worked_through
from tests.helpers.knitter import draw_chart
from tests.helpers.parts import parts_table


def totals(plan):
    """What a whole plan comes to, as a Price has it, from its tables."""
    traced, allow = plan.traced, plan.project.allow
    parts = parts_table(traced, plan.multipliers, allow)
    return [
        len(plan.strands),
        2 * len(plan.strands) + plan.embroidery.ends.sum(),
        plan.rows.live.max(),
        (plan.rows.live > plan.project.weighing.most_live).sum(),
        plan.strands.middle_start.sum(),
        plan.embroidery.stitches.sum(),
        traced.carried_stitches,
        parts.wound_cm.sum() + 100 * plan.embroidery.length_m.sum(),
    ]


def as_list(price):
    return [getattr(price, name) for name in price.__dataclass_fields__]


def check_prices(project, least):
    """Every offer's price is what the plan with its choices differs by from the plan without."""
    now, offers = make_plan(project), find_offers(project)
    assert {offer.about for offer in offers} >= set(least)
    before = totals(now)
    for offer in offers:
        after = make_plan(replace(project, choices=(*project.choices, *offer.choices)))
        assert after.notes == now.notes
        difference = [a - b for a, b in zip(totals(after), before, strict=True)]
        tables = 0.11 * len(after.embroidery)  # their lengths are rounded to the millimetre
        assert as_list(offer.price)[:-1] == pytest.approx(difference[:-1], abs=1e-4), offer.what
        assert offer.price.yarn_cm == pytest.approx(
            difference[-1], abs=0.6 * len(after.embroidery) + tables + 1e-4
        ), offer.what
    return offers


@pytest.mark.parametrize("way", ["estimate", "measured"])
def test_prices_on_the_demo(way):
    check_prices(
        replace(open_project(DEMO), multiplier=MultiplierChoice(way)),
        ["embroider", "carry", "middle"],
    )


HOW = [
    Construction(),
    Construction(worked="rounds"),
    Construction(fabric="garter"),
    Construction(hand="left", selvedge=1),
]


@pytest.mark.parametrize("number", range(4))
def test_prices_on_random_charts(number):
    rows = draw_chart(number, stitches=14, rows=8, yarns=3, smooth=0.8, holes=number % 3 == 1)
    weighing = Weighing(carry_stitches=9, carry_rows=6, most_live=5)
    limits = CarryLimits(across=number % 2, sideways=2, up=1)
    project = Project(
        "random", Chart.from_rows(rows), how=HOW[number % 4], limits=limits, weighing=weighing
    )
    offers = check_prices(project, ["embroider", "carry"])
    ranks = [offer.price.rank for offer in offers]
    assert ranks == sorted(ranks)
    if number == 0:
        taken = next(offer for offer in offers if offer.about == "embroider")
        check_prices(replace(project, choices=taken.choices), ["carry"])


def test_prices_where_a_strand_begun_from_its_middle_goes_on():
    """One half is carried on to a strand that ends before the other half does."""
    rows = draw_chart(34, stitches=9, rows=5, yarns=3, smooth=0.7)
    weighing = Weighing(carry_stitches=7, carry_rows=6, most_live=4)
    limits = CarryLimits(across=1, sideways=3, up=1)
    project = Project("halves", Chart.from_rows(rows), limits=limits, weighing=weighing)
    check_prices(project, ["carry"])


def test_prices_with_rows_knitted():
    rows = draw_chart(3, stitches=14, rows=10, yarns=3, smooth=0.8)
    project = Project("begun", Chart.from_rows(rows), limits=CarryLimits(0, 2, 1))
    project = replace(project, progress=worked_through(make_plan(project), 5))
    offers = check_prices(project, ["embroider", "carry"])
    assert (
        min(
            choice.row for offer in offers if offer.about == "embroider" for choice in offer.choices
        )
        > 5
    )


@pytest.mark.parametrize("measured", [False, True])
def test_planned_lengths_add_up_as_the_parts_do(measured):
    project = open_project(DEMO)
    project = replace(project, multiplier=MultiplierChoice("measured" if measured else "estimate"))
    plan, allow = make_plan(project), project.allow
    total = Planned(plan.multipliers, allow).wound_cm(plan.traced)
    assert total == pytest.approx(parts_table(plan.traced, plan.multipliers, allow).wound_cm.sum())
    assert Planned({"A": Multiplier(4, 0)}, allow).cm("A", [1, 2, 1]).tolist() == [4, 8, 4]
