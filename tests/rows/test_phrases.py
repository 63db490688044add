"""What the cards say at each run, against a walk from run to run of each strand."""

import re
from collections import Counter
from itertools import pairwise

import numpy as np
import pytest

from planner import CarryLimits, Construction, Yarn
from planner.piece import BALL, Allowances, Habits, OwnChoice
from planner.rows import embroidered_in_words, how_to_cross
from tests.helpers import plans
from tests.helpers.carded import (
    CASES,
    HOW,
    case,
    every_case,
    over_the_join,
    plan_of,
    walk,
    woven_by,
)
from tests.helpers.parts import HALF_LETTER, names_of

# One row ahead


AHEAD = {
    "earlier": (
        (10, 14),
        (6, 14),
        ["weave B1 along 4 more stitches; the next row starts it earlier"],
        [],
    ),
    "later": (
        (10, 14),
        (14, 18),
        ["leave B1; carry it 4 on the next row"],
        ["carry B1 along 4 stitches to here"],
    ),
    "one earlier": ((10, 14), (9, 14), [], []),
    "one later": ((10, 14), (11, 14), [], []),
    "two earlier": (
        (10, 14),
        (8, 14),
        ["weave B1 along 2 more stitches; the next row starts it earlier"],
        [],
    ),
    "level": ((10, 14), (10, 12), [], []),
}


def blue(lo, hi):
    """A row of 24 stitches with the columns lo..hi from the left in B."""
    return "".join("B" if lo <= column <= hi else "A" for column in range(24))


@pytest.mark.parametrize("worked", ["RS, right-handed", "WS, left-handed"])
@pytest.mark.parametrize("name", AHEAD)
def test_one_row_ahead(name, worked):
    """The issue's own example, worked out by hand: columns from the left, 10–14 and then 6–14 or
    14–18; left-handed, RS and WS change places and the columns and numbers stay. A shift of one is
    not worth a word (computed)."""
    now, then, ahead, carried = AHEAD[name]
    side, hand = worked.split(", ")
    how = Construction(first_row=side, hand=hand.split("-")[0])
    first, second = plan_of([blue(*then), blue(*now)], how).cards
    assert (first.side, second.side) == (side, "WS" if side == "RS" else "RS")
    assert [word for word in first.ahead if "B1" in word] == ahead
    said = [
        step
        for step in first.steps + second.steps
        if "B1" in step and not re.search("start|cut|cast on", step)
    ]
    said += [
        part
        for step in second.steps
        if "cut B1" in step
        for part in re.findall(r"carry B1[^,;]*", step)
    ]
    assert [part for step in said for part in re.findall(r"carry B1[^,;]*", step)] == carried
    assert not any(re.search("weave|carry|leave B1", step) for step in first.steps)


def test_carries_are_caught_every_three_stitches():
    """Catches every 2 to 4 stitches are common practice, no source; a carry of three needs none."""
    for then, caught in ((13, False), (14, True)):
        _, second = plan_of([blue(then, then + 4), blue(10, 14)]).cards
        [step] = [step for step in second.steps if "carry B1" in step]
        assert ("catching it every 3 stitches" in step) is caught


def test_across_and_up():
    """By hand: B is carried behind two stitches of A, and comes up over two rows with three
    stitches sideways."""
    rows = ["AAAAAAABBAAA", "A" * 12, "A" * 12, "AABBAABBAAAA"]
    cards = plan_of(rows, limits=CarryLimits(across=2, sideways=5, up=2)).cards
    assert "carry B1 behind the next 2 stitches" in " ".join(cards[0].steps)
    assert cards[0].ahead == ("leave B1 hanging; it is wanted again in row 4 (WS)",)
    assert "bring B1 up over 2 rows and 5 stitches sideways, loosely" in " ".join(cards[3].steps)


def test_across_the_join():
    """By hand: turned, row 1 leaves B at edge 2 and row 2 wants it at edge 9: two stitches to the
    join and three beyond it. Flat it is cut, for that is seven along."""
    rows = ["AAAAAAAAABBA", "AABBAAAAAAAA"]
    asked = {"limits": CarryLimits(middle_start=False), "by_yarn": {"A": CarryLimits(across=12)}}
    turned, flat = (
        plan_of(rows, Construction(worked=worked), **asked).cards for worked in ("turned", "flat")
    )
    assert "leave B1; the next round brings it across the join" in turned[0].ahead
    assert "bring B1 across the join, 5 stitches to here, catching it" in " ".join(turned[1].steps)
    assert "join" not in str(flat[0])
    assert "start B2" in str(flat[1])


# Starts and stops


@every_case
def test_every_strand_is_started_and_cut_once(name, number):
    """A strand begun from its middle is begun once, taken up once and cut twice; in the rows where
    it is worked."""
    _, plan = case(name, number)
    parts = walk(name, number)
    names = names_of(parts)
    started, middles, waits, taken, cut = (Counter() for _ in range(5))
    for card in plan.cards:
        text = " | ".join(card.steps)
        for counter, pattern in (
            (started, r"start (\w+) \("),
            (middles, r"start (\w+) from the middle of (\w+) \("),
            (waits, r"; (\w+) hangs here until (?:later in this|the next) row"),
            (taken, r"take up (\w+), which hangs here since the middle of (\w+)"),
            (cut, r"cut (\w+), leaving a tail of 15 cm"),
        ):
            counter.update((found, card.row) for found in re.findall(pattern, text))
    halved = {label for label, half in parts if half}
    first = {key: runs[0].row + 1 for key, runs in parts.items()}
    assert started == Counter(
        (label, row) for (label, _), row in first.items() if label not in halved
    )
    assert middles == Counter(((f"{label}a", label), first[label, 0]) for label in halved)
    assert waits == Counter((f"{label}b", first[label, 0]) for label in halved)
    assert taken == Counter(((f"{label}b", label), first[label, 1]) for label in halved)
    assert cut == Counter((names[key], runs[-1].row + 1) for key, runs in parts.items())


@every_case
def test_each_run_is_told_by_the_name_of_its_half(name, number):
    """Who works B1b must not pick up B1a: the runs of a card are those of the halves."""
    _, plan = case(name, number)
    parts = walk(name, number)
    names, expected = names_of(parts), Counter()
    for key, runs in parts.items():
        expected.update((names[key], run.row + 1) for run in runs)
    assert Counter((run.strand, card.row) for card in plan.cards for run in card.runs) == expected


def test_a_supply_and_its_half_are_named():
    """By eye: V of single stitches; its strand begins from the middle and its halves are wound
    apart."""
    rows = [
        "".join("B" if x in (15 - y, 15 + y) else "A" for x in range(31))
        for y in reversed(range(6))
    ]
    cards = plans.plan_of(rows, limits=CarryLimits(across=1)).cards
    [begun] = [step for card in cards for step in card.steps if "start B1a" in step]
    # Six stitches of 2 cm with five shifts of 0.5 cm, and five with four; a tail of 15 cm each:
    # 29.5 and 27 cm.
    assert begun.endswith(
        "start B1a from the middle of B1 (loose strand of 0.60 m, begun 0.30 m from one end) with "
        "that end; B1b hangs here until the next row"
    )
    [taken] = [step for card in cards for step in card.steps if "take up B1" in step]
    assert taken.endswith("take up B1b, which hangs here since the middle of B1")
    assert "start A" in cards[0].steps[0] or "start A" in cards[0].steps[1]


def test_only_the_last_row_is_bound_off():
    """By eye: A stops in row 1, B in row 2, which is the last."""
    rows = ["BBBB", "BBAA"]
    for bind_off, words in ((6, "bind off with it, then cut B1"), (0, "cut B1")):
        first, last = plan_of(rows, allow=Allowances(bind_off=bind_off)).cards
        assert first.steps[1].endswith("; then cut A1, leaving a tail of 15 cm")
        assert last.steps == (f"at 4 B1: {words}, leaving a tail of 15 cm",)


@pytest.mark.parametrize(
    ("feltable", "join"), [(True, "splice it"), (False, "join it at a border, two ends")]
)
def test_how_a_refill_is_joined(feltable, join):
    """By hand: 8 rows of 80 cm and a tail at either end, 6.70 m, on bobbins of 2 m, which give 1.70
    m between two tails; with the tails of three joins the last holds 1.60 m."""
    habits = Habits(10, 20, 200, place="train")
    plan = plans.plan_of(["A" * 40] * 8, {"A": Yarn("A", feltable=feltable)}, habits=habits)
    for card in plan.cards:
        length = {3: "2.00 m", 5: "2.00 m", 7: "1.60 m"}.get(card.row)
        words = f"A1 runs out in this row: have a refill of {length} ready, {join}"
        assert [step for step in card.steps if "runs out" in step] == ([words] if length else [])


@pytest.mark.parametrize(("place", "ball"), [("table", "ball 2"), ("train", "the next ball")])
def test_how_the_next_ball_is_joined(place, ball):
    """48.30 m from balls of 40 m; in the train there is no place for one, but the knitter wants
    it."""
    own = (OwnChoice("supply", "A", 1, 1, "whole", BALL),)
    yarns = {"A": Yarn("A", metres_per_ball=40)}
    plan = plans.plan_of(["A" * 40] * 60, yarns, habits=Habits(place=place), choices=own)
    words = f"A1 runs out in this row: have {ball} ready, join it at a border, two ends"
    assert [step for card in plan.cards for step in card.steps if "runs out" in step] == [words]


def test_a_card_names_the_ball():
    """Two stripes of 48.30 m: one from a ball in hand, one from that to be bought. Of one ball
    only, it needs no number; what was weighed is known by its weight."""
    yarns = {
        "A": Yarn("A", metres_per_ball=60, balls_in_hand=1),
        "B": Yarn("B", metres_per_ball=20, grams_per_ball=40, balls_in_hand=1, part_balls_g=(31,)),
        "C": Yarn("C", metres_per_ball=60),
    }
    rows = ["A" * 40 + "B" * 9 + "A" * 40 + "C" * 6] * 60
    steps = plans.plan_of(rows, yarns, habits=Habits(balls_on_table=9)).cards[0].steps
    begun = [re.search(r"start (\w+) \((.*?)\), leaving", step) for step in steps]
    assert {start[1]: start[2] for start in begun if start} == {
        "C1": "from the ball",
        "A1": "from ball 1",
        "B1": "from ball 2 (31 g)",
        "A2": "from ball 2 (to be bought)",
    }


@pytest.mark.parametrize(
    ("habits", "units", "words"),
    [
        ({}, "cm", "4.15 m of A1, cut it from its ball and wind a butterfly"),
        ({}, "in", "4.75 yd of A1, cut it from its ball and wind a butterfly"),
        ({"crowded": 5}, "cm", "4.15 m of A1, cut it from its ball and let it hang as a loose "),
        ({"butterfly_up_to_cm": 300}, "cm", "4.15 m of A1, cut it from its ball and wind it on a "),
    ],
)
def test_what_is_measured_off_before_a_row(habits, units, words):
    """Said on the card of the row that it is for, before anything else, and on no other."""
    plan = plans.plan_of(
        plans.FEW_THEN_MANY, how=plans.WS_FIRST, habits=Habits(**habits), units=units
    )
    on_cards = {
        card.row: place
        for card in plan.cards
        for place, step in enumerate(card.steps)
        if step.startswith(f"before this row: from the work on, measure off {words}")
    }
    assert set(on_cards) == {30}
    assert on_cards[30] < 2  # B1 is measured off before the same row
    assert not any(step.startswith("at") for step in plan.cards[29].steps[:2])
    # It is no new strand and no join: nothing is started, nothing ends.
    assert not any(
        f"start {strand}" in step for strand in ("A1", "B1") for step in plan.cards[29].steps
    )


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
        for step in card.steps
        for label in re.findall(r"(\w+) runs out in this row", step)
    )
    assert said == due


# Every carry said once


def test_the_random_charts_hold_every_kind_of_link():
    """The charts above have all there is to say on a card: links across, on, up and from the
    middle."""
    kinds = {int(kind) for key in CASES for kind in case(*key)[1].traced.links.kind}
    assert kinds == {0, 1, 2, 3}


def test_the_random_pieces_go_over_the_join():
    """What is said of that is tried below."""
    over = [
        over_the_join(a, b, HOW[name], 18)
        for name, number in CASES
        for runs in walk(name, number).values()
        for a, b in pairwise(runs)
    ]
    assert sum(over) > 10


ACROSS = re.compile(r"carry (\w+) behind the next (\d+) stitch")
CARRY = re.compile(r"(?:carry|float) (\w+) along (\d+) stitches to here")
UP = re.compile(
    r"bring (\w+) up over (\d+) rows?(?: and (\d+) stitch(?:es)? (sideways|across the join))?, "
    "loosely"
)
OVER = re.compile(r"bring (\w+) across the join, (\d+) stitch(?:es)? to here")
OVER_NEXT = re.compile(r"leave (\w+); the next round brings it across the join")
WEAVE = re.compile(r"weave (\w+) along (\d+) more stitches; the next row starts it earlier")
LEAVE = re.compile(r"leave (\w+); (?:carry|float) it (\d+) on the next row")
HANG = re.compile(r"leave (\w+) hanging; it is wanted again in (.*)")


@every_case
def test_every_carry_is_said_once(name, number):
    """From stretch to stretch of each part: across, woven along, carried or brought up; shifts of
    one stay unsaid."""
    rows, plan = case(name, number)
    how, columns = HOW[name], len(rows[0])
    expected_steps, expected_ahead = Counter(), Counter()
    parts = walk(name, number)
    names = names_of(parts)
    for key, runs in parts.items():
        label = names[key]
        for a, b in pairwise(runs):
            far = abs(a.leave - b.enter)
            if a.row == b.row:
                expected_steps[label, a.row + 1, "across", far] += 1
                continue
            far = min(far, columns - far) if how.is_tube else far
            over = over_the_join(a, b, how, columns)
            if b.row > a.row + 1:
                aside = far if far > 1 or over else 0
                way = "across the join" if over else "sideways" if aside else ""
                expected_steps[label, b.row + 1, "up", b.row - a.row - 1, aside, way] += 1
                expected_ahead[label, a.row + 1, "hang", how.row_name(b.row)] += 1
            elif over:  # even one stitch is said
                expected_ahead[label, a.row + 1, "over"] += 1
                expected_steps[label, b.row + 1, "over", far] += 1
            elif woven_by(a, b, how, columns):
                expected_ahead[label, a.row + 1, "weave", far] += 1
            elif far > 1:
                expected_ahead[label, a.row + 1, "leave", far] += 1
                expected_steps[label, b.row + 1, "carry", far] += 1
    said_steps, said_ahead = Counter(), Counter()
    for card in plan.cards:
        steps = " | ".join(card.steps)
        for label, n in ACROSS.findall(steps):
            said_steps[label, card.row, "across", int(n)] += 1
        for label, n in CARRY.findall(steps):
            said_steps[label, card.row, "carry", int(n)] += 1
        for label, up, shift, way in UP.findall(steps):
            said_steps[label, card.row, "up", int(up), int(shift or 0), way] += 1
        for label, n in OVER.findall(steps):
            said_steps[label, card.row, "over", int(n)] += 1
        for word in card.ahead:
            if match := WEAVE.fullmatch(word):
                said_ahead[match[1], card.row, "weave", int(match[2])] += 1
            elif match := OVER_NEXT.fullmatch(word):
                said_ahead[match[1], card.row, "over"] += 1
            elif match := LEAVE.fullmatch(word):
                said_ahead[match[1], card.row, "leave", int(match[2])] += 1
            elif match := HANG.fullmatch(word):
                said_ahead[match[1], card.row, "hang", match[2]] += 1
            else:
                pytest.fail(word)
    assert said_steps == expected_steps
    assert said_ahead == expected_ahead


def test_a_carry_between_two_halves_is_said():
    """By hand: B begins in row 1 at edge 6 from the left and its other half works row 2 from edge
    10: four stitches of yarn lie between the halves, and some card has to say so."""
    rows = ["A" * 10 + "BBBB" + "A" * 6, "AABBBB" + "A" * 14]
    plan = plan_of(rows, limits=CarryLimits(sideways=4, up=0))
    assert plan.traced.middle_starts == 1
    assert plan.traced.carried_per_strand()[plan.traced.labels.index("B1")] == 4
    said = [
        word
        for card in plan.cards
        for word in (*card.steps, *card.ahead)
        if "B1" in word and "cast on" not in word
    ]
    assert any(re.search(r"\b4 (more )?stitches|it 4 on", word) for word in said), said


@every_case
def test_the_distance_between_two_halves_is_said(name, number):
    """The yarn between the halves of a strand, where it is longer than a stitch, stands on the card
    of one of their rows."""
    rows, plan = case(name, number)
    parts, silent = walk(name, number), []
    for label, half in parts:
        if not half:
            continue
        a, b = parts[label, 0][0], parts[label, 1][0]
        far = abs(a.enter - b.enter)
        far = min(far, len(rows[0]) - far) if HOW[name].is_tube and a.row != b.row else far
        words = []
        for row in (a.row, b.row):
            words += [*plan.cards[row].steps, *plan.cards[row].ahead]
        of_it = (
            rf"(from|since) the middle of {label}\b"
            rf"|(weave|carry|float|leave) {label}[ab]\b"
        )
        distance = rf"(?<!at )\b{far} (more )?stitch|it {far} on"
        about = [text for text in words if re.search(of_it, text)]
        if far > 1 and not any(re.search(distance, text) for text in about):
            silent.append((label, a.row + 1, far))
    assert silent == []


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
