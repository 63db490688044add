"""Links: which runs a yarn may go on to, seen by eye on a few rows.

Runs are numbered in working order. Row 1 is the bottom row and, unless said otherwise, worked
leftwards; edges count from the left. A link is (kind, first run, second run, shift, rows skipped).
"""

import numpy as np
import pytest

from planner import Chart, Construction
from planner.strands.links import ACROSS, MIDDLE, ON, UP, Links, add_carries, find_links
from planner.strands.runs import find_runs

FLAT, BACK = Construction(), Construction(first_row="WS")
ROUNDS = Construction(worked="rounds")
LEFT_ROUNDS = Construction(worked="rounds", hand="left")
TURNED = Construction(worked="turned")


def listed(links):
    arrays = (links.kind, links.a, links.b, links.shift, links.skipped)
    return list(zip(*(array.tolist() for array in arrays), strict=True))


def links_of(rows, how=FLAT, *, across=0, sideways=0, up=0, middle=False):
    """All links of a chart under one set of limits for all of its yarns."""
    chart = Chart.from_rows(rows)
    each = len(chart.letters)
    limits = ([limit] * each for limit in (across, sideways, up, middle))
    return listed(find_links(find_runs(chart, how), *limits))


# Across: from A B A B A each yarn leaves its run where the next colour begins.


@pytest.mark.parametrize("how", [FLAT, BACK])
@pytest.mark.parametrize(
    ("across", "expected"),
    [
        (0, []),
        (1, [(ACROSS, 0, 2, 1, 0), (ACROSS, 1, 3, 1, 0), (ACROSS, 2, 4, 1, 0)]),
        (2, [(ACROSS, 0, 2, 1, 0), (ACROSS, 1, 3, 1, 0), (ACROSS, 2, 4, 1, 0)]),
        (
            3,
            [
                (ACROSS, 0, 2, 1, 0),
                (ACROSS, 1, 3, 1, 0),
                (ACROSS, 0, 4, 3, 0),
                (ACROSS, 2, 4, 1, 0),
            ],
        ),
    ],
)
def test_across_onwards_in_the_row(how, across, expected):
    assert links_of(["ABABA"], how, across=across) == expected


def test_across_in_rounds_does_not_go_round():
    """From the last A of a round to its first is ahead only in the next round."""
    assert links_of(["ABBBBA"], ROUNDS, across=6) == [(ACROSS, 0, 2, 4, 0)]


# On: B leaves row 1 at edge 1 and comes back at edge 2; A leaves at the edge where it comes.

STEP = ["AAB", "ABB"]


def test_on_to_the_next_row():
    assert links_of(STEP, sideways=0) == [(ON, 1, 2, 0, 0)]
    assert links_of(STEP, sideways=1) == [(ON, 1, 2, 0, 0), (ON, 0, 3, 1, 0)]


@pytest.mark.parametrize(
    ("rows", "how", "shift"),
    [
        # flat, rightwards in row 2: A leaves at edge 4 and comes at edge 0
        (["ABBBBB", "BBBBAB"], FLAT, 4),
        # leftwards in both rounds: from edge 4 to edge 1, and the other way round 6 − 3
        (["ABBBBB", "BBBBAB"], ROUNDS, 3),
        # from edge 5 to edge 1: the way over the seam is shorter
        (["ABBBBB", "BBBBBA"], ROUNDS, 2),
        # rightwards in both rounds: from edge 1 to edge 5, over the seam again
        (["BBBBBA", "ABBBBB"], LEFT_ROUNDS, 2),
        # from edge 0 to edge 6, which are one place on a tube
        (["BBBBBA", "ABBBBB"], ROUNDS, 0),
        (["BBBBBA", "ABBBBB"], BACK, 5),
        # turned: row 1 leftwards from edge 6 to edge 0, row 2 from there rightwards
        (["ABBBBB", "ABBBBB"], TURNED, 0),
        (["BBBBBA", "ABBBBB"], TURNED, 1),
        (["BBBABB", "ABBBBB"], TURNED, 3),
        (["ABBBBB", "BBBBBA"], TURNED, 1),
    ],
)
def test_how_far_a_yarn_is_shifted(rows, how, shift):
    of_a = find_runs(Chart.from_rows(rows), how)
    first, second = np.flatnonzero(of_a.yarn == 0).tolist()
    link = (ON, first, second, shift, 0)
    assert link in links_of(rows, how, sideways=shift)
    assert link in links_of(rows, how, sideways=1000)
    assert not shift or link not in links_of(rows, how, sideways=shift - 1)


def test_round_a_tube_a_run_is_found_once():
    """A reach of half the tube finds a run both ways round."""
    assert links_of(["ABBB", "BBAB"], ROUNDS, sideways=4).count((ON, 1, 4, 1, 0)) == 1
    assert len(links_of(["ABBB", "BBAB"], ROUNDS, sideways=4)) == 1 + 2


# Up: B is 1 stitch in row 1 and leaves it at edge 3; in row 3 it comes at edge 3.


@pytest.mark.parametrize(
    ("between", "rests"),
    [
        ("AAAAAA", True),
        ("ABAAAA", True),  # edges 1 and 2
        ("AABAAA", False),  # edges 2 and 3: touches
        ("AAABAA", False),  # edges 3 and 4: touches
        ("AAAABA", True),  # edges 4 and 5
        ("ABBBBB", False),  # edges 1 and 6: reaches over it
        ("BBAABB", True),  # edges 0 and 2, 4 and 6
        ("BABBAB", False),  # edges 2 and 4
        ("CCCCCC", True),  # another yarn is not in the way
    ],
)
def test_a_yarn_goes_up_only_where_it_can_rest(between, rests):
    rows = ["AABAAA", between, "AAABAA"]
    runs = find_runs(Chart.from_rows(rows), FLAT)
    b = np.flatnonzero((runs.yarn == 1) & (runs.row != 1)).tolist()
    assert ((UP, *b, 0, 1) in links_of(rows, up=1)) == rests


@pytest.mark.parametrize(
    ("how", "rows", "rests"),
    [
        # leaves at edge 0, which is edge 6 too; in round 2 B has edges 5 and 6, then 4 and 5
        (ROUNDS, ["AAAAAB", "AAAAAB", "BAAAAA"], False),
        (ROUNDS, ["AAAAAB", "AAAABA", "BAAAAA"], True),
        (FLAT, ["BAAAAA", "AAAAAB", "BAAAAA"], True),
        # leaves at edge 6, which is edge 0 too
        (LEFT_ROUNDS, ["BAAAAA", "BAAAAA", "AAAAAB"], False),
        (LEFT_ROUNDS, ["BAAAAA", "ABAAAA", "AAAAAB"], True),
    ],
)
def test_a_yarn_rests_round_a_tube(how, rows, rests):
    runs = find_runs(Chart.from_rows(rows), how)
    first, _, last = np.flatnonzero(runs.yarn == 1).tolist()
    found = [link[:3] for link in links_of(rows, how, up=1, sideways=1)]
    assert ((UP, first, last) in found) == rests


@pytest.mark.parametrize(("up", "reached"), [(0, []), (1, [1]), (2, [1, 2]), (9, [1, 2, 3])])
def test_up_as_far_as_the_limit(up, reached):
    """B at the left edge of row 1, then of rows 3, 4 and 5 at places where it hangs in no way."""
    rows = ["AAAAB", "AAABA", "AABAA", "AAAAA", "BAAAA"]
    found = links_of(rows, up=up, sideways=5)
    assert [skipped for kind, a, _, _, skipped in found if kind == UP and a == 1] == reached


def test_limits_are_by_yarn():
    """A and C come in row 4 at the edges where they left row 1; two rows of B lie in between."""
    runs = find_runs(Chart.from_rows(["AC", "BB", "BB", "AC"]), FLAT)
    a, c = (UP, 1, 4, 0, 2), (UP, 0, 5, 0, 2)
    for up, expected in (([2, 0, 1], [a]), ([1, 0, 2], [c]), ([2, 0, 2], [a, c])):
        found = listed(find_links(runs, [0] * 3, [0] * 3, up, [False] * 3))
        assert [link for link in found if link[0] == UP] == expected


# Middle starts: in A B A of one row, A comes at edges 3 and 1.


def test_middle_starts_in_one_row():
    assert links_of(["ABA"], across=1, middle=True) == [(ACROSS, 0, 2, 1, 0)]
    assert links_of(["ABA"], across=2, middle=True) == [(ACROSS, 0, 2, 1, 0), (MIDDLE, 0, 2, 2, 0)]
    assert links_of(["ABA"], across=2) == [(ACROSS, 0, 2, 1, 0)]


def test_middle_starts_in_the_next_row():
    """A comes at edge 4 in row 1 and leaves at edge 3; in row 2 it comes at edge 4."""
    rows = ["BBBBA", "BBBAB"]
    on, middle = (ON, 1, 4, 1, 0), (MIDDLE, 1, 4, 0, 0)
    assert links_of(rows, sideways=0, middle=True).count(middle) == 1
    assert on not in links_of(rows, sideways=0, middle=True)
    assert {on, middle} <= set(links_of(rows, sideways=1, middle=True))
    assert middle not in links_of(rows, sideways=1)


def test_no_middle_start_two_rows_on():
    rows = ["A", "B", "A"]
    assert links_of(rows, sideways=1, up=1, middle=True) == [(UP, 0, 2, 1, 1)]


# What holds of all of them


def test_a_limit_beyond_the_piece_changes_nothing():
    rows = ["ABA", "BAB", "ABA"]
    for how in (FLAT, ROUNDS):
        wide = links_of(rows, how, across=3, sideways=3, up=1, middle=True)
        farthest = 2**63 - 1
        assert wide == links_of(
            rows, how, across=farthest, sideways=farthest, up=farthest, middle=True
        )


def test_links_are_in_working_order():
    """By the run that a link leads to, then the run it comes from, then its kind."""
    found = links_of(["ABA", "BAB", "ABA"], across=3, sideways=3, up=1, middle=True)
    assert found == sorted(found, key=lambda link: (link[2], link[1], link[0]))
    assert len(found) == len(set(found))


def test_ports():
    """2 × run is where it enters, 2 × run + 1 where it leaves; all links lead to where one
    enters."""
    ones = np.ones(3, dtype=int)
    links = Links(np.array([ACROSS, UP, MIDDLE]), 4 * ones, 7 * ones, ones, 0 * ones)
    assert [port.tolist() for port in links.ports] == [[9, 9, 8], [14, 14, 14]]


# Carries that the knitter wants


def test_carries_are_added_whatever_the_limits():
    """A of row 1 leaves at edge 0 and 3; in row 2 it comes at edge 0, in row 4 at edge 1."""
    runs = find_runs(Chart.from_rows(["BABB", "BBBB", "BBBB", "AABA"]), FLAT)
    none = find_links(runs, [0, 0], [0, 0], [0, 0], [False] * 2)[np.zeros(0, dtype=int)]
    added = add_carries(none, runs, [(0, 2), (0, 6), (2, 6)])
    assert listed(added) == [(ACROSS, 0, 2, 1, 0), (UP, 0, 6, 2, 2), (UP, 2, 6, 1, 2)]


def test_a_carry_that_is_known_is_not_added_twice():
    runs = find_runs(Chart.from_rows(STEP), FLAT)
    known = find_links(runs, [0, 0], [0, 0], [0, 0], [True] * 2)
    assert listed(known) == [(ON, 1, 2, 0, 0)]
    added = add_carries(known, runs, [(1, 2), (0, 3)])
    assert listed(added) == [(ON, 1, 2, 0, 0), (ON, 0, 3, 1, 0)]


def test_a_middle_start_is_no_carry():
    """The two runs of A are joined at their entering edges already; the carry is another link."""
    runs = find_runs(Chart.from_rows(["ABA"]), FLAT)
    known = find_links(runs, [2, 2], [0, 0], [0, 0], [True] * 2)
    middle = known[known.is_middle]
    assert listed(add_carries(middle, runs, [(0, 2)])) == [
        (MIDDLE, 0, 2, 2, 0),
        (ACROSS, 0, 2, 1, 0),
    ]


def test_a_carry_round_a_tube_goes_the_shorter_way():
    """In the round A is 4 stitches on; to the next round, from edge 0 to edge 6, it is nothing."""
    runs = find_runs(Chart.from_rows(["BBBBBA", "ABBBBA"]), ROUNDS)
    none = find_links(runs, [0, 0], [0, 0], [0, 0], [False] * 2)[np.zeros(0, dtype=int)]
    added = add_carries(none, runs, [(0, 2), (2, 3)])
    assert listed(added) == [(ACROSS, 0, 2, 4, 0), (ON, 2, 3, 0, 0)]
