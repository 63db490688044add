"""Legs: where carried yarn lies and hangs, seen by eye on two to four rows."""

import pytest

from planner import CarryLimits, Chart, Construction, trace_strands
from planner.cards.legs import Legs
from planner.strands import Walk

FLAT, TURNED = Construction(), Construction(worked="turned")

# Row 1 is worked leftwards from edge 12, row 2 rightwards. B leaves row 1 at edge 2 and comes in
# row 2 at edge 2 as well, so its link is 0 long; in the other pieces it is moved.
STILL = ["AABBBBBBBBAA", "AABBBBBBBBAA"]
HALVES = ["AAAAAAAAABBBBBBBB", "ABBBBBBBBAAAAAAAA"]


def legs_in(rows, how=FLAT, **limits):
    limits.setdefault("middle_start", False)
    strands = trace_strands(Chart.from_rows(rows), how, limits=CarryLimits(**limits))
    return Legs(strands, Walk(strands))


def test_where_yarns_hang_after_each_row():
    """By eye: A on the right hangs where it left, at edge 10; B where it left or was woven to."""
    hanging = legs_in(STILL).hanging()
    assert hanging == {0: [("A2", 0), ("B1", 2), ("A1", 10)]}
    woven = legs_in(["BBBBBBBBAAAA", "AAABBBBBBBAA"]).hanging()
    assert ("B1", 0) in woven[0]
    slack = legs_in(["BBBBBBBBAAAA", "AABBBBBBBBAA"]).hanging()
    assert ("B1", 2) in slack[0]
    back = legs_in(["AAAABBBBBBAA", "AABBBBBBBBAA"]).hanging()
    assert ("B1", 2) in back[0]


def test_a_yarn_hangs_through_the_rows_that_it_is_carried_past():
    """By eye: A leaves row 1 at edge 0 and is taken up again in row 4; B is worked in between."""
    hanging = legs_in(["AAA", "BBB", "BBB", "AAA"], sideways=3, up=2).hanging()
    assert hanging == {0: [("A1", 0)], 1: [("B1", 3), ("A1", 0)], 2: [("A1", 0)]}


def test_an_open_half_hangs_where_the_second_half_begins():
    hanging = legs_in(HALVES, sideways=2, up=0, middle_start=True).hanging()
    assert ("B1b", 9) in hanging[0]


# Where carried yarn lies


def legs_of(rows, how=FLAT, label="B1", **limits):
    """Where each carry of a strand lies: row, edges, whether the row passes it on the way; and
    behind how many stitches."""
    limits = {"sideways": 12, "up": 2} | limits
    ways = legs_in(rows, how, **limits)
    legs = []
    for link, a in enumerate(ways.first_run):
        if ways.walk.label(a) == label:
            told = [(leg.row, leg.start, leg.stop, leg.ahead) for leg in ways.of(link)]
            legs.append((told, sum(map(ways.stitches, ways.of(link)))))
    return legs


@pytest.mark.parametrize(
    ("rows", "how", "legs"),
    [
        (STILL, FLAT, [([], 0)]),
        # taken along behind row 1, from edge 4 to edge 0
        (["BBBBAAAAAAAA", "AAAABBBBBBAA"], FLAT, [([(0, 4, 0, True)], 4)]),
        # two stitches: left where it is, and behind its own run in row 2
        (["AABBBBAAAAAA", "AAAABBBBBBAA"], FLAT, [([(1, 4, 2, False)], 2)]),
        # farther on in row 2, which passes it on the way
        (["AAAAAAAABBAA", "AAAABBBBBBAA"], FLAT, [([(1, 4, 8, True)], 4)]),
        # in rounds a float behind its own run
        (["AAAABBBBBBAA"] * 2, Construction(worked="rounds"), [([(1, 4, 10, False)], 6)]),
        # over the join: to it behind row 1, from it behind row 2
        (
            ["AAAAAAAAABBA", "AABBAAAAAAAA"],
            TURNED,
            [([(0, 2, 0, True), (1, 12, 9, False)], 5)],
        ),
        # two rows later both ends of the way lie in the row that it is wanted in
        (
            ["ABBAAAAAAAAA", "AAAAAAAAAAAA", "AAAAAAAAAABB"],
            TURNED,
            [([(2, 10, 12, False), (2, 0, 3, False)], 5)],
        ),
        # beside cells without a stitch it rests at the last stitch that row 1 passes; a column that
        # row 2 has and row 1 has not comes on top
        (["BBBBAAAAAAAA", ".AAAABBBBBAA"], FLAT, [([(0, 5, 1, True), (1, 1, 0, False)], 5)]),
        # the same places with a selvedge, which is worked with the stitch at the edge
        (
            ["BBBBAAAAAAAA", "AAAABBBBBBAA"],
            Construction(selvedge=2),
            [([(0, 4, 0, True)], 6)],
        ),
    ],
)
def test_where_a_carry_lies(rows, how, legs):
    assert legs_of(rows, how) == legs
