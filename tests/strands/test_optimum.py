"""The plan is the best there is: against a general matching on all links at once, and against trying every choice.

The links are found anew here, pair by pair, from the rule of carries; nothing is reduced or split before it is solved.
Grade of every figure: computed, by NetworkX 3 (`max_weight_matching`, Galil's method) or by trying everything.
"""

from __future__ import annotations

from dataclasses import asdict
from fractions import Fraction
from itertools import combinations

import networkx as nx
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner import CarryLimits, Chart, Construction, Gauge, trace_strands
from planner.strands.matching import cheapest_matching
from tests.helpers.knitter import Reach, draw_chart, stretches
from tests.strands.test_cases import CASES, GAUGES, construction

NONE = (0, 0, 0, 0)


def all_links(rows, how, reach, aspect):
    """Every allowed link: its two ports (run and "enter" or "leave"), whether a middle start, and the length carried."""
    piece, columns, tube = stretches(rows, **asdict(how)), len(rows[0]), how.worked == "rounds"
    runs = [run for row in piece for run in row]

    def between_rows(one, other):
        far = abs(one - other)
        return min(far, columns - far) if tube else far

    links = []
    for (i, a), (j, b) in combinations(enumerate(runs), 2):
        ahead = b.row - a.row
        if a.yarn != b.yarn or ahead > reach.up + 1:
            continue
        gap, shift = abs(a.leave - b.enter), between_rows(a.leave, b.enter)
        if ahead == 0 and gap <= reach.across:
            links.append(((i, "leave"), (j, "enter"), 0, Fraction(gap)))
        if ahead == 1 and shift <= reach.sideways:
            links.append(((i, "leave"), (j, "enter"), 0, Fraction(shift)))
        if ahead > 1 and shift <= reach.sideways:
            skipped = [run for row in piece[a.row + 1 : b.row] for run in row if run.yarn == a.yarn]
            if not any(run.touches(a.leave, columns, tube) for run in skipped):
                links.append(((i, "leave"), (j, "enter"), 0, shift + (ahead - 1) * aspect))
        distance = abs(a.enter - b.enter) if ahead == 0 else between_rows(a.enter, b.enter)
        if reach.middle and ahead < 2 and distance <= (reach.sideways if ahead else reach.across):
            links.append(((i, "enter"), (j, "enter"), 1, Fraction(distance)))
    return len(runs), links


def totals(links, unit):
    """Number of links, middle starts, length carried in whole units, and the sum of its squares."""
    carried = [int(length * unit) for *_, length in links]
    return (
        len(links),
        sum(middle for _, _, middle, _ in links),
        sum(carried),
        sum(x * x for x in carried),
    )


def best_by_networkx(links, unit):
    """The totals of a heaviest matching of the whole graph, its weights whole numbers of any size."""
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


def best_by_trying(links, unit):
    """The totals of the best choice of links, by taking or leaving each in turn."""

    def choose(left):
        if not left:
            return NONE
        first, others = left[0], left[1:]
        free = [link for link in others if not {link[0], link[1]} & {first[0], first[1]}]
        takes = tuple(x + y for x, y in zip(totals([first], unit), choose(free), strict=True))
        return takes if len(free) == len(others) else max(takes, choose(others), key=rank)

    return choose(links)


def rank(sums):
    return sums[0], *(-x for x in sums[1:])


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


@st.composite
def port_graphs(draw):
    """Links between a few ports, two of them the same two ports now and then, with costs small enough to tie."""
    ports = draw(st.integers(2, 8))
    pair = st.lists(st.integers(0, ports - 1), min_size=2, max_size=2, unique=True)
    scale = draw(st.sampled_from([1, 1, 10_000]))
    cost = st.integers(0, 6).map(lambda x: x * scale)
    return draw(st.lists(st.tuples(pair, st.integers(0, 1), cost), max_size=11))


@settings(derandomize=True, deadline=None, max_examples=600)
@given(port_graphs())
def test_any_graph_against_trying_every_choice(graph):
    links = [(u, v, middle, Fraction(cost)) for (u, v), middle, cost in graph]
    u, v, middle, cost = (np.array([link[i] for link in links], dtype=np.int64) for i in range(4))
    taken = cheapest_matching(u, v, middle, cost)
    chosen = [link for link, take in zip(links, taken, strict=True) if take]
    ports = [port for link in chosen for port in link[:2]]
    assert len(ports) == len(set(ports))
    assert totals(chosen, 1) == best_by_trying(links, 1)


def test_two_links_between_the_same_ports():
    """By eye: in a square with every side doubled, the two dear sides are not taken, nor is the dear twin of a cheap one."""
    u, v = np.array([0, 0, 1, 1, 2, 2, 3, 3]), np.array([1, 1, 2, 2, 3, 3, 0, 0])
    cost = np.array([5, 2, 4, 9, 2, 7, 9, 4])
    assert np.flatnonzero(cheapest_matching(u, v, np.zeros(8, dtype=int), cost)).tolist() == [1, 4]
