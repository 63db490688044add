"""Edges, and stitches to pick up along them: counted by hand, and by exact fractions."""

from collections import Counter
from fractions import Fraction

import numpy as np
import pytest

from planner.errors import PlanError
from planner.finishing import edge_stitches, edges_of, in_rhythm, pick_up, pick_up_in_words, spread
from planner.piece import Construction, Gauge, Yarn
from tests.helpers.choices import embroider
from tests.helpers.plans import every_random_plan, plan_of, random_plan

# Seen from the right side, top row first: shoulders, a neck, an armhole at either side.
FRONT = [
    "..AA...BB..",
    "..AA...BB..",
    "..AABBBBB..",
    "..AABBBBB..",
    "AAAABBBBBBB",
    "AAAABBBBBBB",
]


def order_of(plan, edge):
    return [(each.yarn, each.row, each.column) for each in edge_stitches(plan, edge)]


@pytest.mark.parametrize(
    ("rows", "every", "stitches"),
    [(28, 7, 5), (96, 7, 5), (40, 4, 3), (30, 3, 2), (17, 17, 12)],
)
def test_a_side_takes_the_stitches_of_its_height(rows, every, stitches):
    """20 stitches and 28 rows: 5 in 7; 3 in 4 and 2 in 3 (common practice, no source)."""
    plan = plan_of(["A" * 5] * rows, gauge=Gauge(stitches, every))
    (picked,) = pick_up(plan, "right edge")
    exact = Fraction(rows * stitches, every)
    assert abs(picked.stitches - exact) <= Fraction(1, 2)
    assert (picked.rows, picked.edge_stitches) == (rows, 0)


def test_colours_share_the_stitches_of_a_side():
    """By hand: 12 rows of A, 7 of B, 9 of A at 5 in 7 are 20 stitches in 28 rows; 12 rows are 8 4/7
    of them, the next 7 are 5."""
    plan = plan_of(["A" * 4] * 9 + ["B" * 4] * 7 + ["A" * 4] * 12)
    up = [(each.yarn, each.stitches, each.rows) for each in pick_up(plan, "right edge")]
    assert up == [("A", 9, 12), ("B", 5, 7), ("A", 6, 9)]
    # Along the left edge the hand comes from the top.
    down = [(each.yarn, each.rows) for each in pick_up(plan, "left edge")]
    assert down == [("A", 9), ("B", 7), ("A", 12)]


def test_nothing_is_ever_far_from_even():
    """Any stretch of places has its share, to less than one stitch (exact fractions)."""
    for total, places in [(69, 96), (5, 7), (1, 30), (30, 30), (45, 30), (0, 4), (13, 17)]:
        laid = spread(total, places)
        assert sum(laid) == total
        reached = np.concatenate(([0], np.cumsum(laid))).tolist()
        for first in range(places):
            for last in range(first + 1, places + 1):
                share = Fraction((last - first) * total, places)
                assert abs(reached[last] - reached[first] - share) < 1


@every_random_plan
def test_every_stitch_of_an_edge_is_counted_once(number):
    plan = random_plan(number)
    cells, letters = plan.project.chart.cells, plan.project.chart.letters
    rows = plan.traced.runs.rows
    for edge in edges_of(plan):
        stitches = edge_stitches(plan, edge)
        assert len(set(stitches)) == len(stitches)
        for each in stitches:
            chart_row = each.row // plan.traced.how.rows_per_chart_row
            assert letters[cells[chart_row, each.column]] == each.yarn
        picked = pick_up(plan, edge)
        assert sum(each.rows for each in picked) + sum(
            each.edge_stitches for each in picked
        ) == len(stitches)
        if "edge" in edge and edge.split()[0] in ("right", "left"):
            assert sorted(each.row for each in stitches) == list(range(rows))
            total = sum(each.stitches for each in picked)
            ratio = plan.project.gauge.stitches_per_cm / plan.project.gauge.rows_per_cm
            assert abs(total - rows * ratio) <= Fraction(1, 2)
        else:
            colours = Counter(each.yarn for each in stitches)
            assert colours == +Counter(
                {
                    letter: int((cells[0 if "cast" in edge else -1] == y).sum())
                    for y, letter in enumerate(letters)
                }
            )


def test_the_hand_goes_from_the_right_to_the_left_with_the_fabric_below():
    """By hand, with a paper of the chart turned so that each edge lies on top."""
    plan = plan_of(["AB", "CD"])
    assert [yarn for yarn, *_ in order_of(plan, "cast-on edge")] == ["C", "D"]
    assert [yarn for yarn, *_ in order_of(plan, "bind-off edge")] == ["B", "A"]
    assert [yarn for yarn, *_ in order_of(plan, "right edge")] == ["D", "B"]
    assert [yarn for yarn, *_ in order_of(plan, "left edge")] == ["A", "C"]
    left_handed = plan_of(["AB", "CD"], how=Construction(hand="left"))
    for edge in edges_of(plan):
        assert order_of(left_handed, edge)[::-1] == order_of(plan, edge)
    assert "from the cast-on edge up" in pick_up_in_words(plan, "right edge")[0]
    assert "from the bind-off edge down" in pick_up_in_words(left_handed, "right edge")[0]


def test_a_front_with_armholes_and_a_neck():
    """By hand: at each side 6 rows and 2 stitches bound off; round the neck 2 rows, 3 stitches, 2
    rows."""
    plan = plan_of(FRONT)
    assert "opening at the top" in edges_of(plan)
    right = edge_stitches(plan, "right edge")
    bound_off = [(each.row, each.column) for each in right if not each.is_row]
    assert bound_off == [(1, 10), (1, 9)]
    assert sum(each.is_row for each in right) == 6
    left = [(each.row, each.column) for each in edge_stitches(plan, "left edge")]
    assert left == [(5, 2), (4, 2), (3, 2), (2, 2), (1, 1), (1, 0), (1, 0), (0, 0)]
    neck = order_of(plan, "opening at the top")
    assert neck == [
        *(("B", 5, 7), ("B", 4, 7)),
        *(("B", 3, 6), ("B", 3, 5), ("B", 3, 4)),
        *(("A", 4, 3), ("A", 5, 3)),
    ]
    words = pick_up_in_words(plan, "opening at the top")
    assert "down its right side, along its bottom and up its left side" in words[0]
    assert words[-2:] == ["5 B over 2 rows and 3 edge stitches", "1 A over 2 rows"]


def test_garter_counts_both_rows_of_a_ridge_and_a_band_may_have_its_own_gauge():
    plan = plan_of(["AA"] * 10, how=Construction(fabric="garter"), gauge=Gauge(20, 40))
    (ridges,) = pick_up(plan, "left edge")
    assert (ridges.stitches, ridges.rows) == (10, 20)  # one stitch in each ridge
    (closer,) = pick_up(plan, "left edge", band_stitches=24)
    assert closer.stitches == 12


def test_what_is_embroidered_at_an_edge_shows_its_own_colour():
    yarns = {"A": Yarn("A", "Grey"), "B": Yarn("B", "Red")}
    plan = plan_of(["AAB"] * 7, yarns, choices=(embroider("B", 1, 1),))
    assert plan.traced.count == 1
    assert pick_up_in_words(plan, "right edge")[-1] == "5 B Red over 7 rows"


def test_a_tube_has_no_sides():
    plan = plan_of(["AB"] * 4, how=Construction(worked="turned"))
    assert edges_of(plan) == ["cast-on edge", "bind-off edge"]
    with pytest.raises(PlanError, match="right edge"):
        pick_up(plan, "right edge")


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (Fraction(5, 7), "5 stitches in 7 rows, 2 rows in 7 missed, evenly"),
        (Fraction(1), "a stitch in each row"),
        (Fraction(20, 29), "about 2 stitches in 3 rows, 1 row in 3 missed, evenly"),
        (Fraction(4, 3), "4 stitches in 3 rows, some rows take two"),
        (Fraction(1, 30), "about 1 stitch in 9 rows, 8 rows in 9 missed, evenly"),
    ],
)
def test_the_ratio_in_words(ratio, words):
    assert in_rhythm(ratio) == words
