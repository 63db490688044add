"""Twists: the moves that clear a tangle, and whole plans fed from balls, row by row."""

import random
from collections import defaultdict
from dataclasses import asdict, replace
from functools import cache
from itertools import combinations, pairwise

import numpy as np
import pytest

from planner import CarryLimits, Chart, Construction, Gauge, Project, Yarn, make_plan
from planner.piece import BALL, OwnChoice
from planner.twists import (
    Tangle,
    as_word,
    best_row_to_clear,
    ledger_table,
    twist_ledger,
    what_to_do,
)
from tests.helpers.braids import artin, is_trivial, random_word, word_of
from tests.helpers.knitter import draw_chart, stretches
from tests.helpers.plans import FEW_THEN_MANY, WS_FIRST, plan_of

# Moves at the balls


def assert_moves_clear(tangle):
    """Turn the balls about each other as told, each half turn a crossing next to the balls, and see
    that all is free."""
    order, crossings = list(tangle.table), list(tangle.crossings)
    for a, b, half in tangle.moves():
        assert half != 0
        for _ in range(abs(half)):
            i = min(order.index(a), order.index(b))
            assert {order[i], order[i + 1]} == {a, b}
            order[i], order[i + 1] = order[i + 1], order[i]
            crossings.insert(0, (order[i], order[i + 1], 1 if half > 0 else -1))
    word, at_needle = word_of(order, crossings)
    assert at_needle == tangle.needle
    assert tuple(order) == tangle.needle
    assert is_trivial(word, len(order))


def random_tangle(rng, n, length):
    order, crossings = list("ABCDE"[:n]), []
    for letter in random_word(rng, n, length):
        i = abs(letter) - 1
        crossings.append((order[i], order[i + 1], 1 if letter > 0 else -1))
        order[i], order[i + 1] = order[i + 1], order[i]
    return Tangle(1, tuple("ABCDE"[:n]), tuple(order), tuple(crossings), "")


@pytest.mark.parametrize("n", [2, 3, 4, 5])
def test_moves_at_the_balls_clear(n):
    rng = random.Random(20 + n)
    for _ in range(60):
        tangle = random_tangle(rng, n, rng.randrange(1, 25))
        assert_moves_clear(tangle)
        word, needle = word_of(tangle.table, tangle.crossings)
        assert tangle.clear is (needle == tangle.table and is_trivial(word, n))
        assert (tangle.moves() == []) is tangle.clear


def test_one_ball_passed_round_another():
    """By hand: two yarns twisted once fully come free when one ball passes once round the other,
    the other way."""
    for sign, way in ((1, "anticlockwise"), (-1, "clockwise")):
        tangle = Tangle(1, ("A", "B"), ("A", "B"), (("A", "B", sign), ("B", "A", sign)), "")
        assert tangle.linking == {("A", "B"): sign}
        assert tangle.in_words() == f"pass ball A once round ball B, {way}"
    double = Tangle(1, ("A", "B"), ("A", "B"), (("A", "B", 1), ("B", "A", 1)) * 2, "")
    assert double.in_words() == "pass ball A 2 times round ball B, anticlockwise"
    half = Tangle(1, ("A", "B"), ("B", "A"), (("A", "B", 1),), "")
    assert half.in_words() == "pass ball A half way round ball B, anticlockwise"


def test_commutator_links_nothing_and_is_not_clear():
    """A12 A23 A12⁻¹ A23⁻¹ (computed): all linking numbers are 0, yet the yarns are not free."""
    a, b = [("A", "B", 1), ("B", "A", 1)], [("B", "C", 1), ("C", "B", 1)]
    a_back, b_back = [("A", "B", -1), ("B", "A", -1)], [("B", "C", -1), ("C", "B", -1)]
    tangle = Tangle(1, ("A", "B", "C"), ("A", "B", "C"), (*a, *b, *a_back, *b_back), "")
    assert tangle.linking == {}
    assert artin(as_word("ABC", tangle.crossings), 3) != artin([], 3)
    assert not tangle.clear
    assert tangle.in_words().startswith("pass ball ")
    assert_moves_clear(tangle)


def test_a_tangle_beyond_counting_is_given_by_its_numbers():
    """4,000 half twists are 2,000 turns of one ball; with one more only the linking is said."""
    half_twists = [("A", "B", 1), ("B", "A", 1)] * 2001
    most = Tangle(1, ("A", "B"), ("A", "B"), tuple(half_twists[:4000]), "")
    assert most.in_words() == "pass ball A 2000 times round ball B, anticlockwise"
    more = Tangle(1, ("A", "B"), ("B", "A"), tuple(half_twists[:4001]), "")
    assert more.in_words() == "tangled: A and B +2000.5"


# Whole plans, all strands fed from balls


def fed_from_balls(rows, how=None, limits=None):
    """A plan whose strands are all fed from balls, as its knitter chose."""
    yarns = {letter: Yarn(letter) for letter in "ABCD"}
    asked = {"how": how or Construction(), "limits": limits or CarryLimits()}
    piece = Project("piece", Chart.from_rows(rows), yarns, Gauge(20, 25), **asked)
    choices = [
        OwnChoice("supply", s.yarn, s.first_row, s.first_stitch, "whole", BALL)
        for s in make_plan(piece).strands.itertuples()
    ]
    plan = make_plan(replace(piece, choices=tuple(choices)))
    assert set(plan.supplies.supply) == {BALL}
    return plan


STRIPES = "AAABBBCCCDDD"


FLAT = {
    "right-handed": Construction(),
    "left-handed": Construction(hand="left"),
    "WS first": Construction(first_row="WS"),
    "garter": Construction(fabric="garter"),
    "turned rounds": Construction(worked="turned"),
}


@pytest.mark.parametrize("first_turn", ["towards", "away"])
@pytest.mark.parametrize("name", FLAT)
@pytest.mark.parametrize("n", [2, 3, 4])
def test_a_row_and_the_row_back_cancel(name, n, first_turn):
    """RS row + turn + WS row + turn back is the identity (computed)."""
    plan = fed_from_balls([STRIPES[: 3 * n]] * 6, FLAT[name])
    ledger = twist_ledger(plan, first_turn=first_turn)
    turns = [tangle.turn for tangle in ledger]
    other = {"towards": "away", "away": "towards"}[first_turn]
    assert turns[:-1] == [(first_turn, other)[i % 2] for i in range(len(turns) - 1)]
    for tangle in ledger[1:-1:2]:
        word, needle = word_of(tangle.table, tangle.crossings)
        assert needle == tangle.table
        assert is_trivial(word, n)
        assert tangle.clear
        assert tangle.in_words() == "clear"
    for tangle in ledger[0:-1:2]:
        assert not tangle.clear
        assert what_to_do(ledger, tangle.row) == "undoes itself in the next row"


@pytest.mark.parametrize("first_turn", ["towards", "away"])
@pytest.mark.parametrize("n", [2, 3, 4])
def test_turning_always_the_same_way_gains_a_full_twist_in_two_rows(n, first_turn):
    """Same-way turns give one full twist of every pair in two rows (computed), here against
    (σ1…σn−1)ⁿ itself."""
    plan = fed_from_balls([STRIPES[: 3 * n]] * 7)
    ledger = twist_ledger(plan, first_turn=first_turn, same_way=True)
    assert {tangle.turn for tangle in ledger[:-1]} == {first_turn}
    sign = {"towards": 1, "away": -1}[first_turn]
    full = [sign * i for _ in range(n) for i in range(1, n)]
    for times, tangle in enumerate(ledger[1:-1:2], start=1):
        assert tangle.linking == dict.fromkeys(combinations(sorted(tangle.table), 2), sign * times)
        word, _ = word_of(tangle.table, tangle.crossings)
        assert is_trivial(word + [-letter for letter in full] * times, n)
        assert not tangle.clear
        assert_moves_clear(tangle)


@pytest.mark.parametrize("hand", ["right", "left"])
def test_over_the_join_and_back_leaves_nothing(hand):
    """By hand: turned, B's two stitches lie at one side of the join, then at the other for two
    rounds, then at the first again, so B goes over it in round 2 and back in the fourth. C, in the
    middle of A, never meets B, and B has gone round neither it nor the A it had a border with in a
    RS round and in a WS round."""
    first, second = "AAAAACCCAAABB", "BBAAACCCAAAAA"
    rows = [first, second, second, first] * 4
    if hand == "left":
        rows = [row[::-1] for row in rows]
    limits = CarryLimits(sideways=4, middle_start=False)
    plan = fed_from_balls(rows, Construction("turned", hand=hand), limits)
    assert plan.traced.labels == ("B1", "A1", "C1", "A2")
    for tangle in twist_ledger(plan)[3:15:4]:
        assert ("B1", "C1") not in tangle.linking
        assert ("A1", "B1") not in tangle.linking
        assert tangle.needle[0] == "B1"


@pytest.mark.parametrize("hand", ["right", "left"])
def test_rounds_are_never_turned(hand):
    """By hand: all rounds are RS, so the twists at the one border add up and nothing undoes
    them."""
    plan = fed_from_balls(
        ["AAAABBBB"] * 4, Construction(worked="rounds", hand=hand), CarryLimits(sideways=4)
    )
    ledger = twist_ledger(plan)
    assert [tangle.turn for tangle in ledger] == [""] * 4
    assert not any(tangle.clear for tangle in ledger if len(tangle.table) > 1)


HOW = [
    Construction(),
    Construction(hand="left", first_row="WS"),
    Construction(fabric="garter"),
    Construction(worked="rounds"),
    Construction(worked="turned"),
]


LIMITS = [CarryLimits(), CarryLimits(across=3, sideways=6, up=3), CarryLimits(middle_start=False)]


@cache
def random_plan(number):
    rows = draw_chart(30 + number, stitches=14, rows=10, yarns=3, smooth=(2, 1.3)[number % 2])
    return rows, fed_from_balls(rows, HOW[number % 5], LIMITS[number % 3])


every_plan = pytest.mark.parametrize("number", range(15))


def part_stretches(rows, plan):
    """The stretches of each ball's yarn, named as in the ledger, found from the chart cell by
    cell."""
    traced, parts = plan.traced, defaultdict(list)
    piece = [run for row in stretches(rows, **asdict(traced.how)) for run in row]
    for run, strand, half in zip(piece, traced.of_run.tolist(), traced.half.tolist(), strict=True):
        name = traced.labels[strand]
        if traced.has_middle[strand]:
            name += "ab"[half]
        parts[name].append(run)
    return parts


@every_plan
def test_balls_come_and_go_with_their_strands(number):
    """After each row the balls are those whose strands have begun and go on; crossings lead from
    table to needle."""
    rows, plan = random_plan(number)
    parts = part_stretches(rows, plan)
    for tangle in twist_ledger(plan):
        row = tangle.row - 1
        going = {name for name, runs in parts.items() if runs[0].row <= row < runs[-1].row}
        assert set(tangle.table) == going
        assert len(tangle.table) == len(going)
        _, needle = word_of(tangle.table, tangle.crossings)
        assert needle == tangle.needle
        assert sorted(needle) == sorted(tangle.table)


@every_plan
def test_yarns_lie_at_the_needle_as_they_hang(number):
    """The order at the needle, from where the next row begins, is the order of the edges at which
    the yarns hang."""
    rows, plan = random_plan(number)
    parts, how = part_stretches(rows, plan), plan.traced.how
    for tangle in twist_ledger(plan)[:-1]:
        row, edges = tangle.row - 1, []
        for name in tangle.needle:
            a, b = next((a, b) for a, b in pairwise(parts[name]) if a.row <= row < b.row)
            leftwards = a.enter > a.leave
            on = a.leave - b.enter if leftwards else b.enter - a.leave
            woven = how.is_turned and b.row == a.row + 1 and on > 1
            if how.worked == "turned" and 2 * abs(a.leave - b.enter) > len(rows[0]):
                woven = False  # over the join
            edge = b.enter if woven else a.leave
            edges.append(len(rows[0]) - edge if how.runs_leftwards(row + 1) else edge)
        assert edges == sorted(edges), (tangle.row, tangle.needle, edges)


@every_plan
@pytest.mark.parametrize("same_way", [False, True])
def test_clear_and_moves_on_whole_plans(number, same_way):
    """Clear is said exactly where the braid is trivial, and the moves clear it where it is not."""
    _, plan = random_plan(number)
    for tangle in twist_ledger(plan, same_way=same_way):
        word, needle = word_of(tangle.table, tangle.crossings)
        assert tangle.clear is (needle == tangle.table and is_trivial(word, max(len(needle), 1)))
        assert_moves_clear(tangle)
        sums = {}
        for a, b, sign in tangle.crossings:
            sums[min(a, b), max(a, b)] = sums.get((min(a, b), max(a, b)), 0) + sign / 2
        assert tangle.linking == {pair: n for pair, n in sums.items() if n}


def test_a_strand_that_starts_and_ends_in_between():
    """By hand: D works rows 3 and 4 in the middle of B; A, B and C go on as if it had not been, and
    all is clear at even rows."""
    plain, patch = "AAABBBBBBCCC", "AAABBDDBBCCC"
    rows = [plain] * 4 + [patch] * 2 + [plain] * 2
    plan = fed_from_balls(rows, limits=CarryLimits(across=2))
    ledger = twist_ledger(plan)
    assert [tangle.row for tangle in ledger if "D1" in tangle.table] == [3]
    assert [sorted(tangle.table) for tangle in ledger[3:-1]] == [["A1", "B1", "C1"]] * 4
    assert [tangle.clear for tangle in ledger[1:-1:2]] == [True] * 3
    for tangle in ledger:
        assert_moves_clear(tangle)


def test_a_yarn_begun_beside_another_follows_its_way():
    """By hand: B begins in row 3 between A and C, which are twisted by turns the same way; before
    it they are as without it, and two rows on B links with both as often as two turns make it (a
    full twist)."""
    plain, two = "AAAAAACCCCCC", "AAAAABBCCCCC"
    without = twist_ledger(fed_from_balls([plain] * 6), same_way=True)
    ledger = twist_ledger(fed_from_balls([two] * 4 + [plain] * 2), same_way=True)
    assert [tangle.linking for tangle in ledger[:2]] == [tangle.linking for tangle in without[:2]]
    assert [sorted(tangle.table) for tangle in ledger[1:3]] == [["A1", "C1"], ["A1", "B1", "C1"]]
    for tangle in ledger:
        assert_moves_clear(tangle)
    for pair in combinations(("A1", "B1", "C1"), 2):
        assert ledger[4].linking[pair] - ledger[2].linking.get(pair, 0) == 1


def test_best_row_to_clear():
    """By a plain count of half turns: no row of the stretch needs fewer, and none before it as
    few."""
    _, plan = random_plan(0)
    ledger = twist_ledger(plan, same_way=True)
    turns = {tangle.row: sum(abs(n) for _, _, n in tangle.moves()) for tangle in ledger}
    assert len(set(turns.values())) > 2
    for first, last in ((1, 10), (2, 6), (4, 8), (5, 5)):
        best = best_row_to_clear(ledger, first, last)
        stretch = {row: turns[row] for row in range(first, last + 1)}
        assert stretch[best] == min(stretch.values())
        assert all(n > stretch[best] for row, n in stretch.items() if row < best)


def test_ledger_table():
    _, plan = random_plan(1)
    ledger = twist_ledger(plan)
    table = ledger_table(ledger)
    assert table.row.tolist() == list(range(1, plan.traced.runs.rows + 1))
    assert table.clear.tolist() == [tangle.clear for tangle in ledger]
    assert table.balls.tolist() == [", ".join(tangle.table) for tangle in ledger]
    assert np.all((table.what_to_do == "clear") <= table.clear)


def test_no_ball_no_twist():
    """A piece whose strands all hang from the work has nothing that could tangle for good."""
    ledger = twist_ledger(make_plan(Project("piece", Chart.from_rows([STRIPES] * 4))))
    assert all(tangle.table == () and tangle.clear for tangle in ledger)
    assert ledger[0].in_words() == "clear: one ball at most"


def test_what_is_measured_off_leaves_the_table():
    """A and B come from their balls for 29 rows, then hang from the work."""
    ledger = twist_ledger(plan_of(FEW_THEN_MANY, how=WS_FIRST))
    assert all(set(tangle.table) == {"A1", "B1"} for tangle in ledger[:28])
    assert all(tangle.table == () for tangle in ledger[29:])
