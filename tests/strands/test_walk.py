"""The walk: where each yarn comes from and goes, seen by eye on two or three rows."""

import pytest

from planner import CarryLimits, Chart, Construction, trace_strands
from planner.strands import MIDDLE, ON, Walk

FLAT, ROUNDS = Construction(), Construction(worked="rounds")
TURNED = Construction(worked="turned")

# Row 1 is worked leftwards from edge 12, row 2 rightwards. B leaves row 1 at edge 2 and comes in
# row 2 at edge 2 as well, so its link is 0 long; in the other pieces it is moved.
STILL = ["AABBBBBBBBAA", "AABBBBBBBBAA"]


def walk_of(rows, how=FLAT, **limits):
    limits.setdefault("middle_start", False)
    return Walk(trace_strands(Chart.from_rows(rows), how, limits=CarryLimits(**limits)))


def on_link(walk, label):
    """The number of the link on which a strand goes on to the next row."""
    a = walk.links.a.tolist()
    found = [i for i in range(walk.links.count) if walk.label(a[i]) == label]
    (link,) = [i for i in found if walk.links.kind[i] == ON]
    return link


@pytest.mark.parametrize(
    ("rows", "how", "forward", "woven"),
    [
        (STILL, FLAT, 0, False),
        # B leaves at edge 2, worked leftwards, and comes at edge 1: one stitch on is not woven
        (["ABBBBBBBBAAA", "AABBBBBBBBAA"], FLAT, 1, False),
        (["BBBBBBBBAAAA", "AABBBBBBBBAA"], FLAT, 2, True),
        # more than half of the row ahead, which on a tube is the longer way
        (["BBAAAAAAAAAA", "AAAAAAAABBAA"], FLAT, 8, True),
        (["BBAAAAAAAAAA", "AAAAAAAABBAA"], TURNED, 8, False),
        # half of the tube: along the row, as flat
        (["AABBAAAAAAAA", "AAAAAAAABBAA"], TURNED, 6, True),
        (["AAAABBAAAAAA", "AAAAAAAABBAA"], TURNED, 4, True),
        # comes at edge 4, where row 1 has been already
        (["AAAABBBBBBAA", "AABBBBBBBBAA"], FLAT, -2, False),
        # worked rightwards first: B leaves at edge 10 and comes at edge 12
        (["AAAABBBBBBBB", "AABBBBBBBBAA"], Construction(first_row="WS"), 2, True),
        (["AABBBBBBAAAA", "AABBBBBBBBAA"], Construction(first_row="WS"), -2, False),
        # leftwards in both rounds: from edge 10 to edge 11 is back; a float is never woven
        (["AAAAAAAAABBA", "AAAAAAAAAABB"], ROUNDS, -1, False),
        # from edge 10 to edge 4, along the chart: ahead, and a float all the same
        (["AABBAAAAAAAA", "AAAAAAAAAABB"], ROUNDS, 6, False),
    ],
)
def test_how_far_ahead_a_yarn_goes_on(rows, how, forward, woven):
    walk = walk_of(rows, how, sideways=12)
    link = on_link(walk, "B1")
    assert walk.forward[link] == forward
    assert walk.woven(link) == woven


@pytest.mark.parametrize(
    ("rows", "how", "across"),
    [
        # row 1 leftwards, row 2 rightwards: B leaves at edge 2 and comes at edge 9
        (["AAAAAAAAABBA", "AABBAAAAAAAA"], TURNED, True),
        (["AAAAAAAAABBA", "AABBAAAAAAAA"], FLAT, False),
        (["AAAAAAAAABBA", "AABBAAAAAAAA"], ROUNDS, False),
        # half of the tube both ways
        (["AAAAAAAABBAA", "AABBAAAAAAAA"], TURNED, False),
        # back: it leaves at edge 10 and comes at edge 1
        (["ABBAAAAAAAAA", "AAAAAAAAAABB"], TURNED, True),
        # a stitch on each side of the join, and where the round ends and the next begins
        (["AAAAAAAAAAAB", "BAAAAAAAAAAA"], TURNED, True),
        (["BAAAAAAAAAAA", "BAAAAAAAAAAA"], TURNED, False),
        # with two rounds between, of another yarn: from edge 0 to edge 11
        (["AAAAAAAAAAAB", "AAAAAAAAAAAA", "AAAAAAAAAAAA", "BAAAAAAAAAAA"], TURNED, True),
    ],
)
def test_across_the_join(rows, how, across):
    walk = walk_of(rows, how, sideways=12, up=2)
    (link,) = [i for i, a in enumerate(walk.links.a.tolist()) if walk.label(a) == "B1"]
    assert walk.across_join(link) == across
    if across:
        assert not walk.woven(link)


def test_a_middle_start_at_the_join():
    """By eye: B enters round 1 at edge 4, leftwards, and round 2 at edge 0. That is one place, so
    it may be one length begun from its middle there; flat it may not."""
    rows = ["BBCC", "AABB"]
    turned, flat = (walk_of(rows, how, sideways=0, middle_start=True) for how in (TURNED, FLAT))
    (link,) = set(turned.middle.values())
    assert turned.links.shift[link] == 0
    assert flat.middle == {}


def test_a_carry_up_is_not_woven():
    """B leaves row 1 at edge 2 and comes in row 3, four stitches ahead, at edge 6."""
    walk = walk_of(["AABBBBAA", "AAAAAAAA", "AABBAAAA"], Construction(first_row="WS"), up=1)
    (link,) = [i for i in range(walk.links.count) if walk.links.skipped[i] == 1]
    assert not walk.woven(link)
    assert walk.label(int(walk.links.a[link])) == "B1"


def test_out_and_into():
    """By eye: B, run 1, goes on as run 4, A on both sides at the edge where it is."""
    walk = walk_of(STILL)
    pairs = list(zip(walk.links.a.tolist(), walk.links.b.tolist(), strict=True))
    assert sorted(pairs) == [(0, 5), (1, 4), (2, 3)]
    for number, (a, b) in enumerate(pairs):
        assert walk.out[a] == walk.into[b] == number
    assert set(walk.out) == {0, 1, 2}
    assert set(walk.into) == {3, 4, 5}
    assert walk.middle == {}


# B comes at edge 9 in both rows: leftwards in row 1 and rightwards in row 2. So one length begun
# from its middle works both.
HALVES = ["AAAAAAAAABBBBBBBB", "ABBBBBBBBAAAAAAAA"]


def test_a_middle_start():
    """By eye: the two runs of B are halves of one strand; all others are whole."""
    walk = walk_of(HALVES, sideways=2, up=0, middle_start=True)
    first, second = (run for run in range(walk.runs.count) if walk.label(run) == "B1")
    link = walk.middle[first]
    assert walk.links.kind[link] == MIDDLE
    assert walk.middle == {first: link, second: link}
    assert link not in walk.out.values()
    assert link not in walk.into.values()
    assert (walk.title(first), walk.title(second)) == ("B1a", "B1b")
    others = {walk.title(run) for run in range(walk.runs.count) if run not in (first, second)}
    assert others == {"A1", "A2"}


def test_where_yarns_hang_after_each_row():
    """By eye: A on the right hangs where it left, at edge 10; B where it left or was woven to."""
    hanging = walk_of(STILL).hanging()
    assert hanging == {0: [("A2", 0), ("B1", 2), ("A1", 10)]}
    woven = walk_of(["BBBBBBBBAAAA", "AABBBBBBBBAA"]).hanging()
    assert ("B1", 0) in woven[0]
    back = walk_of(["AAAABBBBBBAA", "AABBBBBBBBAA"]).hanging()
    assert ("B1", 2) in back[0]


def test_a_yarn_hangs_through_the_rows_that_it_is_carried_past():
    """By eye: A leaves row 1 at edge 0 and is taken up again in row 4; B is worked in between."""
    hanging = walk_of(["AAA", "BBB", "BBB", "AAA"], sideways=3, up=2).hanging()
    assert hanging == {0: [("A1", 0)], 1: [("B1", 3), ("A1", 0)], 2: [("A1", 0)]}


def test_an_open_half_hangs_where_the_second_half_begins():
    hanging = walk_of(HALVES, sideways=2, up=0, middle_start=True).hanging()
    assert ("B1b", 9) in hanging[0]
