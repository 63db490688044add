"""Advice on balls: a table where every word of every card is followed."""

import random
from dataclasses import replace
from functools import cache
from itertools import combinations

import pytest

from planner import CarryLimits, Chart, Construction, Gauge, Project, Yarn, make_plan, open_project
from planner.errors import PlanError
from planner.piece import ALTERNATE, BALL, CLEARED, SAME_WAY, WORKED, Entry, Habits, OwnChoice
from planner.strands import note_row
from planner.twists import ALL_CLEAR, Words, advise, clearings_in_words, reduce_word
from tests.conftest import DEMO
from tests.helpers.knitter import draw_chart
from tests.helpers.table import Knitter


def fed_from_balls(rows, how=None, *, limits=None, habits=None, yarns=None, progress=()):
    """A plan whose strands are all fed from balls, as its knitter chose."""
    piece = Project(
        "piece",
        Chart.from_rows(rows),
        yarns or {letter: Yarn(letter) for letter in "ABCDE"},
        Gauge(20, 25),
        how=how or Construction(),
        limits=limits or CarryLimits(),
        habits=habits or Habits(),
        progress=progress,
    )
    choices = [
        OwnChoice("supply", s.yarn, s.first_row, s.first_stitch, "whole", BALL)
        for s in make_plan(piece).strands.itertuples()
    ]
    plan = make_plan(replace(piece, choices=tuple(choices)))
    assert set(plan.supplies.supply) == {BALL}
    return plan


def full_turns(half_turns):
    """A half turn more is none: towards 0."""
    return abs(half_turns) // 2 * (1 if half_turns > 0 else -1)


def follow(rows, plan):
    """Follow every word, and yield after each row and its turn the advice and the knitter."""
    knitter = Knitter(rows, plan)
    for row, advice in enumerate(advise(plan)):
        for sentence in advice.before:
            knitter.table.follow(sentence)
        knitter.work(row)
        assert tuple(knitter.table.needle) == advice.needle
        for sentence in advice.after:
            knitter.table.follow(sentence)
        yield advice, knitter


def assert_followed(rows, plan, most=None):
    """No pair holds more than it may, and clear is said exactly where the braid is trivial."""
    hairy = {letter for letter, yarn in plan.project.yarns.items() if yarn.surface == "hairy"}
    allowed = most or plan.project.habits.twists_allowed
    for advice, knitter in follow(rows, plan):
        table = knitter.table
        for pair, half_turns in table.half_turns().items():
            is_hairy = {ball[0] for ball in pair} & hairy
            assert abs(full_turns(half_turns)) <= (1 if is_hairy else allowed), (advice.row, pair)
        if not table.lap:
            assert advice.clear is table.is_clear(), advice.row
            word, needle = table.word()
            assert advice.clear is (list(needle) == table.table and reduce_word(word) == [])
    assert not table.needle


# The example that design.md works out by hand: A1 B A2, and C between B and A2 in some rows

MOTIFS = tuple((first, first + 6) for first in range(4, 84, 10))


def motifs(rows, spans, mirror=False):
    """A1, B, A2 from the right, and C between B and A2 in these rows."""
    chart = []
    for row in range(1, rows + 1):
        is_on = any(first <= row <= last for first, last in spans)
        line = "AAAAA" + ("CC" if is_on else "AB") + "BBBAAAA"
        chart.append(line[::-1] if mirror else line)
    return chart[::-1]


def example(spans, rows=16, **asked):
    chart = motifs(rows, spans)
    return chart, fed_from_balls(chart, **asked)


def sums(chart, plan):
    """Full turns of each pair after each row, by the names of design.md."""
    names = {"A1": "A1", "B1": "B", "A2": "A2", "C1": "C"}
    after = []
    for _, knitter in follow(chart, plan):
        half = knitter.table.half_turns()
        after.append({frozenset(map(names.get, pair)): n / 2 for pair, n in half.items()})
    return after


def test_the_example_of_the_design():
    """Design.md §5, worked by hand: full turns after each of the first six rows."""
    expected = {
        ("A1", "B"): [1, 0, 1, 0, 1, 0],
        ("B", "A2"): [1, 0, 1, 1, 1, 1],
        ("A2", "C"): [None, None, None, -1, 0, -1],
        ("C", "B"): [None, None, None, -1, 0, -1],
    }
    chart, plan = example([(4, 9)])
    after = sums(chart, plan)
    for pair, turns in expected.items():
        assert [row.get(frozenset(pair)) for row in after[:6]] == turns, pair


def test_the_example_ends_on_a_rs_row():
    """C ends in row 9 (RS): row 10 undoes B·A2 and all is clear: leave it."""
    chart, plan = example([(4, 9)])
    advice = advise(plan)
    assert not any(each.moves for each in advice)
    assert advice[2].state == ("One turn stays between B1 and A2: leave it; it goes in row 10.",)
    assert advice[3].before == (
        "Balls, right to left: A1, B1, A2.",
        "Keep ball C1 in your lap until the work is turned.",
    )
    assert advice[3].after[-1] == "On the table: lay ball C1 between B1 and A2, its yarn on top."
    assert [each.clear for each in advice[9:-1:2]] == [True] * 3
    assert [each.what for each in advice[:5]] == ["lay", "leave", "leave", "lay", "leave"]
    assert_followed(chart, plan)


def test_the_example_ends_on_a_ws_row():
    """C ends in row 10 (WS): one turn stays for good: leave it."""
    chart, plan = example([(4, 10)])
    advice = advise(plan)
    assert not any(each.moves for each in advice)
    assert advice[11].state == ("One turn stays between B1 and A2: leave it.",)
    assert "Begun a row later, C1 would leave no turn behind." in advice[3].after
    assert clearings_in_words(advice) == ""
    assert_followed(chart, plan)


def test_the_example_four_times():
    """Clear once before a fourth such motif begins."""
    chart, plan = example(MOTIFS[:4], rows=46)
    advice = advise(plan)
    cleared = [each.row for each in advice if each.moves]
    assert len(cleared) == 1
    assert MOTIFS[2][1] <= cleared[0] < MOTIFS[3][0]
    assert advice[cleared[0] - 1].after[0] == (
        "Pass ball A2 twice round B1's yarn, close under the needle, anticlockwise seen from above."
    )
    assert (
        clearings_in_words(advice) == "Balls are cleared once, after row 31: 2 hand moves in all."
    )
    assert_followed(chart, plan)


def test_three_times_are_left_where_nothing_comes_after():
    """Three such motifs hold three turns, and no more, if the yarns are cut with the third."""
    chart, plan = example(MOTIFS[:3], rows=30)
    assert not any(each.moves for each in advise(plan))
    assert_followed(chart, plan)


def test_the_example_begun_on_a_rs_row():
    """C begins in row 5 (RS) and ends on a WS row: all is clear after every WS row."""
    chart, plan = example([(5, 10)])
    advice = advise(plan)
    assert all(each.clear for each in advice[1::2])
    assert not any(each.state or each.moves for each in advice)
    assert advice[4].before[1] == "On the table: lay ball C1 between B1 and A2, its yarn on top."
    assert_followed(chart, plan)


@pytest.mark.parametrize("first", range(3, 7))
@pytest.mark.parametrize("last", range(8, 12))
def test_what_is_said_of_beginning_later_is_true(first, last):
    """It is said just where C leaves a turn, and then C begun a row later leaves none (the table
    tells)."""
    later = "later" in str(advise(example([(first, last)])[1])[first - 1])

    def left(begin):
        chart, plan = example([(begin, last)])
        ws_row = last + 1 + (last + 1) % 2
        return sums(chart, plan)[ws_row - 1][frozenset(("B", "A2"))]

    assert later is (left(first) != 0)
    if later:
        assert left(first + 1) == 0


def test_hairy_yarn_keeps_one_turn():
    """Full turns: 3, and 1 where one of the two is hairy (judgement)."""
    yarns = {"A": Yarn("A"), "B": Yarn("B", surface="hairy"), "C": Yarn("C")}
    chart, plan = example(MOTIFS[:2], rows=30, yarns=yarns)
    moves = [each for each in advise(plan) if each.moves]
    assert moves
    assert_followed(chart, plan)
    assert not any(each.moves for each in advise(example(MOTIFS[:2], rows=30)[1]))
    one = Habits(twists_allowed=1)
    plain = fed_from_balls(chart, habits=one)
    assert [each.moves for each in advise(plain)] == [each.moves for each in advise(plan)]


# What is cleared, and what is not, is read from the log


def marked(plan, done, *cleared):
    """The plan with its first rows worked, and then lines on balls cleared: (row, what)."""
    log = [
        Entry(n, "2026-01-01", WORKED, n, runs=note_row(plan.traced, n)) for n in range(1, done + 1)
    ]
    for row, what in cleared:
        log.append(Entry(len(log) + 1, "2026-01-02", CLEARED, row, runs=what))
    return make_plan(replace(plan.project, progress=tuple(log)))


def test_a_clearing_that_was_made_is_gone_on_from():
    """The moves as they are advised, read back: the rest of the advice is what it was."""
    _, plan = example(MOTIFS, rows=86)
    advice = advise(plan)
    row, *others = [each.row for each in advice if each.moves]
    made = advice[row - 1].log
    assert made == "A2 round B1, 3 anticlockwise"
    after = advise(marked(plan, row, (row, made)))
    assert not after[row - 1].moves
    assert [each.row for each in after if each.moves] == others
    assert [each.state for each in after[row:]] == [each.state for each in advice[row:]]


def test_who_has_not_cleared_is_told_again():
    _, plan = example(MOTIFS[:5], rows=56)
    row = next(each.row for each in advise(plan) if each.moves)
    after = advise(marked(plan, row + 2))
    assert not any(each.moves for each in after[: row + 2])
    assert any(each.moves for each in after[row + 2 : row + 4])


def test_all_clear_is_taken_at_its_word():
    _, plan = example(MOTIFS[:3], rows=46)
    assert any(each.moves for each in advise(plan))
    cleared = advise(marked(plan, 24, (24, ALL_CLEAR)))
    assert cleared[23].clear
    assert not any(each.moves for each in cleared)
    assert not advise(marked(plan, 24))[23].clear


def test_a_line_that_says_nothing_withdraws():
    _, plan = example(MOTIFS[:3], rows=46)
    assert not advise(marked(plan, 24, (24, ALL_CLEAR), (24, "")))[23].clear
    assert advise(marked(plan, 24, (24, ""), (24, ALL_CLEAR)))[23].clear


def test_a_strange_line_is_refused():
    _, plan = example([(4, 9)])
    with pytest.raises(PlanError, match='number 5: says the balls were cleared by "shaken"') as odd:
        advise(marked(plan, 4, (4, "shaken")))
    assert '"all clear"' in str(odd.value)


def test_what_the_log_says_is_what_was_done():
    """Every move of random pieces, written and read back."""
    for number in range(32):
        _, plan = random_piece(number)
        words = Words(plan.traced.how)
        for each in advise(plan):
            if each.moves:
                assert words.logged(each.log, "") == list(each.moves)


# Random pieces

HOW = [
    Construction(),
    Construction(first_row="WS"),
    Construction("rounds"),
    Construction("turned"),
    Construction(fabric="garter"),
    Construction(hand="left"),
    Construction("turned", first_row="WS", hand="left"),
    Construction("rounds", hand="left"),
]
LIMITS = [CarryLimits(), CarryLimits(across=3, sideways=6, up=3), CarryLimits(middle_start=False)]
random_pieces = pytest.mark.parametrize("number", range(32))


@cache
def random_piece(number):
    """A chart and its plan; every other one may hold one turn only."""
    rows = draw_chart(60 + number, stitches=16, rows=16, yarns=3, smooth=(2.5, 1.6)[number % 2])
    habits = Habits(
        turning=(ALTERNATE, SAME_WAY)[number // 8 % 2],
        first_turn=("last edge away", "first edge away")[number % 3 % 2],
        twists_allowed=1 + number // 2 % 2,
    )
    return rows, fed_from_balls(rows, HOW[number % 8], limits=LIMITS[number % 3], habits=habits)


@random_pieces
def test_every_word_can_be_followed(number):
    """No pair ever holds more than it may after a turn; Artin's action (published) and handle
    reduction (published) both tell what is clear."""
    assert_followed(*random_piece(number))


def without_moves(rows, plan):
    """The half turns of each pair after each row, if nothing is cleared."""
    knitter = Knitter(rows, plan)
    after = []
    for row, advice in enumerate(advise(plan)):
        for sentence in advice.before:
            knitter.table.follow(sentence)
        knitter.work(row)
        for sentence in advice.after:
            if not sentence.startswith(("Pass", "Turn the work round")):
                knitter.table.follow(sentence)
        table = knitter.table
        half = table.half_turns()
        # Turned always the same way, all but the last half turn counts.
        after.append({pair: half[pair] for pair in map(frozenset, combinations(table.needle, 2))})
    return after


def moves_by_row(plan):
    """Of each hand move its row, from 0, its pair (None for all) and its turn."""
    return [
        (each.row - 1, frozenset((move.ball, move.other)) if move.ball else None, turn)
        for each in advise(plan)
        for move in each.moves
        for turn in [1 if move.turns > 0 else -1] * abs(move.turns)
    ]


def too_much(after, moves, allowed):
    """Whether some pair holds more than it may, its sums after each row and these moves."""
    for row, half in enumerate(after):
        for pair, sum_of in half.items():
            begun = next(n for n, each in enumerate(after) if pair in each)
            added = sum(
                turn for at, which, turn in moves if begun <= at <= row and which in (pair, None)
            )
            if abs(full_turns(sum_of + 2 * added)) > allowed:
                return True
    return False


@random_pieces
def test_nothing_is_cleared_that_would_have_gone_by_itself(number):
    """Without any one of its moves the piece holds too much somewhere (tried)."""
    rows, plan = random_piece(number)
    after, moves = without_moves(rows, plan), moves_by_row(plan)
    allowed = plan.project.habits.twists_allowed
    assert not too_much(after, moves, allowed)
    for leave_out in range(len(moves)):
        rest = moves[:leave_out] + moves[leave_out + 1 :]
        assert too_much(after, rest, allowed), moves[leave_out]


def fewest_by_trying(after, allowed, reach):
    """The fewest hand moves, in all rows, of all that moves may add to each pair up to `reach`."""
    costs = {(): 0}
    before = []
    for half in after:
        pairs = sorted(half, key=sorted)
        now = {}
        for added, cost in costs.items():
            old = dict(zip(before, added, strict=True))
            start = tuple(old.get(pair, 0) for pair in pairs)
            now[start] = min(cost, now.get(start, cost))
        # One more move at a time, the cheapest first.
        units = [tuple(int(a == b) for b in range(len(pairs))) for a in range(len(pairs))]
        units.append((1,) * len(pairs))
        pending = {cost: [added for added in now if now[added] == cost] for cost in now.values()}
        for cost in range(min(pending), max(pending) + reach * len(pairs) + 1):
            for added in pending.get(cost, []):
                if now[added] < cost:
                    continue
                for unit in units:
                    for sign in (1, -1):
                        more = tuple(a + sign * b for a, b in zip(added, unit, strict=True))
                        if max(map(abs, more), default=0) <= reach and now.get(more, 99) > cost + 1:
                            now[more] = cost + 1
                            pending.setdefault(cost + 1, []).append(more)
        costs = {
            added: cost
            for added, cost in now.items()
            if all(
                abs(full_turns(half[pair] + 2 * a)) <= allowed
                for pair, a in zip(pairs, added, strict=True)
            )
        }
        before = pairs
    return min(costs.values())


SMALL = [
    ["AAABBBCCC"] * 9,
    ["AABBBCCCC", "AAABBBCCC"] * 5,
    *([row[:9] for row in draw_chart(n, stitches=9, rows=9, yarns=3, smooth=2)] for n in range(6)),
]


@pytest.mark.parametrize("number", range(len(SMALL)))
@pytest.mark.parametrize("how", HOW[:4], ids=lambda how: f"{how.worked} {how.first_row}")
@pytest.mark.parametrize("turning", [ALTERNATE, SAME_WAY])
def test_no_advice_has_fewer_hand_moves(number, how, turning):
    """All clearings in all rows, tried (computed)."""
    rows = SMALL[number]
    habits = Habits(turning=turning, twists_allowed=1)
    plan = fed_from_balls(rows, how, habits=habits, limits=CarryLimits(sideways=3))
    after = without_moves(rows, plan)
    if max(map(len, after)) > 3:
        pytest.skip("too many pairs to try all")
    assert len(moves_by_row(plan)) == fewest_by_trying(after, 1, 8 if how.worked == "rounds" else 5)


@pytest.mark.parametrize("worked", ["flat", "rounds", "turned"])
@pytest.mark.parametrize("turning", [ALTERNATE, SAME_WAY])
def test_with_four_balls_no_stop_asks_for_more_than_four_moves(worked, turning):
    """Where each round adds a turn to three pairs, too."""
    rows = ["AAABBBCCCDDD"] * 24
    habits = Habits(turning=turning)
    plan = fed_from_balls(
        rows, Construction(worked), habits=habits, limits=CarryLimits(sideways=12)
    )
    moves = [sum(abs(move.turns) for move in each.moves) for each in advise(plan)]
    assert max(moves) <= 4
    assert any(moves) is (worked == "rounds" or turning == SAME_WAY)
    assert_followed(rows, plan)


# Left and right


def mirrored(text):
    pairs = [("right", "left"), ("anticlockwise", "CLOCKWISE"), ("clockwise", "anticlockwise")]
    for a, b in pairs:
        text = text.replace(a, "\0").replace(b, a).replace("\0", b)
    return text.replace("CLOCKWISE", "clockwise")


@random_pieces
def test_the_left_handed_words_are_the_mirror_image(number):
    """Letter by letter (computed)."""
    rows, plan = random_piece(number)
    how = plan.traced.how
    other = replace(how, hand={"left": "right", "right": "left"}[how.hand])
    project = plan.project
    seen = fed_from_balls(
        [row[::-1] for row in rows], other, limits=project.limits, habits=project.habits
    )
    for one, two in zip(advise(plan), advise(seen), strict=True):
        assert mirrored(str(one)) == str(two)
        assert mirrored(one.log) == two.log


# Where the same borders return in every pair of rows


def pairs_of_rows(rows):
    return [row for row in rows for _ in range(2)]


@pytest.mark.parametrize("worked", ["flat", "turned"])
@pytest.mark.parametrize("first_row", ["RS", "WS"])
@pytest.mark.parametrize("seed", range(6))
def test_where_borders_return_nothing_is_cleared(worked, first_row, seed):
    """RS meetings less WS meetings are nothing after each pair of rows (computed)."""
    rng = random.Random(seed)
    rows = []
    for _ in range(10):
        cuts = sorted(rng.sample(range(2, 28), 3))
        widths = [b - a for a, b in zip([0, *cuts], [*cuts, 30], strict=True)]
        rows.append("".join(letter * width for letter, width in zip("ABCD", widths, strict=True)))
    chart = pairs_of_rows(rows)
    how = Construction(worked, first_row=first_row)
    plan = fed_from_balls(chart, how, limits=CarryLimits(sideways=28, middle_start=False))
    assert not any(each.moves for each in advise(plan))
    assert_followed(chart, plan)


def test_turned_always_the_same_way_the_work_is_turned_round():
    """Same-way turns make a full turn of every pair in two rows (computed)."""
    rows = ["AAABBBCCCDDD"] * 40
    plan = fed_from_balls(rows, habits=Habits(turning=SAME_WAY))
    advice = advise(plan)
    moves = [move for each in advice for move in each.moves]
    assert not any(move.ball for move in moves)
    assert clearings_in_words(advice).startswith("The work is turned round")
    assert not any(each.drop for each in advice)  # nothing hangs but balls
    assert_followed(rows, plan)


def test_the_demo_for_a_knitter_who_does_not_rewind():
    """At most two clearings in all, every word followed."""
    project = open_project(DEMO)
    plan = make_plan(replace(project, habits=replace(project.habits, rewinding=False)))
    advice = advise(plan)
    assert max(len(each.table) for each in advice) == 3
    assert sum(bool(each.moves) for each in advice) <= 2
    letters = project.chart.letters
    rows = ["".join(letters[cell] for cell in row) for row in project.chart.cells[::-1]]
    assert_followed(rows, plan)


def test_hanging_lengths_are_dropped_through_where_all_turns_go_one_way():
    """Every eighth row, while any hang (judgement)."""
    project = open_project(DEMO)

    def dropped(turning):
        habits = replace(project.habits, turning=turning)
        advice = advise(make_plan(replace(project, habits=habits)))
        return [each.row for each in advice if each.drop]

    assert dropped(ALTERNATE) == []
    rows = dropped(SAME_WAY)
    assert rows
    assert all(row % 8 == 0 for row in rows)
