"""Prices, each against a whole plan. Grade of every figure: computed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner import CarryLimits, Chart, Construction, Gauge, Project, make_plan, open_project
from planner.choices import NO_SOURCE
from planner.choices.offers import find_offers
from planner.choices.pricing import Pricing
from planner.multiplier import Multiplier
from planner.piece import Allowances, MultiplierChoice, Weighing
from planner.supplies import Planned
from tests.conftest import DEMO
from tests.helpers.choices import hang_by_hand, worked_through
from tests.helpers.knitter import draw_chart
from tests.helpers.parts import measured_cm, parts_table


def totals(plan):
    """What a whole plan comes to, as a Price has it: yarn as it is measured off, part by part."""
    traced, allow, units = plan.traced, plan.project.allow, plan.project.units
    parts = parts_table(traced, plan.multipliers, allow)
    live = hang_by_hand(traced)
    return [
        len(plan.strands),
        2 * len(plan.strands) + plan.embroidery.ends.sum(),
        max(live),
        sum(hang > plan.project.weighing.most_live for hang in live),
        plan.strands.middle_start.sum(),
        plan.embroidery.stitches.sum(),
        traced.carried_stitches,
        sum(measured_cm(cm, units) for cm in [*parts.wound_cm, *plan.to_embroider.length_cm]),
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
        # The plan says the same, and what is to be minded in embroidering.
        # What rounds cost is told with figures, which are others then.
        notes = [note for note in after.notes if not note.startswith("In rounds")]
        added = [note for note in notes if note not in now.notes]
        assert {note for note in now.notes if not note.startswith("In rounds")} <= set(notes)
        assert all(NO_SOURCE in note for note in added)
        difference = [a - b for a, b in zip(totals(after), before, strict=True)]
        assert as_list(offer.price) == pytest.approx(difference, abs=1e-4), offer.what
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
    Construction(worked="turned"),
]


@pytest.mark.parametrize("number", range(5))
def test_prices_on_random_charts(number):
    rows = draw_chart(number, stitches=14, rows=8, yarns=3, smooth=0.8, holes=number % 3 == 1)
    weighing = Weighing(carry_stitches=9, carry_rows=6, most_live=5)
    limits = CarryLimits(across=number % 2, sideways=2, up=1)
    project = Project(
        "random", Chart.from_rows(rows), how=HOW[number % 5], limits=limits, weighing=weighing
    )
    offers = check_prices(project, ["embroider", "carry"])
    # A plain beginning stands beside the embroidery that does without the middle start as well.
    ranks = [offer.price.rank for offer in offers if offer.about != "middle"]
    assert ranks == sorted(ranks)
    if number == 0:
        taken = next(offer for offer in offers if offer.about == "embroider")
        check_prices(replace(project, choices=taken.choices), ["carry"])


@pytest.mark.parametrize("number", range(20))
def test_every_offer_of_a_small_chart_is_true_to_the_letter(number):
    """Thin lines and specks on a ground, some begun from their middle: whatever is taken, the plan
    comes to what was said."""
    rows = draw_chart(number, stitches=10, rows=7, yarns=2 + number % 2, smooth=0.9)
    limits = CarryLimits(across=number % 3, sideways=3, up=number % 2)
    project = Project("small", Chart.from_rows(rows), how=HOW[number % 4], limits=limits)
    check_prices(project, [])


def rows_above(live, most):
    return sum(hang > most for hang in live)


def test_what_hangs_with_a_carry_row_by_row():
    """Each carry offered against the plan that has it, counted above every ceiling in turn, so that
    each row is compared; some of them go on from a half of a length begun from its middle."""
    from_a_half = 0
    for number in range(8):
        rows = draw_chart(number, stitches=14, rows=9, yarns=3, smooth=0.6, holes=number % 3 == 1)
        weighing = Weighing(0, 0, carry_stitches=9, carry_rows=6)
        limits, how = CarryLimits(across=number % 3, sideways=3, up=1), HOW[number % 4]
        project = Project("random", Chart.from_rows(rows), how=how, limits=limits)
        plan = make_plan(project)
        if number % 2:
            project = replace(project, progress=worked_through(plan, 4))
        now = hang_by_hand(plan.traced)
        # What hangs with each carry is the same whatever the ceiling.
        with_carry = {}
        for most in range(1, max(now) + 1):
            under = replace(project, weighing=replace(weighing, most_live=most))
            for offer in (offer for offer in find_offers(under) if offer.about == "carry"):
                if offer.what not in with_carry:
                    joined = make_plan(replace(under, choices=offer.choices)).traced
                    with_carry[offer.what] = hang_by_hand(joined)
                    goes_on = plan.traced.labels.index(offer.what.split()[1])
                    from_a_half += plan.traced.has_middle[goes_on]
                difference = rows_above(with_carry[offer.what], most) - rows_above(now, most)
                assert offer.price.rows_above == difference, (number, offer.what)
    assert from_a_half >= 5


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
    parts = parts_table(plan.traced, plan.multipliers, allow)
    for units in ("cm", "in"):
        total = Planned(plan.multipliers, allow).measured_by_half(plan.traced, units).sum()
        assert total == pytest.approx(sum(measured_cm(cm, units) for cm in parts.wound_cm))
    assert Planned({"A": Multiplier(4, 0)}, allow).cm("A", [1, 2, 1]).tolist() == [4, 8, 4]


def test_prices_in_yards():
    """Of the demo in yards, and of a chart that is halves nearly all; no refills in either."""
    project = replace(open_project(DEMO), units="in")
    check_prices(project, ["embroider", "carry", "middle"])
    assert Pricing(project).now.yarn_cm == pytest.approx(make_plan(project).yarn_cm)


def test_a_length_that_just_fills_its_steps():
    """By hand: 3 stitches of 10 ÷ 18 cm, three times as much yarn and no tails are 5 cm, not 10;
    the width, 1.666… cm, has no end as a decimal."""
    project = Project(
        "just",
        Chart.from_rows(["AAABBB"]),
        gauge=Gauge(18, 24),
        allow=Allowances(tail_cm=0, cast_on=0, bind_off=0),
        multiplier=MultiplierChoice("rule of three"),
    )
    assert Pricing(project).now.yarn_cm == make_plan(project).yarn_cm == 10


@pytest.mark.parametrize("number", range(5))
def test_what_is_known_from_before_a_change_holds_after_it(number):
    """One offer after another is taken or refused: what is priced again and what is not, together
    they are what is priced all anew."""
    rows = draw_chart(number, stitches=12, rows=36, yarns=4, smooth=0.8, holes=number % 3 == 1)
    limits = CarryLimits(across=number % 3, sideways=1 + number % 3, up=number % 2)
    weighing = Weighing(carry_stitches=5, carry_rows=3, most_live=7)
    how = HOW[number % 3]
    project = Project("taken", Chart.from_rows(rows), how=how, limits=limits, weighing=weighing)
    pricing = Pricing(project)
    found = find_offers(project, pricing)
    still_known = 0
    for step in range(3):
        # From all over the list, so that all kinds are taken.
        offer = found[(7 * step + number) % len(found)]
        chosen = offer.refusal if step == 1 else offer.choices
        project = replace(project, choices=(*project.choices, *chosen))
        pricing = Pricing(project, pricing)
        still_known += len(pricing._known)
        found, anew = find_offers(project, pricing), find_offers(project)
        assert [offer.what for offer in found] == [offer.what for offer in anew]
        for known, priced in zip(found, anew, strict=True):
            assert as_list(known.price) == pytest.approx(as_list(priced.price), abs=1e-5)
            assert (known.mind, known.choices) == (priced.mind, priced.choices)
    assert still_known > 10


def test_nothing_is_known_where_more_than_choices_changed():
    project = open_project(DEMO)
    pricing = Pricing(project)
    find_offers(project, pricing)
    other = replace(project, limits=replace(project.limits, up=0))
    assert find_offers(other, Pricing(other, pricing)) == find_offers(other)
