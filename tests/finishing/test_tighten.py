"""Borders to tighten, against a search of every pair of stitches."""

from planner.finishing import borders_to_tighten, loose_places
from planner.piece import Construction
from tests.helpers.plans import V, demo, every_random_plan, plan_of, random_plan
from tests.helpers.rows import worked_rows


@every_random_plan
def test_every_long_border_and_no_other(number):
    plan = random_plan(number)
    rows = ["".join(row) for row in plan.traced.chart.to_rows()]
    cloth = worked_rows(rows, plan.traced.how)
    wide = len(cloth[0])
    found = set()
    for stitch in range(1, wide):
        for first in range(len(cloth)):
            pair = cloth[first][-stitch], cloth[first][-stitch - 1]
            last = first
            while last + 1 < len(cloth) and pair == (
                cloth[last + 1][-stitch],
                cloth[last + 1][-stitch - 1],
            ):
                last += 1
            before = cloth[first - 1] if first else "?" * wide
            is_longest = (before[-stitch], before[-stitch - 1]) != pair
            if is_longest and pair[0] != pair[1] and "." not in pair and last - first >= 7:
                found.add((first, last, stitch, *pair))
    borders = borders_to_tighten(plan)
    assert {(b.first, b.last, b.stitch, b.right, b.left) for b in borders} == found
    lengths = [each.rows for each in borders]
    assert lengths == sorted(lengths, reverse=True)


def test_the_list_is_short_and_says_what_is_left_out():
    plan = plan_of(["ABABABABAB"] * 12)
    told = loose_places(plan)
    assert len(told) == 7
    assert told[0] == "Border over 12 rows: rows 1 to 12, between stitch 1 (B) and stitch 2 (A)."
    assert told[-1] == "And 3 more, none over more than 12 rows."


def test_new_strands_and_middle_starts_are_named():
    """By hand: the V begins from its middle in row 1; in row 2 nothing new begins."""
    told = loose_places(plan_of(V))
    assert any("begun from its middle: row 1 (RS), stitch 16" in line for line in told)
    told = loose_places(demo())
    strands = demo().strands
    begun = strands.first_row[(strands.first_row > 1) & ~strands.middle_start]
    (line,) = [line for line in told if line.startswith("First stitches")]
    assert str(begun.min()) in line
    assert str(begun.max()) in line


def test_one_new_strand_begins_in_one_row():
    told = loose_places(plan_of(["AABB", "AAAA"]))
    assert told == ["First stitches of new strands: row 2."]


def test_no_border_is_no_line():
    assert loose_places(plan_of(["AAAA"] * 20)) == []
    garter = plan_of(["AABB"] * 4, how=Construction(fabric="garter"))
    assert borders_to_tighten(garter)[0].rows == 8
