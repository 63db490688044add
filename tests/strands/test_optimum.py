"""The plan is the best there is: against a general matching on all links at once, and against
trying every choice.

Nothing is reduced or split before it is solved. Grade of every figure: computed, by NetworkX 3
(`max_weight_matching`, Galil's method) or by trying everything.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, groupby

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
    "turned": Construction(worked="turned"),
    "turned, left-handed, WS first": Construction(worked="turned", hand="left", first_row="WS"),
    "garter in turned rounds": Construction(worked="turned", fabric="garter"),
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


# Turned rounds once more, with nothing taken from the rule as it stands elsewhere: the edges are
# the nodes of a ring, edge 0 and the last one node, and how far two are apart is the shortest path.


def links_on_a_ring(rows, how, reach, aspect):
    """Every link of a turned tube; a run covers a path of the ring's nodes."""
    columns, times = len(rows[0]), 2 if how.fabric == "garter" else 1
    ring = nx.Graph([(edge, (edge + 1) % columns) for edge in range(columns)])
    apart = dict(nx.all_pairs_shortest_path_length(ring))
    runs = []
    worked = [row for row in reversed(rows) for _ in range(times)]
    for number, cells in enumerate(worked):
        # To and fro: the first row goes to the left if it is RS or the knitter left-handed, not
        # both.
        leftwards = (how.first_row == "RS") == (how.hand == "right")
        if number % 2:
            leftwards = not leftwards
        columns_in_order = [c for c in range(columns) if cells[c] != "."]
        if leftwards:
            columns_in_order.reverse()
        for yarn, group in groupby(columns_in_order, key=lambda c, cells=cells: cells[c]):
            places = list(group)
            enter = places[0] + leftwards
            leave = places[-1] + (not leftwards)
            nodes = {edge % columns for edge in range(min(places), max(places) + 2)}
            runs.append((number, yarn, enter, leave, nodes))
    links = []
    for (i, a), (j, b) in combinations(enumerate(runs), 2):
        (row, yarn, enter, leave, _), (later, same_yarn, to, _, _) = a, b
        ahead = later - row
        if yarn != same_yarn:
            continue
        for port, edge, middle in (("leave", leave, 0), ("enter", enter, 1)):
            if middle and (ahead > 1 or not reach.middle):
                continue
            # Within a round the yarn is carried along it, not over the join.
            far = apart[edge % columns][to % columns] if ahead else abs(edge - to)
            between = [run for run in runs if row < run[0] < later and run[1] == yarn]
            rests = all(edge % columns not in run[4] for run in between)
            near = far <= (reach.sideways if ahead else reach.across)
            if near and rests and ahead - 1 <= reach.up:
                length = far + max(0, ahead - 1) * aspect
                links.append(((i, port), (j, "enter"), middle, Fraction(length)))
    return links


@pytest.mark.parametrize("name", [name for name in HOW if "turned" in name])
@pytest.mark.parametrize("number", range(12))
def test_turned_rounds_on_a_ring(name, number):
    how, reach, (gauge, aspect) = HOW[name], REACHES[number % 6], ASPECTS[number % 3]
    for smooth, stitches, height in ((1, 11, 8), (0, 7, 6)):
        rows = draw_chart(
            50 + number, stitches=stitches, rows=height, yarns=3, smooth=smooth, holes=number > 8
        )
        links = links_on_a_ring(rows, how, reach, aspect)
        best = best_by_networkx(links, aspect.denominator)
        assert planned(rows, how, reach, gauge) == best, "\n".join(rows)


def test_a_turned_tube_on_paper():
    """Row 2 is worked the other way, from the join on; each link has its length beside it.

        row 2   A B B B B A     from the left: A enters 0, B enters 1, A enters 5
        row 1   A A B B B A     from the right: A leaves 5, B leaves 2, A leaves 0

    Three runs go on in three: A from edge 0 to 0 (0), B from 2 to 1 (1), A from 5 to 5 (0). So
    three links, and 1 stitch carried; flat it is the same.

        row 2   B B B B B A     from the left: B enters 0, A enters 5
        row 1   A A B B B B     from the right: B leaves 2, A leaves 0

    B would go from edge 2 to 0, which is 2. A goes from edge 0 to 5: one stitch over the join, and
    five along a flat row.
    """
    strict = Reach(across=0, sideways=1, up=0, middle=False)
    turned, flat = HOW["turned"], HOW["flat"]
    gauge = Gauge(20, 20)
    assert planned(["ABBBBA", "AABBBA"], turned, strict, gauge) == (3, 0, 1, 1)
    assert planned(["ABBBBA", "AABBBA"], flat, strict, gauge) == (3, 0, 1, 1)
    assert planned(["BBBBBA", "AABBBB"], turned, strict, gauge) == (1, 0, 1, 1)
    assert planned(["BBBBBA", "AABBBB"], flat, strict, gauge) == (0, 0, 0, 0)


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
