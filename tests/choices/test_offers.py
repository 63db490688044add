"""Offers: each price against a whole plan.

Grade of every figure: computed, unless said otherwise.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner import (
    Chart,
    PlanError,
    Project,
    make_plan,
    open_project,
)
from planner.choices.offers import find_offers, offer_table, rows_above
from planner.choices.pricing import Pricing
from planner.piece import Weighing
from tests.conftest import DEMO
from tests.helpers.choices import RING, STRICT, embroider, piece


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
    yards = [offer.price.yarn_cm / 91.44 for offer in offers]
    assert table.yarn_yd.tolist() == pytest.approx(yards, abs=0.05 + 1e-9)
    assert table.yarn_yd.tolist() == pytest.approx(table.yarn_yd.round(1).tolist())
    assert offer_table([], "cm").columns.tolist()[:3] == ["about", "what", "strands"]


def test_the_only_area_is_not_offered():
    """There would be nothing left to knit it on."""
    assert find_offers(piece(["YYY"])) == []


def test_of_carries_from_one_run_those_that_lead_nearest():
    """By eye: B may go on to either B of row 3; for each of those it is the nearest."""
    rows = ["ABAAAABAA", "A" * 9, "AAAABBAAA"]
    offers = find_offers(piece(rows, limits=replace(STRICT, up=0)))
    carries = [offer.what for offer in offers if offer.choices[0].yarn == "B"]
    assert [what for what in carries if what.startswith("carry B1")] == [
        "carry B1 on to B3 over 2 stitches and 1 row, row 1 (RS) to row 3 (RS)",
        "carry B1 on to B2 over 3 stitches and 1 row, row 1 (RS) to row 3 (RS)",
    ]
