"""The shared cases: what comes out for every chart in cases/strands.json.

test_optimum.py works the expected values out anew.
"""

from collections import Counter

import pytest

from planner import CarryLimits, Chart, trace_strands
from tests.helpers.cases import CASES, GAUGES, LISTED, construction


def trace(case):
    limits = case["limits"]
    carry = CarryLimits(limits["across"], limits["sideways"], limits["up"], limits["middle"])
    gauge = GAUGES[limits["aspect"]]
    assert gauge.aspect == limits["aspect"]
    return trace_strands(Chart.from_rows(case["chart"]), construction(**case["how"]), gauge, carry)


def test_no_case_hides_another_and_every_construction_is_there():
    assert len(CASES) == len(LISTED)
    for name, value in {
        "rounds": True,
        "left_handed": True,
        "first_rs": False,
        "garter": True,
    }.items():
        assert any(case["how"].get(name) is value for case in LISTED), name


@pytest.mark.parametrize("name", CASES)
def test_case(name):
    strands, expect = trace(CASES[name]), CASES[name]["expect"]
    found = {
        "runs": strands.runs.count,
        "strands": strands.count,
        "ends": strands.ends,
        "carried": strands.carried_stitches,
        "middle": strands.middle_starts,
    }
    assert found == expect


@pytest.mark.parametrize("name", CASES)
def test_stitches_by_colour_add_up(name):
    """Counting letters on the chart gives the stitches of a yarn's strands: in garter twice."""
    case = CASES[name]
    times = 2 if case["how"].get("garter") else 1
    letters = Counter("".join(case["chart"]).replace(".", ""))
    chart, table = Chart.from_rows(case["chart"]), trace(case).table()
    assert chart.stitches() == letters
    assert table.groupby("yarn")["stitches"].sum().to_dict() == {
        yarn: times * n for yarn, n in letters.items()
    }
    assert table["runs"].sum() == case["expect"]["runs"]
    assert table["ends"].sum() == case["expect"]["ends"]
    assert table["middle_start"].sum() == case["expect"]["middle"]
