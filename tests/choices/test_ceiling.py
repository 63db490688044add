"""The ceiling against trying everything. Grade of every figure: computed."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain, combinations

import numpy as np
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
from planner.choices.asked import ask, trace_asked
from planner.choices.beneath import knit_beneath
from planner.choices.ceiling import Ceiling, keep_under
from planner.choices.offers import find_offers
from planner.choices.pricing import Pricing
from planner.piece import Weighing
from planner.strands import ACROSS, MIDDLE, UP, find_runs, label_areas
from tests.conftest import DEMO
from tests.helpers.choices import embroider, hang_by_hand, piece, worked_through
from tests.helpers.knitter import draw_chart


def subsets(things):
    return chain.from_iterable(combinations(things, n) for n in range(len(things) + 1))


def cheapest_by_trying(project, most):
    """The fewest extra carries and embroidered stitches; None if no way keeps to it.

    Every set of areas is tried, and in each row every set of carries across.
    """
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


@pytest.mark.parametrize("number", range(40))
def test_ceiling_against_trying_everything(number):
    rows = draw_chart(number, stitches=8, rows=4, yarns=3, smooth=0 if number % 2 else 0.7)
    weighing = Weighing(
        embroider_stitches=2 + number % 3, embroider_wide=0, carry_stitches=1 + number % 4
    )
    limits = CarryLimits(number % 2, 2, 2, number % 3 == 0)
    how = Construction(worked=("flat", "rounds", "turned", "rounds")[number % 4])
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
            assert hang_by_hand(strands) == strands.live.tolist()
            assert max(hang_by_hand(strands)) <= most


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


def choices_of_links(strands):
    """Each choice of links that leaves no edge of a run to two of them: how many it takes, and the
    most that hangs in a row with it."""
    row, links = strands.runs.row, strands.possible
    every = list(zip(links.kind.tolist(), links.a.tolist(), links.b.tolist(), strict=True))
    for taken in subsets(every):
        enters = [b for _, _, b in taken] + [a for kind, a, _ in taken if kind == MIDDLE]
        leaves = [a for kind, a, _ in taken if kind != MIDDLE]
        if len(set(enters)) < len(enters) or len(set(leaves)) < len(leaves):
            continue
        hang = np.bincount(row, minlength=strands.runs.rows)
        for kind, a, b in taken:
            # A second half waits from the row in which its strand is begun.
            waits_from = row[a] if kind == MIDDLE else row[a] + 1
            hang[waits_from : row[b]] += kind in (UP, MIDDLE)
            hang[row[a]] -= kind == ACROSS
        yield len(taken), hang.max()


@pytest.mark.parametrize("middle", [False, True])
def test_cutting_alone_costs_as_few_strands_as_can_be(middle):
    """Without embroidery and farther carries, against every choice of links."""
    tried = waiting = 0
    # With middle starts there are more links to choose from, so the charts are smaller.
    for number in range(40 if middle else 60):
        rows = draw_chart(number, stitches=5, rows=4 if middle else 5, yarns=3, smooth=0.6)
        weighing = Weighing(embroider_stitches=0, embroider_wide=0, carry_stitches=0, carry_rows=0)
        limits = CarryLimits(0, 1, 1 if middle else 3, middle)
        project = Project("small", Chart.from_rows(rows), limits=limits, weighing=weighing)
        strands = trace_asked(project, ask(project))
        if strands.possible.count > 13:
            continue
        most_links = {}
        for taken, hang in choices_of_links(strands):
            most_links[hang] = max(taken, most_links.get(hang, 0))
        for most in range(2, max(hang_by_hand(strands))):
            within = [taken for hang, taken in most_links.items() if hang <= most]
            way = keep_under(project, most)
            assert (way.price is None) == (not within)
            if within:
                tried += 1
                begun, taken_up = strands.runs.row[[strands.links.a, strands.links.b]]
                waiting += (strands.links.is_middle & (taken_up > begun)).any()
                assert strands.count + way.price.strands == strands.runs.count - max(within)
                assert way.cost == 0 == way.bound
    assert tried >= 5
    assert waiting >= (5 if middle else 0)


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


def test_what_a_ceiling_says():
    project = open_project(DEMO)
    begun = replace(project, progress=worked_through(make_plan(project), 40))
    cannot = "cannot be done within what may be carried and embroidered"
    assert str(keep_under(project, 9)) == "The plan keeps to 9 at once as it is."
    assert str(keep_under(project, 7)) == (
        "Never more than 7 at once by 10 extra carries: no way takes fewer."
    )
    assert str(keep_under(project, 4)) == (
        f"Never more than 4 at once {cannot}: 1 too many in rows 30–34, 40–44, "
        "74–78, 84–85; 2 too many in rows 35–39."
    )
    assert str(keep_under(begun, 5)) == (
        "In the rows still to be worked, from row 41 on: "
        f"Never more than 5 at once {cannot}: 1 too many in rows 41–44."
    )


@pytest.mark.parametrize(
    ("found", "words"),
    [
        ({"price": None}, "No way was found to keep to 3 at once, nor proof that there is none."),
        (
            {"carries": 1, "stitches": 1, "cuts": 2, "bound": 1},
            "Never more than 3 at once by 1 extra carry, 1 embroidered stitch, 2 carries cut: "
            "any way takes at least 1 in all.",
        ),
        (
            {"too_many": {7: 1, 2: 2, 3: 2, 4: 1}},
            "Never more than 3 at once cannot be done within what may be carried and embroidered: "
            "1 too many in rows 4, 7; 2 too many in rows 2–3.",
        ),
    ],
)
def test_a_ceiling_in_words(found, words):
    price = Pricing(piece(["NNYNN"])).now
    some = (embroider("Y", 1, 3),)
    plain = Ceiling(3, bound=0, too_many={}, choices=some, price=price)
    assert str(replace(plain, **found)) == words


@pytest.mark.parametrize(("number", "most"), [(1, 5), (3, 4)])
def test_what_keeps_a_carry_from_its_edge_is_cut(number, most):
    """The best plan with the carries gives the edges of some to other links; these are cut."""
    rows = draw_chart(number, stitches=9, rows=5, yarns=3, smooth=0)
    weighing = Weighing(
        embroider_stitches=2 + number % 3, embroider_wide=0, carry_stitches=1 + number % 4
    )
    limits = CarryLimits(1, 2, 2, number % 3 == 0)
    project = Project("small", Chart.from_rows(rows), limits=limits, weighing=weighing)
    way = keep_under(project, most)
    assert way.cuts > 0
    assert way.cost == way.bound
    plan = make_plan(replace(project, choices=way.choices))
    assert max(hang_by_hand(plan.traced)) <= most


def test_a_ceiling_beside_what_is_embroidered_already():
    """Runs may then be of two areas; what is offered keeps to the ceiling all the same."""
    found = 0
    for number in (8, 34, 49):
        smooth = 0 if number % 2 else 0.7
        rows = draw_chart(number, stitches=9, rows=5, yarns=3, smooth=smooth)
        weighing = Weighing(
            embroider_stitches=2 + number % 3, embroider_wide=0, carry_stitches=1 + number % 4
        )
        limits = CarryLimits(number % 2, 2, 2, number % 3 == 0)
        project = Project("small", Chart.from_rows(rows), limits=limits, weighing=weighing)
        taken = next(offer for offer in find_offers(project) if offer.about == "embroider")
        project = replace(project, choices=taken.choices)
        for most in (2, 3, 4):
            way = keep_under(project, most)
            if way.price is not None:
                found += 1
                every = (*project.choices, *way.choices)
                plan = make_plan(replace(project, choices=every))
                assert max(hang_by_hand(plan.traced)) <= most
    assert found
