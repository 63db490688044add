"""Runs: the order they are worked in and the edges where their yarn comes and goes."""

import pytest

from planner import Chart, Construction
from planner.strands.runs import find_runs

# Seen from the right side: row 1 is the lower one; edges from the left 0 1 2 3.
STEP = ["AAB", "ABB"]


def told(rows, how=None) -> list[tuple]:
    """(worked row from 1, yarn, entering edge, leaving edge, stitches) of each run in working
    order."""
    chart = Chart.from_rows(rows)
    runs = find_runs(chart, how or Construction())
    return [
        (row + 1, chart.letters[yarn], enter, leave, stitches)
        for row, yarn, enter, leave, stitches in zip(
            *(x.tolist() for x in (runs.row, runs.yarn, runs.enter, runs.leave, runs.stitches)),
            strict=True,
        )
    ]


@pytest.mark.parametrize(
    ("how", "expected"),
    [
        # flat, right-handed: RS from the right, WS from the left
        ({}, [(1, "B", 3, 1, 2), (1, "A", 1, 0, 1), (2, "A", 0, 2, 2), (2, "B", 2, 3, 1)]),
        (
            {"first_row": "WS"},
            [(1, "A", 0, 1, 1), (1, "B", 1, 3, 2), (2, "B", 3, 2, 1), (2, "A", 2, 0, 2)],
        ),
        # left-handed: the reverse
        (
            {"hand": "left"},
            [(1, "A", 0, 1, 1), (1, "B", 1, 3, 2), (2, "B", 3, 2, 1), (2, "A", 2, 0, 2)],
        ),
        (
            {"hand": "left", "first_row": "WS"},
            [(1, "B", 3, 1, 2), (1, "A", 1, 0, 1), (2, "A", 0, 2, 2), (2, "B", 2, 3, 1)],
        ),
        # in rounds: always the same way, whatever the first row is called
        (
            {"worked": "rounds"},
            [(1, "B", 3, 1, 2), (1, "A", 1, 0, 1), (2, "B", 3, 2, 1), (2, "A", 2, 0, 2)],
        ),
        (
            {"worked": "rounds", "first_row": "WS"},
            [(1, "B", 3, 1, 2), (1, "A", 1, 0, 1), (2, "B", 3, 2, 1), (2, "A", 2, 0, 2)],
        ),
        (
            {"worked": "rounds", "hand": "left"},
            [(1, "A", 0, 1, 1), (1, "B", 1, 3, 2), (2, "A", 0, 2, 2), (2, "B", 2, 3, 1)],
        ),
    ],
)
def test_order_and_edges(how, expected):
    assert told(STEP, Construction(**how)) == expected


def test_garter_works_each_chart_row_there_and_back():
    there, back = [("B", 3, 1, 2), ("A", 1, 0, 1)], [("A", 0, 1, 1), ("B", 1, 3, 2)]
    runs = told(STEP, Construction(fabric="garter"))
    assert runs[:4] == [(1, *run) for run in there] + [(2, *run) for run in back]
    assert [run[0] for run in runs] == [1, 1, 2, 2, 3, 3, 4, 4]
    assert runs[4:] == [(3, "B", 3, 2, 1), (3, "A", 2, 0, 2), (4, "A", 0, 2, 2), (4, "B", 2, 3, 1)]


def test_garter_in_rounds_goes_the_same_way_twice():
    runs = told(STEP, Construction(worked="rounds", fabric="garter"))
    assert (
        [run[1:] for run in runs[:2]]
        == [run[1:] for run in runs[2:4]]
        == [("B", 3, 1, 2), ("A", 1, 0, 1)]
    )


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ("AA..AA", [(1, "A", 6, 0, 4)]),  # does not break a run, uses no yarn
        ("..AAB.", [(1, "B", 5, 4, 1), (1, "A", 4, 2, 2)]),  # at the sides: belongs to no run
        ("AB..BA", [(1, "A", 6, 5, 1), (1, "B", 5, 1, 2), (1, "A", 1, 0, 1)]),
        ("A..B", [(1, "B", 4, 3, 1), (1, "A", 1, 0, 1)]),  # between two yarns: belongs to neither
    ],
)
def test_no_stitch(row, expected):
    assert told([row]) == expected


@pytest.mark.parametrize(
    ("how", "row", "name", "leftwards"),
    [
        (Construction(), 0, "row 1 (RS)", True),
        (Construction(), 3, "row 4 (WS)", False),
        (Construction(first_row="WS", hand="left"), 0, "row 1 (WS)", True),
        (Construction(fabric="garter"), 9, "row 10 (WS, ridge 5)", False),
        (Construction(worked="rounds"), 4, "round 5", True),
        (Construction(worked="rounds", hand="left"), 4, "round 5", False),
        (Construction(worked="turned"), 4, "round 5 (RS)", True),
        (Construction(worked="turned", hand="left"), 5, "round 6 (WS)", True),
        (Construction("turned", "WS", fabric="garter"), 4, "round 5 (WS, ridge 3)", False),
    ],
)
def test_how_a_row_is_said_and_worked(how, row, name, leftwards):
    assert how.row_name(row) == name
    assert how.runs_leftwards(row) == leftwards


@pytest.mark.parametrize(
    ("how", "expected"),
    [
        # 3 columns, so 4 edges a row; row 1 from edge 3 down, row 2 from edge 0 up
        ({}, [0, 2, 4, 6]),
        ({"hand": "left"}, [0, 1, 4, 5]),
        ({"worked": "rounds"}, [0, 2, 4, 5]),
        ({"worked": "turned"}, [0, 2, 4, 6]),
    ],
)
def test_places(how, expected):
    """By eye: row × 4, and the stitches of its row that are worked before the run."""
    runs = find_runs(Chart.from_rows(STEP), Construction(**how))
    assert runs.place.tolist() == expected


def test_a_place_does_not_depend_on_the_runs_before():
    """B begins after three stitches of row 2, whatever colours come before it."""
    places = []
    for rows in (["AAABB", "AAAAA"], ["ACABB", "CACAC"]):
        chart = Chart.from_rows(rows)
        runs = find_runs(chart, Construction())
        places.append(runs.place[runs.yarn == chart.letters.index("B")].tolist())
    assert places == [[6 + 3]] * 2


def test_some_of_the_runs():
    runs = find_runs(Chart.from_rows(STEP), Construction())
    some = runs.only(runs.yarn == 1)
    assert some.count == 2
    assert some.row.tolist() == [0, 1]
    assert (some.rows, some.columns, some.tube) == (2, 3, False)
    assert some.leftwards.tolist() == [True, False]
