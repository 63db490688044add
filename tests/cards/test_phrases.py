"""What the cards say at each run: small pieces by eye, and each kind of step once."""

import re
from collections import Counter
from itertools import pairwise

import numpy as np
import pytest

from planner import CarryLimits, Construction, Yarn
from planner.cards import embroidered_in_words, how_to_cross
from planner.piece import BALL, Allowances, Habits, OwnChoice
from tests.helpers import plans
from tests.helpers.carded import CASES, HOW, case, every_case, over_the_join, plan_of, walk
from tests.helpers.parts import HALF_LETTER, names_of

NO_EDGES = Allowances(cast_on=0, bind_off=0)


def lines_of(rows, how=None, limits=None, **asked):
    """The runs of each row of a piece that is set into a larger one, as they are printed."""
    cards = plan_of(rows, how, limits, allow=NO_EDGES, **asked).cards
    return [[str(line).strip() for line in card.lines] for card in cards]


def steps_of(plan):
    """Each step with its card's row and the strand at whose run it stands."""
    for card in plan.cards:
        for line in card.lines:
            for step in line.steps:
                yield card.row, line.strand, step


# From one row to the next


def blue(lo, hi):
    """A row of 24 stitches with the columns lo..hi from the left in B."""
    return "".join("B" if lo <= column <= hi else "A" for column in range(24))


NEXT = {
    # B in row 1 at columns 10–14, worked leftwards; then its columns in row 2, worked rightwards,
    # what row 1 says of it, and what row 2 says; {first} is the
    # hand at which her rows begin, on either side, and {next} the other one.
    "level": ((10, 12), [], []),
    "one earlier": ((9, 14), [], ["hangs 1 stitch to the {next}"]),
    "two earlier": ((8, 14), [], ["loosely, from 2 stitches to the {next}"]),
    "three earlier": (
        (7, 14),
        [
            "then take it along: the next row begins it farther on",
            "catch B1 at the 2nd",
            "let B1 hang after the 3rd",
        ],
        [],
    ),
    "four earlier": (
        (6, 14),
        [
            "then take it along: the next row begins it farther on",
            "catch B1 at the 3rd",
            "let B1 hang after the 4th",
        ],
        [],
    ),
    "one later": ((11, 14), [], ["hangs 1 stitch to the {first}"]),
    "two later": ((12, 14), [], ["loosely, from 2 stitches to the {first}"]),
    "three later": ((13, 14), [], ["catch B1 at the 2nd past where it hangs"]),
    "four later": ((14, 18), [], ["catch B1 at the 3rd past where it hangs"]),
}


@pytest.mark.parametrize("worked", ["RS, right-handed", "WS, left-handed"])
@pytest.mark.parametrize("name", NEXT)
def test_from_one_row_to_the_next(name, worked):
    """Worked out by hand: what row 2 begins earlier row 1 can take along, what it begins later it
    passes on the way. Of a shift of one it is said where the yarn hangs, of two that it has slack,
    and from three on it is caught, where the hand still can; left-handed, RS and WS change places,
    left and right, and nothing else."""
    then, first, second = NEXT[name]
    side, hand = worked.split(", ")
    how = Construction(first_row=side, hand=hand.split("-")[0])
    plan = plan_of([blue(*then), blue(10, 14)], how, allow=NO_EDGES)
    said = {1: [], 2: []}
    for row, strand, step in steps_of(plan):
        if (strand == "B1" or "B1" in step) and not re.search("new|cut|catch A", step):
            said[row].append(step)
    hands = {"first": "right", "next": "left"}
    if how.hand == "left":
        hands = {"first": "left", "next": "right"}
    assert said == {1: first, 2: [step.format(**hands) for step in second]}


def test_a_catch_stands_in_the_run_before():
    """At the run that the yarn is carried to it is too late: nothing can be caught any more."""
    first, second = lines_of([blue(14, 18), blue(10, 14)])
    assert first == [
        "9 A A1: new, tail 15 cm",
        "5 B B1: new, tail 15 cm",
        "10 A A2: new, tail 15 cm",
    ]
    assert second == [
        "14 A A2: catch B1 at the 3rd past where it hangs; cut A2, tail 15 cm",
        "5 B B1: catch A1 at the 4th; cut B1, tail 15 cm",
        "5 A A1: cut, tail 15 cm",
    ]


CAUGHT = {
    # stitches carried behind: the places where the yarn is caught
    1: None,
    2: None,
    3: "at the 2nd",
    4: "at the 3rd",
    6: "at the 3rd",
    7: "at the 3rd and the 6th",
    9: "at the 3rd and the 6th",
    10: "at every 3rd from the 3rd to the 9th",
}


@pytest.mark.parametrize("number", CAUGHT)
def test_across(number):
    """A runs behind B: at most three stitches lie free, of three that are carried two. Catches
    every 2 to 4 stitches are common practice, no source."""
    row = "A" + "B" * number + "A"
    (lines,) = lines_of([row], limits=CarryLimits(across=10))
    behind = "the next stitch" if number == 1 else f"the next {number} stitches"
    loosely = ", loosely" if number <= 2 else ""
    assert (
        lines[0]
        == f"1 A A1: new, tail 15 cm; then take it along the wrong side of {behind}{loosely}"
    )
    catch = f"catch A1 {CAUGHT[number]}; cut B1, tail 15 cm" if CAUGHT[number] else None
    assert lines[1] == f"{number} B B1: new, tail 15 cm; {catch or 'cut, tail 15 cm'}"
    assert lines[2] == "1 A A1: cut, tail 15 cm"


def test_it_is_the_yarn_of_the_run():
    """Where another yarn was spoken of, "it" would be that one: so the yarn's own name is said."""
    (lines,) = lines_of(["ABBBABBBA"], limits=CarryLimits(across=3))
    assert lines == [
        "1 A A1: new, tail 15 cm; then take it along the wrong side of the next 3 stitches",
        "3 B B1: new, tail 15 cm; catch A1 at the 2nd; then take B1 along the wrong side of "
        "the next stitch, loosely",
        "1 A A1: then take it along the wrong side of the next 3 stitches",
        "3 B B1: catch A1 at the 2nd; cut B1, tail 15 cm",
        "1 A A1: cut, tail 15 cm",
    ]


def test_up():
    """By hand: B waits for two rows, and then is wanted three stitches farther back."""
    rows = ["AAAAAAABBAAA", "A" * 12, "A" * 12, "AAAABBAAAAAA"]
    lines = lines_of(rows, limits=CarryLimits(across=2, sideways=5, up=2))
    assert lines[0][1] == "2 B B1: new, tail 15 cm; leave it hanging for row 4 (WS)"
    assert lines[3] == [
        "7 A A1: catch B1 at the 6th; then take A1 along the wrong side of the next "
        "2 stitches, loosely",
        "2 B B1: comes up 2 rows, loosely; cut, tail 15 cm",
        "3 A A1: cut, tail 15 cm",
    ]


def test_what_waits_long_is_caught_on_the_way():
    """Over two rows it may hang; over four it is caught in every second row (common practice)."""
    rows = ["AABBAA", *["AAAAAA"] * 4, "AABBAA"]
    lines = lines_of(rows, limits=CarryLimits(across=2, up=4))
    waits = "6 A A1: catch B1, which waits here, as you pass it"
    assert [row[0] == waits for row in lines] == [False, False, True, False, True, False]
    assert lines[5][1] == "2 B B1: comes up 4 rows, loosely; cut, tail 15 cm"
    two = lines_of(rows[2:], limits=CarryLimits(across=2, up=2))
    assert not any("waits" in line for row in two for line in row)


def test_a_float_behind_its_own_run():
    """In rounds that are not turned a yarn is left at the end of its run and wanted where that
    began: what lies behind the run is caught with it."""
    rounds = lines_of(["AAABBBBBAAA"] * 2, Construction(worked="rounds"))
    assert rounds[1] == [
        "3 A A2: cut, tail 15 cm",
        "5 B B1: catch its float at the 3rd; catch A1 at the 3rd; cut B1, tail 15 cm",
        "3 A A1: cut, tail 15 cm",
    ]


def test_the_yarn_and_its_float_behind_one_run():
    """By hand, in rounds: B is left at edge 5 in round 1 and wanted at edge 10 in round 2, then at
    edge 6. Behind the three stitches of A lie the float from edge 5 and B on its way."""
    rows = ["A" * 5 + "BAAAB" + "A" * 10, "A" * 5 + "B" + "A" * 14]
    limits = CarryLimits(across=3, sideways=6, middle_start=False)
    (_, second) = lines_of(rows, Construction(worked="rounds"), limits)
    assert second[1:4] == [
        "1 B B1: then take it along the wrong side of the next 3 stitches",
        "3 A A1: catch the float of B1 at the 2nd; catch B1 at the 2nd; then take A1 "
        "along the wrong side of the next stitch, loosely",
        "1 B B1: cut, tail 15 cm",
    ]


def test_across_the_join():
    """By hand: turned, row 1 leaves B at edge 2 and row 2 wants it at edge 9: two stitches to the
    join and three beyond it. Flat it is cut, for that is seven along."""
    rows = ["AAAAAAAAABBA", "AABBAAAAAAAA"]
    asked = {"limits": CarryLimits(middle_start=False), "by_yarn": {"A": CarryLimits(across=12)}}
    turned = lines_of(rows, Construction(worked="turned"), **asked)
    assert turned[0][1:] == [
        "2 B B1: new, tail 15 cm; then take it along: the next round begins it farther on",
        "2 A A1: let B1 hang after these",
    ]
    assert turned[1][1:] == [
        "2 B B1: comes across the join; cut, tail 15 cm",
        "1 A A1: catch the float of B1 at the 1st; cut A1, tail 15 cm",
    ]
    flat = lines_of(rows, **asked)
    assert flat[1][1] == "2 B B2: new, tail 15 cm; cut, tail 15 cm"
    assert "join" not in str(flat)


def test_no_stitch_cells_are_not_counted():
    """By eye: three columns lie between the two runs of A, and two stitches."""
    (lines,) = lines_of(["AB.BA", "AABAA"], limits=CarryLimits(across=3))[1:]
    assert lines[0] == "1 A A1: then take it along the wrong side of the next 2 stitches, loosely"


# Begun from the middle


def test_a_second_half_in_the_next_row():
    """By hand: B begins in row 1 at edge 6 from the left and its other half works row 2 from edge
    10: four stitches of yarn lie between the halves, and are caught."""
    rows = ["A" * 10 + "BBBB" + "A" * 6, "AABBBB" + "A" * 14]
    lines = lines_of(rows, limits=CarryLimits(sideways=4, up=0))
    assert lines[0][1] == (
        "4 B B1a: begin B1 from its middle, hold the fold for 2 stitches: this end is B1a, B1b "
        "hangs here until row 2 (WS); cut, tail 15 cm"
    )
    assert lines[1][:2] == [
        "10 A A2: catch B1b at the 9th; cut A2, tail 15 cm",
        "4 B B1b: take up B1b, the other end of B1; cut, tail 15 cm",
    ]


def test_a_second_half_in_the_same_row():
    """By eye: the first B goes on to row 2, the other two end in row 1, and both begin with one
    length: two stitches of it lie between them."""
    limits = CarryLimits(across=3, up=0, sideways=2)
    lines = lines_of(["AAAABA", "ABABAB"], limits=limits, by_yarn={"A": CarryLimits(across=6)})
    assert lines[0][0:3:2] == [
        "1 B B1a: begin B1 from its middle, hold the fold for 2 stitches: this end is B1a, B1b "
        "hangs here until later in this row",
        "1 B B1b: take up B1b, the other end of B1; loosely, from 2 stitches to the right; then "
        "take it along the wrong side of the next stitch, loosely",
    ]
    assert lines[0][4] == "1 B B1b: cut, tail 15 cm"
    assert lines[1][1] == "1 B B1a: hangs 1 stitch to the left; cut, tail 15 cm"


def test_a_supply_and_its_half_are_named():
    """By eye: V of single stitches; its strand begins from the middle and its halves are wound
    apart."""
    rows = [
        "".join("B" if x in (15 - y, 15 + y) else "A" for x in range(31))
        for y in reversed(range(6))
    ]
    cards = plans.plan_of(rows, limits=CarryLimits(across=1)).cards
    begun, taken = (
        [
            (card.row, step)
            for card in cards
            for line in card.lines
            for step in line.steps
            if s in step
        ]
        for s in ("begin B1", "take up B1")
    )
    # Six stitches of 2 cm with five shifts of 0.5 cm, and five with four; a tail of 15 cm each:
    # 29.5 and 27 cm.
    halves = "(B1a with that end, B1b with the other)"
    ready = f"B1: loose strand, 0.60 m, begun 0.30 m from one end {halves}"
    assert str(cards[0].ready[1]) == ready
    fold = "begin B1 from its middle, hold the fold for 2 stitches"
    assert begun == [(1, f"{fold}: this end is B1a, B1b hangs here until row 2 (WS)")]
    assert taken == [(2, "take up B1b, the other end of B1")]


def test_a_half_beside_a_ball_is_ready_when_its_strand_begins():
    """Where one half stays on the ball, the other is measured off it before either is knitted.

    B1b works nine stitches of 2 cm, with nine shifts of 0.5 cm before them, and a tail of 15 cm.
    """
    own = (OwnChoice("supply", "B", 1, 16, "first half", BALL),)
    plan = plans.plan_of(plans.V, limits=CarryLimits(across=1), choices=own)
    needs = {
        card.row: [str(need) for need in card.ready if need.title.startswith("B")]
        for card in plan.cards
    }
    (wound,) = [each for each in plan.held if each.part.title == "B1b"]
    assert needs.pop(1) == [
        "B1a: from the ball",
        f"B1b: {wound.stages[0].supply}, 0.40 m, measured off the ball first and not cut from it",
    ]
    assert not any(needs.values())


# Starts and stops


@every_case
def test_every_strand_is_begun_and_cut_once(name, number):
    """A strand begun from its middle is begun once, taken up once and cut twice; what is cast on
    with is begun there, what is bound off with is cut there."""
    _, plan = case(name, number)
    parts = walk(name, number)
    names = names_of(parts)
    halved = {label for label, half in parts if half}
    begun, middles, taken, cut = (Counter() for _ in range(4))
    for card in (plan.all_cards.cast_on, *plan.cards, plan.all_cards.bind_off):
        for line in card.lines:
            for step in line.steps:
                begun[line.strand, card.row] += step.startswith("new, tail ")
                middle = re.match(r"begin (\w+) from its middle", step)
                if middle:
                    middles[middle[1], card.row] += 1
                taken[line.strand, card.row] += step.startswith("take up ")
                cut[line.strand, card.row] += bool(re.match(r"cut( \w+)?, tail 15 cm", step))
    first = {key: runs[0].row + 1 for key, runs in parts.items()}
    last = {names[key]: runs[-1].row + 1 for key, runs in parts.items()}
    rows = len(plan.cards)
    on_cards = {key: 0 if row == 1 else row for key, row in first.items()}
    assert +begun == Counter(
        (label, row) for (label, _), row in on_cards.items() if label not in halved
    )
    assert +middles == Counter((label, on_cards[label, 0]) for label in halved)
    assert sum(taken.values()) == len(halved)
    assert +cut == Counter((title, rows + 1 if row == rows else row) for title, row in last.items())


def test_a_tail_that_is_caught_as_it_is_knitted():
    """Where the knitter does so, and enough stitches of its yarn follow."""
    habits = Habits(tails_caught=True)
    first, second = lines_of(["AAAAAAAABBB", "A" * 11], habits=habits)
    assert first == ["11 A A1: new, tail 15 cm, caught along its next 8 stitches"]
    assert second[1] == "3 B B1: new, tail 15 cm; cut, tail 15 cm"


@pytest.mark.parametrize(
    ("feltable", "join"),
    [
        (True, "felt the two ends together, which takes 7.5 cm of each"),
        (False, "change over at a border, two ends"),
    ],
)
def test_how_a_refill_is_joined(feltable, join):
    """By hand: 8 rows of 80 cm and a tail at either end, 6.70 m, on bobbins of 2 m, which give 1.70
    m between two tails; with the tails of three joins the last holds 1.60 m."""
    habits = Habits(10, 20, 200, place="train")
    plan = plans.plan_of(["A" * 40] * 8, {"A": Yarn("A", feltable=feltable)}, habits=habits)
    for card in plan.cards:
        length = {3: "2.00 m", 5: "2.00 m", 7: "1.60 m"}.get(card.row)
        words = f"a refill of {length} for A1: when 20 cm of A1 are left in this row, {join}"
        said = [str(need) for need in card.ready if "are left" in need.words]
        assert said == ([words] if length else [])


@pytest.mark.parametrize(("place", "ball"), [("table", "ball 2"), ("train", "the next ball")])
def test_how_the_next_ball_is_joined(place, ball):
    """48.30 m from balls of 40 m; in the train there is no place for one, but the knitter wants
    it."""
    own = (OwnChoice("supply", "A", 1, 1, "whole", BALL),)
    yarns = {"A": Yarn("A", metres_per_ball=40)}
    plan = plans.plan_of(["A" * 40] * 60, yarns, habits=Habits(place=place), choices=own)
    said = [str(need) for card in plan.cards for need in card.ready if "are left" in need.words]
    in_time = "when 20 cm of A1 are left in this row"
    assert said == [f"{ball} for A1: {in_time}, change over at a border, two ends"]


def test_a_card_names_the_ball():
    """Two stripes of 48.30 m: one from a ball in hand, one from that to be bought. Of one ball
    only, it needs no number; what was weighed is known by its weight."""
    yarns = {
        "A": Yarn("A", metres_per_ball=60, balls_in_hand=1),
        "B": Yarn("B", metres_per_ball=20, grams_per_ball=40, balls_in_hand=1, part_balls_g=(31,)),
        "C": Yarn("C", metres_per_ball=60),
    }
    rows = ["A" * 40 + "B" * 9 + "A" * 40 + "C" * 6] * 60
    ready = plans.plan_of(rows, yarns, habits=Habits(balls_on_table=9)).cards[0].ready
    assert {need.title: need.words for need in ready} == {
        "C1": "from the ball",
        "A1": "from ball 1",
        "B1": "from ball 2 (31 g)",
        "A2": "from ball 2 (to be bought)",
    }


@pytest.mark.parametrize(
    ("habits", "units", "words"),
    [
        ({}, "cm", "4.15 m, cut it from its ball and wind a butterfly"),
        ({}, "in", "4.75 yd, cut it from its ball and wind a butterfly"),
        ({"crowded": 5}, "cm", "4.15 m, cut it from its ball and let it hang as a loose strand"),
        ({"butterfly_up_to_cm": 300}, "cm", "4.15 m, cut it from its ball and wind it on a bobbin"),
    ],
)
def test_what_is_measured_off_before_a_row(habits, units, words):
    """Said on the card of the row that it is for, before anything else, and on no other."""
    plan = plans.plan_of(
        plans.FEW_THEN_MANY, how=plans.WS_FIRST, habits=Habits(**habits), units=units
    )
    said = {
        card.row: need.words
        for card in plan.cards
        for need in card.ready
        if need.title == "A1" and "measure off" in need.words
    }
    assert said == {30: f"from the work on, measure off {words}"}
    assert "have B1, A1" in plan.cards[28].ahead or "have A1, B1" in plan.cards[28].ahead
    # It is no new strand and no join: nothing is begun, nothing ends.
    steps = [
        step for line in plan.cards[29].lines if line.strand in ("A1", "B1") for step in line.steps
    ]
    assert not any(re.match("new|cut", step) for step in steps)


def test_a_refill_is_due_on_its_row():
    """Each row in which a supply runs out, as the supplies table has it, is said on that row's card
    and on no other."""
    plan = plan_of(["A" * 150] * 60)
    due = Counter(
        (part.strand + HALF_LETTER[part.part], int(row))
        for part in plan.supplies.itertuples()
        for row in filter(None, part.refill_rows.split(", "))
    )
    said = Counter(
        (label, card.row)
        for card in plan.cards
        for need in card.ready
        for label in re.findall(r"of (\w+) are left in this row", need.words)
    )
    assert said == due


# Every kind of carry is tried


def test_the_random_charts_hold_every_kind_of_link():
    """The charts above have all there is to say on a card: links across, on, up and from the
    middle."""
    kinds = {int(kind) for key in CASES for kind in case(*key)[1].traced.links.kind}
    assert kinds == {0, 1, 2, 3}


def test_the_random_pieces_go_over_the_join():
    over = [
        over_the_join(a, b, HOW[name], 18)
        for name, number in CASES
        for runs in walk(name, number).values()
        for a, b in pairwise(runs)
    ]
    assert sum(over) > 10


ACROSS = re.compile(r"then take \w+ along the wrong side of the next (?:(\d+) )?stitch")
UP = re.compile(r"comes up (\d+) r")
OVER = re.compile(r"comes .*across the join")
HANG = re.compile(r"leave \w+ hanging for (.*)|then take \w+ along: (r.*) begins it farther on")


@every_case
def test_every_carry_is_said_once(name, number):
    """From stretch to stretch of each part: across, up, over the join, and what waits for a row."""
    rows, plan = case(name, number)
    how, columns = HOW[name], len(rows[0])
    piece = [line for line in reversed(rows) for _ in range(how.rows_per_chart_row)]
    parts = walk(name, number)
    names, expected = names_of(parts), Counter()
    for key, runs in parts.items():
        title = names[key]
        for a, b in pairwise(runs):
            if a.row == b.row:
                lo, hi = sorted((a.leave, b.enter))
                stitches = hi - lo - piece[a.row][lo:hi].count(".")
                expected[title, a.row + 1, "across", stitches] += 1
                continue
            if b.row > a.row + 1:
                expected[title, b.row + 1, "up", b.row - a.row - 1] += 1
                expected[title, a.row + 1, "hang", how.row_name(b.row)] += 1
            if over_the_join(a, b, how, columns):
                expected[title, b.row + 1, "over"] += 1
    said = Counter()
    for row, title, step in steps_of(plan):
        for stitches in ACROSS.findall(step):
            said[title, row, "across", int(stitches or 1)] += 1
        for up in UP.findall(step):
            said[title, row, "up", int(up)] += 1
        if OVER.search(step) and "take up" not in step:
            said[title, row, "over"] += 1
        for waits in HANG.findall(step):
            said[title, row, "hang", waits[0] or waits[1]] += 1
    # A second half is no stretch after another.
    for (label, half), runs in parts.items():
        begun = parts[label, 0][0]
        if half and over_the_join(begun, runs[0], how, columns):
            del said[names[label, half], runs[0].row + 1, "over"]
    for title, row, kind, *_ in list(expected):
        if kind == "over":
            assert said[title, row, "over"] == 1
    said = Counter({key: n for key, n in said.items() if key[2] != "over"})
    expected = Counter({key: n for key, n in expected.items() if key[2] != "over"})
    assert said == expected


# Crossing and embroidery


SWAP = {"left": "right", "right": "left"}


def mirrored(text):
    return re.sub("left|right", lambda match: SWAP[match[0]], text)


@pytest.mark.parametrize("fabric", ["stockinette", "garter"])
@pytest.mark.parametrize("side", ["RS", "WS"])
def test_a_left_handed_worker_crosses_mirrored(fabric, side):
    right, left = (
        how_to_cross(Construction(hand=hand, fabric=fabric), side) for hand in ("right", "left")
    )
    assert right != left
    assert mirrored(right) == left


def test_on_garter_ws_rows_the_old_yarn_first_comes_forward():
    """Common practice, no source: the purl bumps of garter lie on both sides, so the crossing is
    made on the side of the turn."""
    forward = {
        (fabric, side): "forward between the needles"
        in how_to_cross(Construction(fabric=fabric), side)
        for fabric in ("stockinette", "garter")
        for side in ("RS", "WS")
    }
    assert [key for key, said in forward.items() if said] == [("garter", "WS")]
    both_moves = how_to_cross(Construction(fabric="garter"), "WS")
    assert "over the new one to the left" in both_moves
    assert "from under it and back between the needles" in both_moves
    assert "behind the work" in how_to_cross(Construction(worked="rounds", fabric="garter"), "RS")
    assert "behind the work" in how_to_cross(Construction(), "RS")
    assert "faces you" in how_to_cross(Construction(), "WS")


def test_embroidery_counts_from_the_right_and_names_each_yarn():
    """By eye: in row 2 the first letter of the chart at stitches 2 and 3, the second at 5."""
    embroidered = np.full((3, 6), -1)
    embroidered[1, [3, 4]] = 0
    embroidered[1, 1] = 1
    flat = embroidered_in_words(embroidered, ("A", "B"), Construction())
    words = "embroidered afterwards: stitches 2–3 in A; 5 in B, counted from the right"
    assert flat == {1: words}
    assert embroidered_in_words(embroidered, ("A", "B"), Construction(fabric="garter")) == {
        3: words
    }
