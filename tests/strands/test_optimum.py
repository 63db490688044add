"""The plan is the best there is: against a general matching on all links at once, and against
trying every choice.

Nothing is reduced or split before it is solved. Grade of every figure: computed, by NetworkX 3
(`max_weight_matching`, Galil's method) or by trying everything.
"""

from __future__ import annotations

from fractions import Fraction

import networkx as nx
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner import CarryLimits, Chart, Construction, Gauge, trace_strands
from tests.helpers.best_choice import NONE, all_links, best_by_trying, totals
from tests.helpers.cases import CASES, GAUGES, construction
from tests.helpers.knitter import Reach, draw_chart


def best_by_networkx(links, unit):
    """The totals of a heaviest matching of the whole graph, its weights whole numbers of any
    size."""
    if not links:
        return NONE
    costs = [
        (middle, int(length * unit), int(length * unit) ** 2) for _, _, middle, length in links
    ]
    most = [len(links) * max(column) + 1 for column in zip(*costs, strict=True)]
    cost = [(a * most[1] + b) * most[2] + c for a, b, c in costs]
    graph = nx.Graph()
    for number, (u, v, *_) in enumerate(links):
        assert not graph.has_edge(u, v)  # the rule never joins two ports twice
        graph.add_edge(u, v, weight=most[0] * most[1] * most[2] - cost[number], number=number)
    chosen = nx.max_weight_matching(graph, maxcardinality=True)
    return totals([links[graph.edges[pair]["number"]] for pair in chosen], unit)


def planned(rows, how, reach, gauge):
    """The totals of the planner's choice of links, in the same units."""
    limits = CarryLimits(reach.across, reach.sideways, reach.up, reach.middle)
    strands = trace_strands(Chart.from_rows(rows), how, gauge, limits)
    numerator, unit = gauge.aspect.as_integer_ratio()
    carried = (
        strands.links.shift.astype(object) * unit + strands.links.skipped.astype(object) * numerator
    )
    assert strands.carried_stitches == pytest.approx(sum(carried) / unit)
    return (
        strands.runs.count - strands.count,
        strands.middle_starts,
        sum(carried),
        sum(x * x for x in carried),
    )


HOW = {
    "flat": Construction(),
    "flat, WS first": Construction(first_row="WS"),
    "flat, left-handed": Construction(hand="left"),
    "garter": Construction(fabric="garter"),
    "rounds": Construction(worked="rounds"),
    "rounds, left-handed": Construction(worked="rounds", hand="left"),
    "garter in rounds": Construction(worked="rounds", fabric="garter"),
}
ASPECTS = [
    (Gauge(20, 20), Fraction(1)),
    (Gauge(15, 20), Fraction(3, 4)),
    (Gauge(22, 30), Fraction(11, 15)),
]
REACHES = [
    Reach(),
    Reach(across=2, sideways=3, up=1),
    Reach(across=1, sideways=7, up=3, middle=False),
    Reach(across=3, sideways=1, up=0),
    Reach(across=0, sideways=0, up=2),
    Reach(across=4, sideways=6, up=4),
]


@pytest.mark.parametrize("name", HOW)
@pytest.mark.parametrize("number", range(12))
def test_blobs_and_noise_against_networkx(name, number):
    how, reach, (gauge, aspect) = HOW[name], REACHES[number % 6], ASPECTS[number % 5 % 3]
    assert gauge.aspect == aspect
    small = how.fabric == "garter"
    for smooth, stitches, height in ((1.5, 26, 10 if small else 20), (0, 14, 5 if small else 10)):
        rows = draw_chart(
            number, stitches=stitches, rows=height, yarns=3, smooth=smooth, holes=number % 2 == 1
        )
        _, links = all_links(rows, how, reach, aspect)
        assert planned(rows, how, reach, gauge) == best_by_networkx(links, aspect.denominator), (
            "\n".join(rows)
        )


@pytest.mark.parametrize("name", [name for name in CASES if not name.startswith("blobs")])
def test_shared_cases_against_networkx(name):
    case, limits = CASES[name], CASES[name]["limits"]
    how, gauge = construction(**case["how"]), GAUGES[limits["aspect"]]
    reach = Reach(limits["across"], limits["sideways"], limits["up"], limits["middle"])
    count, links = all_links(case["chart"], how, reach, gauge.aspect)
    best = best_by_networkx(links, gauge.aspect.denominator)
    assert planned(case["chart"], how, reach, gauge) == best
    assert count - best[0] == case["expect"]["strands"]


@st.composite
def small_pieces(draw):
    width, height = draw(st.integers(1, 6)), draw(st.integers(1, 5))
    cells = st.text("AAABB.", min_size=width, max_size=width).filter(lambda row: set(row) != {"."})
    rows = draw(st.lists(cells, min_size=height, max_size=height))
    across, sideways, up = draw(st.tuples(st.integers(0, 4), st.integers(0, 5), st.integers(0, 3)))
    return (
        rows,
        HOW[draw(st.sampled_from(sorted(HOW)))],
        Reach(across, sideways, up, draw(st.booleans())),
    )


@settings(derandomize=True, deadline=None, max_examples=400)
@given(small_pieces(), st.sampled_from(ASPECTS))
def test_small_pieces_against_trying_every_choice(piece, gauge_and_aspect):
    (rows, how, reach), (gauge, aspect) = piece, gauge_and_aspect
    _, links = all_links(rows, how, reach, aspect)
    assume(2 <= len(links) <= 13)
    assert planned(rows, how, reach, gauge) == best_by_trying(links, aspect.denominator)
