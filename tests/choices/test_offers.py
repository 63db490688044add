"""Offers: each price against a whole plan.

Grade of every figure: computed, unless said otherwise.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner import (
    CarryLimits,
    Chart,
    Construction,
    PlanError,
    Project,
    make_plan,
    open_project,
)
from planner.choices.offers import find_offers, offer_table, rows_above
from planner.choices.pricing import Pricing
from planner.piece import MultiplierChoice, Weighing
from planner.supplies import measure_parts
from tests.conftest import DEMO
from tests.helpers.choices import RING, STRICT, embroider, worked_through
from tests.helpers.knitter import draw_chart


def totals(plan):
    """What a whole plan comes to, as a Price has it, from its tables."""
    traced, allow = plan.traced, plan.project.allow
    parts = measure_parts(traced, plan.multipliers, allow)
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


def test_what_is_refused_is_not_offered_again():
    project = open_project(DEMO)
    offers = find_offers(project)
    for about in ("embroider", "carry", "middle"):
        offer = next(offer for offer in offers if offer.about == about and len(offer.choices) == 1)
        without = find_offers(replace(project, choices=offer.refusal))
        assert offer.choices in [other.choices for other in offers]
        assert not any(set(offer.choices) & set(other.choices) for other in without)
        assert Pricing(replace(project, choices=offer.refusal)).now == Pricing(project).now


def test_motifs_alike_are_offered_together():
    """Four single stitches of Y on N: each saves the split of N and the strand of Y.

    So do all four at once.
    """
    rows = ["N" * 15] * 2 + ["N".join(["NYN"] * 4)] + ["N" * 15] * 2
    offers = find_offers(Project("dots", Chart.from_rows(rows), limits=STRICT))
    together = next(offer for offer in offers if len(offer.choices) == 4)
    assert together == offers[0]
    assert together.what == "embroider 4 × a single stitch in Y"
    assert (together.price.strands, together.price.embroidered) == (-8, 4)
    assert sum(len(offer.choices) == 1 for offer in offers if offer.about == "embroider") == 4


def test_sizes_offered_can_be_set():
    rows = ["N" * 12] * 2 + ["NNNNYYYYNNNN"] * 4 + ["N" * 12] * 2
    dot = Project("dot", Chart.from_rows(rows), limits=STRICT)
    assert [offer for offer in find_offers(dot) if offer.about == "embroider"] == []
    for weighing in (Weighing(embroider_stitches=16), Weighing(embroider_wide=4)):
        assert [
            o.price.embroidered
            for o in find_offers(replace(dot, weighing=weighing))
            if o.about == "embroider"
        ] == [16]
    with pytest.raises(PlanError, match="whole number"):
        Weighing(carry_rows=1.5)
    with pytest.raises(PlanError, match="too few"):
        Weighing(most_live=0)


def test_the_middle_of_the_ring_is_an_offer():
    """Embroidering the inner 3 × 5 saves two of five strands for 15 stitches.

    Published chart, see test_embroidery.
    """
    ring = Project(
        "ring",
        Chart.from_rows(RING),
        limits=replace(STRICT, sideways=3),
        weighing=Weighing(embroider_stitches=15),
    )
    [offer] = [
        offer
        for offer in find_offers(ring)
        if offer.about == "embroider" and offer.choices[0].yarn == "B"
    ]
    assert offer.choices == (embroider("B", 8, 5),)
    assert (offer.price.strands, offer.price.embroidered) == (-2, 15)


def test_rows_above_the_ceiling():
    plan = make_plan(open_project(DEMO))
    table = rows_above(plan.traced, 6)
    listed = [
        row for first, last, *_ in table.itertuples(index=False) for row in range(first, last + 1)
    ]
    assert listed == plan.rows.row[plan.rows.live > 6].tolist()
    assert (table.too_many == table.live - 6).all()
    assert rows_above(plan.traced, 99).empty


def test_offer_table():
    offers = find_offers(open_project(DEMO))
    table = offer_table(offers, "in")
    assert table.yarn_yd.tolist() == [round(offer.price.yarn_cm / 91.44, 2) for offer in offers]
    assert offer_table([], "cm").columns.tolist()[:3] == ["about", "what", "strands"]
