"""A knitter who knows nothing of matching works many charts from their strands, and is never short
of a yarn.

Grade: computed; everything the knitter finds comes from the chart's letters and the rule of carries
alone.
"""

from dataclasses import asdict, replace
from fractions import Fraction

import numpy as np
import pytest

from planner import CarryLimits, Chart, Construction, Gauge, trace_strands
from tests.helpers.knitter import Knitter, Objection, Reach, draw_chart, stretches

HOW = [
    Construction(),
    Construction(first_row="WS"),
    Construction(hand="left"),
    Construction(fabric="garter", hand="left"),
    Construction(worked="rounds"),
    Construction(worked="rounds", hand="left"),
    Construction(worked="rounds", fabric="garter"),
    Construction(worked="turned"),
    Construction(worked="turned", hand="left", first_row="WS"),
    Construction(worked="turned", fabric="garter"),
]
# Limits as given to the planner, a gauge, and what they come to for the knitter.
LIMITS = [
    (CarryLimits(), Gauge(20, 20), Reach(), Fraction(1)),
    (CarryLimits(across=2, sideways=3, up=1), Gauge(15, 20), Reach(2, 3, 1), Fraction(3, 4)),
    (
        CarryLimits(across=1, sideways=8, up=4, middle_start=False),
        Gauge(22, 30),
        Reach(1, 8, 4, False),
        Fraction(11, 15),
    ),
    (
        CarryLimits(across="0.5 in", sideways="2.5 cm", up="1.2 cm"),
        Gauge(22, 30),
        Reach(Fraction("2.794"), Fraction("5.5"), Fraction("3.6")),
        Fraction(11, 15),
    ),
    (
        CarryLimits(across=0, sideways=0, up=0),
        Gauge(24, 30, 4, "in"),
        Reach(0, 0, 0),
        Fraction(4, 5),
    ),
]
CHARTS = [
    {"stitches": 40, "rows": 30, "yarns": 4, "smooth": 3},
    {"stitches": 30, "rows": 24, "yarns": 3, "smooth": 1.5},
    {"stitches": 30, "rows": 24, "yarns": 4, "smooth": 1.5, "holes": True},
    {"stitches": 14, "rows": 10, "yarns": 3, "smooth": 0},
    {"stitches": 13, "rows": 9, "yarns": 2, "smooth": 0, "holes": True},
]


def knit(knitter, strands):
    yarns = [label.rstrip("0123456789") for label in strands.labels]
    return knitter.knit(strands.of_run.tolist(), strands.half.tolist(), yarns)


def assert_worked_as_planned(report, strands):
    assert report.ends == strands.ends == 2 * strands.count
    assert report.middle_starts == strands.middle_starts
    assert float(report.carried) == pytest.approx(strands.carried_stitches)
    assert report.live == strands.live.tolist()


@pytest.mark.parametrize("how", HOW, ids=lambda how: "-".join(map(str, asdict(how).values())))
@pytest.mark.parametrize("number", range(len(LIMITS)))
def test_every_piece_can_be_worked_as_planned(how, number):
    limits, gauge, reach, aspect = LIMITS[number]
    for seed, drawing in enumerate(CHARTS, start=10 * number):
        rows = draw_chart(seed, **drawing)
        strands = trace_strands(Chart.from_rows(rows), how, gauge, limits)
        assert_worked_as_planned(knit(Knitter(rows, asdict(how), reach, aspect), strands), strands)


def test_a_yarn_with_limits_of_its_own():
    """A reaches across three stitches and nowhere else far; B and C keep to the general limits."""
    own, reach = CarryLimits(across=3, sideways=1, up=0, middle_start=False), Reach(3, 1, 0, False)
    for seed in range(10):
        rows = draw_chart(seed, stitches=24, rows=18, yarns=3, smooth=1)
        strands = trace_strands(Chart.from_rows(rows), gauge=Gauge(20, 20), by_yarn={"A": own})
        knitter = Knitter(rows, {}, {"A": reach, "B": Reach(), "C": Reach()}, Fraction(1))
        assert_worked_as_planned(knit(knitter, strands), strands)


def test_the_knitter_reads_a_row_by_herself():
    """By eye: edges 0 to 5 from the left; row 1 from the right, the '.' at the side is left out,
    the one inside is passed."""
    there, back = stretches(["AABB.", "A.ABB"])
    assert [(run.yarn, run.lo, run.hi, run.enter, run.leave) for run in there] == [
        ("B", 3, 4, 5, 3),
        ("A", 0, 2, 3, 0),
    ]
    assert [(run.yarn, run.lo, run.hi, run.enter, run.leave) for run in back] == [
        ("A", 0, 1, 0, 2),
        ("B", 2, 3, 2, 4),
    ]


# Each row of the table is a piece, by which strand and which half each stretch is worked in working
# order, and what is wrong.
WRONG = [
    (["AABB"], {}, [0, 0], [0, 0], "AB", "strand 0 is A, row 1 wants B"),
    (["ABA"], {}, [0, 1, 0], [0, 0, 0], "AB", "1 stitches across"),
    (["AAAAAAAAB", "AABBBBBBB"], {}, [0, 1, 1, 0], [0, 0, 0, 0], "BA", "6 stitches sideways"),
    (["B", "A", "A", "A", "B"], {}, [0, 1, 1, 1, 0], [0] * 5, "BA", "3 rows up"),
    (["BBB", "BAA", "BBB"], {}, [0, 2, 1, 0], [0] * 4, "BAB", "its own yarn is worked in between"),
    (["B", "A", "B"], {}, [0, 1, 0], [0, 0, 1], "BA", "cannot be begun from its middle"),
    (["ABBA"], {}, [0, 1, 0], [0, 0, 1], "AB", "cannot be begun from its middle"),
    (["A", "A"], {}, [0, 0], [0, 1], "A", None),
    (["ABA", "AAA"], {}, [0, 0, 1, 0], [0, 1, 0, 2], "AB", "a second time"),
    (["A"], {}, [0], [0], "AB", "ends, not 2"),
    (["AB"], {}, [0], [0], "B", "1 stretches are told, the chart has 2"),
    # Round a tube edge 0 is also the last edge: 0 stitches away, not 8, and there its own yarn is
    # in the way.
    (["BBBBBBBA", "AAAAAAAA"], {"worked": "rounds"}, [0, 0, 1], [0, 0, 0], "AB", None),
    (["BBBBBBBA", "AAAAAAAA"], {"first_row": "WS"}, [0, 0, 1], [0, 0, 0], "AB", None),
    (
        ["ABBBBBBB", "AAAAAAAA"],
        {"first_row": "WS"},
        [0, 1, 0],
        [0, 0, 0],
        "AB",
        "7 stitches sideways",
    ),
    (["ABBBBBBBB", "BBBBBBBBA", "AAAAAAAAA"], {}, [0, 1, 2, 1, 0], [0] * 5, "ABA", None),
    # Row 2 of the first is worked from edge 0 on, where row 1 ended. Flat, A is 7 stitches away
    # when it is wanted; with the edges joined it is 1 away, and from edge 0 to edge 6 of 12 it is
    # 6.
    (["BBBBBBBA", "AAAAAAAA"], {}, [0, 1, 0], [0, 0, 0], "AB", "7 stitches sideways"),
    (["BBBBBBBA", "AAAAAAAA"], {"worked": "turned"}, [0, 1, 0], [0, 0, 0], "AB", None),
    (
        ["BBBBBBAAAAAA", "AAAAAAAAAAAA"],
        {"worked": "turned"},
        [0, 1, 0],
        [0, 0, 0],
        "AB",
        "6 stitches sideways",
    ),
    (
        ["ABBBBBBBB", "BBBBBBBBA", "AAAAAAAAA"],
        {"worked": "rounds"},
        [0, 2, 1, 1, 0],
        [0] * 5,
        "ABA",
        "its own yarn is worked",
    ),
]


@pytest.mark.parametrize(("rows", "how", "strand_of", "half_of", "yarns", "objection"), WRONG)
def test_the_knitter_objects(rows, how, strand_of, half_of, yarns, objection):
    knitter = Knitter(rows, how, Reach(), Fraction(1))
    if objection is None:
        assert knitter.knit(strand_of, half_of, yarns).ends == 2 * len(yarns)
    else:
        with pytest.raises(Objection, match=objection):
            knitter.knit(strand_of, half_of, yarns)


def test_no_run_is_better_worked_by_another_strand():
    """Give one run to another strand of its yarn: the knitter objects nearly always, and is never
    the better off."""
    rows, rng, objections = (
        draw_chart(3, stitches=30, rows=20, yarns=3, smooth=2),
        np.random.default_rng(0),
        0,
    )
    strands = trace_strands(Chart.from_rows(rows), gauge=Gauge(20, 20))
    knitter = Knitter(rows, {}, Reach(), Fraction(1))
    as_planned = knit(knitter, strands)
    for run in rng.choice(strands.runs.count, 40, replace=False):
        same_yarn = np.flatnonzero(strands.yarn == strands.runs.yarn[run])
        for other in same_yarn[same_yarn != strands.of_run[run]]:
            of_run = strands.of_run.copy()
            of_run[run] = other
            try:
                report = knit(knitter, replace(strands, of_run=of_run))
            except Objection:
                objections += 1
            else:
                assert cost(report) >= cost(as_planned)
    assert objections > 100


def cost(report):
    return report.ends, report.middle_starts, report.carried
