"""Offers: each price against a whole plan.

Grade of every figure: computed, unless said otherwise.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

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
from planner.choices.offers import find_offers, offer_table, worth_embroidering
from planner.choices.pricing import Pricing
from planner.piece import Weighing
from tests.conftest import DEMO
from tests.helpers.choices import RING, STRICT, embroider, hang_by_hand, piece
from tests.helpers.knitter import draw_chart

ARGYLE = Path(__file__).parents[1] / "cases" / "pieces" / "argyle"


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


def test_all_areas_of_a_yarn_are_offered_together():
    """By hand: Y parts the ground of row 2 into three, so there are 3 strands of N and 2 of Y, all
    five of them in row 2. With Y embroidered one is left, and two ends for each area of Y."""
    rows = ["N" * 9, "NYNNNYYNN", "N" * 9]
    project = piece(rows)
    together = find_offers(project)[0]
    assert together.what == "embroider both small or thin areas in Y (3 stitches)"
    assert set(together.choices) == {embroider("Y", 2, 8), embroider("Y", 2, 3)}
    change = together.price
    assert (change.strands, change.live, change.embroidered) == (1 - 5, 1 - 5, 1 + 2)
    assert change.ends == (2 * 1 + 2 * 2) - 2 * 5


def test_the_diagonal_lines_of_an_argyle():
    """The net of F is one stitch wide over 196 rows, and two bits of F lie in the corners: with all
    three embroidered 11 hang at once, not 17, and strands have 162 ends, not 168.

    The figures are those of a second computation; 6 ends of the embroidery come on top.
    """
    project = open_project(ARGYLE)
    plan, found = make_plan(project), find_offers(project)
    together = found[0]
    assert together.what == "embroider all 3 small or thin areas in F (991 stitches)"
    assert "more than one needleful" in together.mind
    taken = make_plan(replace(project, choices=together.choices))
    assert (plan.rows.live.max(), taken.rows.live.max()) == (17, 11)
    assert (plan.traced.ends, taken.traced.ends, taken.to_embroider.ends) == (168, 162, 6)
    change = together.price
    assert (change.live, change.strands, change.ends) == (11 - 17, (162 - 168) / 2, 162 + 6 - 168)
    # The net alone does as much for what hangs, but leaves the corners to be knitted.
    net = next(offer for offer in found if "thin lines of 986 stitches" in offer.what)
    assert (net.price.live, net.price.strands) == (-6, -1)


def test_embroidery_stands_beside_the_middle_start_of_a_small_area():
    """By hand: the V of W is begun from its middle in row 2: 2 strands with N, and 3 lengths hang.
    Plainly it takes a strand and two ends more. Embroidered there is only N, and two ends of W."""
    rows = ["N" * 7, "WNNNNNW", "NWNNNWN", "NNWNWNN", "NNNWNNN", "N" * 7]
    across = CarryLimits(across=1)
    project = piece(rows, limits=across, by_yarn={"N": CarryLimits(across=5)})
    found = find_offers(project)
    labels = [offer.strand for offer in found]
    place = labels.index("W1")
    embroidered, plainly = found[place : place + 2]
    assert (embroidered.about, plainly.about) == ("embroider", "middle")
    assert embroidered.what.endswith("instead of beginning W1 from its middle")
    assert plainly.what.startswith("begin W1 plainly, not from its middle")
    assert (embroidered.price.middle_starts, plainly.price.middle_starts) == (-1, -1)
    assert (embroidered.price.strands, embroidered.price.ends) == (1 - 2, (2 + 2) - 4)
    assert (plainly.price.strands, plainly.price.ends) == (3 - 2, 6 - 4)
    assert embroidered.price.embroidered == 7


@pytest.mark.parametrize("number", range(12))
def test_what_is_worth_embroidering_saves_what_it_says(number):
    rows = draw_chart(number, stitches=12, rows=8, yarns=3, smooth=0.9, holes=number % 4 == 1)
    how = Construction(worked="rounds") if number % 2 else Construction()
    project = Project("random", Chart.from_rows(rows), how=how)
    now = Pricing(project).now
    worth = worth_embroidering(Pricing(project))
    assert len({offer.choices[0].yarn for offer in worth}) == len(worth)
    for offer in worth:
        taken = make_plan(replace(project, choices=offer.choices))
        ends = taken.traced.ends + taken.to_embroider.ends
        live = max(hang_by_hand(taken.traced))
        assert offer.price.ends == ends - now.ends <= 0
        assert offer.price.live == live - now.live
        assert ends < now.ends or live < now.live
