"""Offers, the trade-off and the ceiling: each price against a whole plan, each best against trying everything.

Grade of every figure: computed, unless said otherwise.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import chain, combinations

import numpy as np
import pytest

from planner import CarryLimits, Chart, Construction, PlanError, Project, make_plan, open_project
from planner.choices.asked import ask, trace_asked
from planner.choices.ceiling import hanging, keep_under
from planner.choices.embroidery import knit_beneath
from planner.choices.offers import Pricing, find_offers, offer_table, rows_above
from planner.choices.trade_off import WEIGHED, beaten, ladder, tradeoff
from planner.piece.settings import MultiplierChoice, Weighing
from planner.strands.areas import label_areas
from planner.strands.links import ACROSS, UP
from planner.strands.runs import find_runs
from tests.choices.test_choices import RING, STRICT, embroider, worked_through
from tests.conftest import DEMO
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
    """Four single stitches of Y on N: each saves the split of N and the strand of Y; all four at once as well."""
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
    """Embroidering the inner 3 × 5 saves two of five strands for 15 stitches (published chart, see test_choices)."""
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


# The trade-off


def test_tradeoff_against_whole_plans():
    project = open_project(DEMO)
    table, rungs = tradeoff(project), ladder(project)
    assert table.present.sum() == 1
    assert rungs[table.present.argmax()] is project.limits
    for row, limits in list(zip(table.itertuples(), rungs, strict=True))[::3]:
        plan = make_plan(replace(project, limits=limits))
        found = row.strands, row.ends, row.live, row.carried_stitches
        expected = (
            plan.traced.count,
            plan.traced.ends,
            plan.rows.live.max(),
            round(plan.traced.carried_stitches, 4),
        )
        assert found == pytest.approx(expected)
        assert row.yarn_m == pytest.approx(plan.wound_cm / 100, abs=0.05)
        assert row.minutes_for_ends == row.ends * project.weighing.minutes_per_end
    assert (table.strands.diff().dropna() <= 0).all()


def test_tradeoff_by_yarn():
    project = open_project(DEMO)
    tables = {letter: tradeoff(project, letter) for letter in project.chart.letters}
    now = Pricing(project).now
    assert [table[table.present].strands.tolist() for table in tables.values()] == [
        [now.strands]
    ] * len(tables)
    own = ladder(project, "W")[0]
    strict = make_plan(replace(project, by_yarn={**project.by_yarn, "W": own}))
    assert tables["W"].strands[0] == strict.traced.count
    with pytest.raises(PlanError, match="no yarn Q"):
        ladder(project, "Q")


def test_what_nothing_beats_against_a_double_loop():
    random = np.random.default_rng(5)
    for _ in range(50):
        costs = random.integers(0, 4, (random.integers(1, 12), len(WEIGHED)))
        slow = [any(all(b <= a) and any(b < a) for b in costs) for a in costs]
        assert beaten(costs).tolist() == slow


# The ceiling


def subsets(things):
    return chain.from_iterable(combinations(things, n) for n in range(len(things) + 1))


def cheapest_by_trying(project, most):
    """The fewest extra carries and embroidered stitches, by trying every set of areas and, in each row, every set of
    carries across; None if no way keeps to it."""
    chart, how, far = project.chart, project.how, project.weighing
    areas = label_areas(chart, how)
    sizes = {area: (areas == area).sum() for area in range(1, areas.max() + 1)}
    small = [area for area, size in sizes.items() if size <= far.embroider_stitches]
    best = None
    for chosen in subsets(small):
        cost = sum(sizes[area] for area in chosen)
        try:
            runs = find_runs(knit_beneath(chart, how, areas, dict.fromkeys(chosen)), how)
        except PlanError:
            continue
        for row in range(runs.rows):
            mine = np.flatnonzero(runs.row == row).tolist()
            pairs = [
                (a, b, abs(int(runs.leave[a] - runs.enter[b])))
                for a, b in combinations(mine, 2)
                if runs.yarn[a] == runs.yarn[b]
            ]
            pairs = [
                pair for pair in pairs if pair[2] <= max(far.carry_stitches, project.limits.across)
            ]
            costs = [
                sum(gap > project.limits.across for *_, gap in taken)
                for taken in subsets(pairs)
                if len(mine) - len(taken) <= most
                and all(len({p[i] for p in taken}) == len(taken) for i in (0, 1))
            ]
            cost = cost + min(costs) if costs and cost is not None else None
        if cost is not None and (best is None or cost < best):
            best = cost
    return best


def hang_by_hand(strands):
    """What hangs in each row, from the first and last run of each part."""
    part = strands.of_run * 2 + strands.half
    spans = [
        (strands.runs.row[part == p].min(), strands.runs.row[part == p].max())
        for p in np.unique(part)
    ]
    return [sum(first <= row <= last for first, last in spans) for row in range(strands.runs.rows)]


@pytest.mark.parametrize("number", range(40))
def test_ceiling_against_trying_everything(number):
    rows = draw_chart(number, stitches=8, rows=4, yarns=3, smooth=0 if number % 2 else 0.7)
    weighing = Weighing(
        embroider_stitches=2 + number % 3, embroider_wide=0, carry_stitches=1 + number % 4
    )
    limits = CarryLimits(number % 2, 2, 2, number % 3 == 0)
    how = HOW[number % 4 % 2]
    project = Project("small", Chart.from_rows(rows), how=how, limits=limits, weighing=weighing)
    for most in (1, 2, 3, 4, 5):
        found, best = keep_under(project, most), cheapest_by_trying(project, most)
        if len(found.rows):
            assert best is None
            assert "cannot be done" in str(found)
        elif found.price is None:
            assert found.bound <= (np.inf if best is None else best)
        else:
            assert found.bound <= best <= found.cost
            if found.cost == found.bound:
                assert "no way takes fewer" in str(found) or "as it is" in str(found)
            now = replace(project, choices=found.choices)
            strands = trace_asked(now, ask(now))
            assert hang_by_hand(strands) == hanging(strands).tolist()
            assert max(strands.live) <= max(hang_by_hand(strands)) <= most


def test_the_ceiling_is_mostly_the_cheapest_and_often_proven_so():
    """Areas between two yarns leave a gap between what is found and what is proven; it is small."""
    ways = []
    for number in range(12):
        rows = draw_chart(number, stitches=8, rows=4, yarns=3, smooth=0.7)
        weighing = Weighing(embroider_stitches=3, embroider_wide=0, carry_stitches=3)
        project = Project(
            "small", Chart.from_rows(rows), limits=CarryLimits(0, 2, 2), weighing=weighing
        )
        for most in (2, 3, 4):
            best, way = cheapest_by_trying(project, most), keep_under(project, most)
            if best is not None:
                ways.append(
                    (
                        way.price is not None,
                        way.price is not None and way.cost == best,
                        way.cost == way.bound,
                    )
                )
    found, cheapest, proven = np.mean(ways, axis=0)
    assert found >= 0.95
    assert cheapest >= 0.9
    assert proven >= 0.6


def test_cutting_alone_costs_as_few_strands_as_can_be():
    """Without embroidery and farther carries, against every choice of links."""
    tried = 0
    for number in range(60):
        rows = draw_chart(number, stitches=5, rows=5, yarns=3, smooth=0.6)
        weighing = Weighing(embroider_stitches=0, embroider_wide=0, carry_stitches=0, carry_rows=0)
        project = Project(
            "small", Chart.from_rows(rows), limits=CarryLimits(0, 1, 3, False), weighing=weighing
        )
        strands = trace_asked(project, ask(project))
        links = list(
            zip(
                *(getattr(strands.possible, name).tolist() for name in ("kind", "a", "b")),
                strict=True,
            )
        )
        if len(links) > 13:
            continue
        for most in range(2, int(hanging(strands).max())):
            row = strands.runs.row
            fewest = None
            for taken in subsets(links):
                if len({a for _, a, _ in taken}) < len(taken) or len({b for *_, b in taken}) < len(
                    taken
                ):
                    continue
                hang = np.bincount(row, minlength=strands.runs.rows)
                for kind, a, b in taken:
                    hang[row[a] + 1 : row[b]] += kind == UP
                    hang[row[a]] -= kind == ACROSS
                if hang.max() <= most and (
                    fewest is None or strands.runs.count - len(taken) < fewest
                ):
                    fewest = strands.runs.count - len(taken)
            way = keep_under(project, most)
            assert (way.price is None) == (fewest is None)
            if fewest is not None:
                tried += 1
                assert strands.count + way.price.strands == fewest
                assert way.cost == 0 == way.bound
    assert tried >= 5


def test_the_ceiling_on_the_demo():
    project = open_project(DEMO)
    assert keep_under(project, 9).choices == ()
    for most in (8, 7, 6):
        way = keep_under(project, most)
        plan = make_plan(replace(project, choices=way.choices))
        assert plan.rows.live.max() <= most
        assert plan.notes == ()
        assert way.cost == way.bound > 0
        assert plan.traced.count - make_plan(project).traced.count == way.price.strands
    impossible = keep_under(project, 5)
    assert impossible.rows.row.tolist() == [35, 36, 37, 38, 39]
    assert impossible.choices == ()
    with pytest.raises(PlanError, match="too few"):
        keep_under(project, 0)


def test_refused_carries_and_areas_are_not_used():
    project = open_project(DEMO)
    way = keep_under(project, 8)
    again = keep_under(
        replace(
            project, choices=tuple(replace(choice, choice="refused") for choice in way.choices)
        ),
        8,
    )
    assert not {
        (c.about, c.yarn, c.row, c.stitch, c.part) for c in way.choices if c.choice == "yes"
    } & {(c.about, c.yarn, c.row, c.stitch, c.part) for c in again.choices}


def test_the_ceiling_leaves_knitted_rows_alone():
    project = open_project(DEMO)
    plan = make_plan(project)
    begun = replace(project, progress=worked_through(plan, 40))
    assert keep_under(begun, 8).choices == ()
    way = keep_under(begun, 6)
    assert min(choice.row for choice in way.choices) > 40
    assert make_plan(replace(begun, choices=way.choices)).rows.live[40:].max() <= 6
