"""Balls are things with a length: never more is fed than they hold, never more lie than there is
room for, the longest strands first; against every way to share them out."""

from collections import defaultdict

import numpy as np
import pytest

from planner import Yarn
from planner.piece import BALL, BOBBIN, BUTTERFLY, Allowances, Habits, OwnChoice
from planner.supplies import Feeding, Table
from tests.helpers.feeding import can_be_fed, fed_by, is_beyond, lying_in
from tests.helpers.parts import supplies_of, why
from tests.helpers.plans import every_random_plan, plan_of, random_plan, stripes

# Nothing but the piece is needed, and bands are right: balls hold what they say.
EXACT = Allowances(tail_cm=15, cast_on=0, bind_off=0, swatch_cm=0, spare=0, label_error=0)
WIDE_TABLE = Habits(balls_on_table=50)


def two_strands(wide, rows):
    """Two stripes of A, so wide, on either side of one of B; 2 cm to the stitch, tails of 15 cm."""
    return ["A" * wide + "B" * 5 + "A" * wide] * rows


# By hand


def test_the_longest_strands_get_the_table():
    """Five long stripes, room for two balls: the widest stripes have them."""
    plan = plan_of(stripes(30, 50, 40, 60, 35, rows=60), habits=Habits(balls_on_table=2))
    assert supplies_of(plan) == {"A1": BOBBIN, "B1": BALL, "C1": BOBBIN, "D1": BALL, "E1": BOBBIN}
    assert why(plan, "A1").endswith("; not from the ball: there is room for 2 balls only")
    plan = plan_of(stripes(30, 50, rows=60), habits=Habits(balls_on_table=1))
    assert why(plan, "A1").endswith("there is room for 1 ball only")


def test_few_balls():
    """Two long stripes of one yarn live at the same time: one ball in hand is one strand from the
    ball, two are two."""
    rows = ["A" * 40 + "B" * 5 + "A" * 50] * 60
    for balls, expected in ((1, [BOBBIN, BALL]), (2, [BALL, BALL])):
        plan = plan_of(rows, {"A": Yarn("A", metres_per_ball=500, balls_in_hand=balls)})
        held = supplies_of(plan)
        wide, narrow = sorted(
            ("A1", "A2"), key=lambda s: -plan.strands.set_index("strand").stitches[s]
        )
        assert [held[narrow], held[wide]] == expected
        assert ("every ball of A" in why(plan, narrow)) == (balls == 1)


def test_balls_to_be_bought_count():
    """No ball in hand, 70 m to a ball of which 63 are counted on: 60 rows of 95 stitches take
    114 m and more, so there are two balls or three, and both stripes have one."""
    plan = plan_of(["A" * 40 + "B" * 5 + "A" * 50] * 60, {"A": Yarn("A", metres_per_ball=70)})
    assert plan.shopping_list.set_index("yarn").balls_to_buy["A"] >= 2
    assert [kind for strand, kind in supplies_of(plan).items() if strand[0] == "A"] == [BALL, BALL]


@pytest.mark.parametrize(
    ("grams", "balls", "part_balls_g", "half"),
    [
        (None, 1.5, (), "0.5 of a ball"),
        (50, 1.5, (), "0.5 of a ball"),
        # What was weighed is known by its weight.
        (50, 1, (25,), "25 g"),
        (50, 0, (50, 25), "25 g"),
    ],
)
def test_one_ball_and_a_half(grams, balls, part_balls_g, half):
    """100 m and 50 m, counted or weighed: two strands of 74 m at the same time cannot both be fed
    from them, one of 89 m and one of 49 m can."""
    yarn = Yarn("A", "", None, 100, grams, balls, part_balls_g=part_balls_g)
    plan = plan_of(two_strands(82, 45), {"A": yarn}, allow=EXACT)
    assert plan.balls["A"] == (10_000, 5_000)
    assert plan.shopping_list.set_index("yarn").balls_to_buy["A"] == 0
    held = [each for each in plan.held if each.part.yarn == "A"]
    assert [each.part.wound_cm for each in held] == pytest.approx([7410, 7410])
    assert [each.supply for each in held] == [BALL, BOBBIN]
    assert held[1].refills == 2
    assert "no ball of A that is free in those rows holds enough" in held[1].why

    plan = plan_of(["A" * 99 + "B" * 5 + "A" * 54] * 45, {"A": yarn}, allow=EXACT)
    held = [each for each in plan.held if each.part.yarn == "A"]
    assert [each.supply for each in held] == [BALL, BALL]
    in_words = [line for line in plan.winding_list.line if line[0] == "A"]
    assert in_words == [f"A1: from ball 2 ({half}), 48.90 m", "A2: from ball 1, 89.40 m"]


@pytest.mark.parametrize(("wide", "supplies"), [(55, [BALL, BALL]), (66, [BALL, BOBBIN])])
def test_both_ends_of_a_ball_share_its_length(wide, supplies):
    """By hand: 45 rows of 55 stitches are 49.8 m, of 66 are 59.7 m. A ball of 100 m feeds two of
    the first from both its ends, though there is room for one ball only, but not two of the
    second."""
    yarns = {"A": Yarn("A", metres_per_ball=100, balls_in_hand=1)}
    habits = Habits(both_ends=True, balls_on_table=1)
    plan = plan_of(two_strands(wide, 45), yarns, habits=habits, allow=EXACT)
    assert [each.supply for each in plan.held if each.part.yarn == "A"] == supplies
    assert plan.notes == ()


@pytest.mark.parametrize(("metres", "is_fed"), [(8, True), (7.5, False)])
def test_a_half_on_the_ball_takes_the_other_half_along(metres, is_fed):
    """A V of two legs of 4.16 and 3.75 m, half of it on the ball: what is wound of the other half
    comes off the same ball, before it."""
    rows = ["A" * 36 + "B" * 20 + "AA" + "B" * 20 + "A" * 42] * 9 + ["A" * 38 + "B" * 20 + "A" * 62]
    first_half_only = (OwnChoice("supply", "B", 1, 63, "first half", BALL),)
    yarns = {"B": Yarn("B", metres_per_ball=metres, balls_in_hand=1)}
    plan = plan_of(rows, yarns, allow=EXACT, choices=first_half_only)
    halves = [each for each in plan.held if each.part.yarn == "B"]
    assert [each.part.name for each in halves] == ["first half", "second half"]
    assert [each.part.wound_cm for each in halves] == [416, 375]
    fed = [each.length_cm for each in fed_by(plan) if each.letter == "B"]
    assert fed == ([791] if is_fed else [])
    words = "You chose to feed B1a from the ball, but no ball of B that is free in those rows holds"
    assert any(words in note for note in plan.notes) is not is_fed


def test_a_half_on_each_of_two_balls_is_no_middle_start():
    """Both halves from the ball by choice: kept, one of them without a ball, and each as long as
    it is."""
    rows = ["AABAAAAABAA", "AAAAABAAAAA"]
    both = (OwnChoice("supply", "B", 1, 6, "whole", BALL),)
    yarns = {"B": Yarn("B", metres_per_ball=100, balls_in_hand=3)}
    plan = plan_of(rows, yarns, choices=both)
    halves = [each for each in plan.held if each.part.yarn == "B"]
    assert [each.supply for each in halves] == [BALL, BALL]
    assert [each.stages[0].ball for each in halves] == [1, 0]
    for half in halves:
        assert [stage.length_cm for stage in half.stages] == pytest.approx([half.part.wound_cm])
    assert any("B1b" in note and "other half stays on the ball" in note for note in plan.notes)


def test_own_choices_beyond_the_table_are_kept():
    """Five balls by choice on a table for two: kept, and said; nothing else gets a ball in those
    rows."""
    rows = stripes(10, 10, 10, 10, 10, 60, rows=60)
    before = plan_of(rows)
    own = tuple(
        OwnChoice("supply", s.yarn, s.first_row, s.first_stitch, "whole", BALL)
        for s in before.strands.itertuples()
        if s.yarn != "F"
    )
    habits = Habits(balls_on_table=2, comfortable=6)
    plan = plan_of(rows, choices=own, habits=habits)
    held = supplies_of(plan)
    assert held.pop("F1") == BOBBIN
    assert set(held.values()) == {BALL}
    words = ("You chose to feed", "from the ball, but there is room for 2 balls only. It is kept.")
    assert len([note for note in plan.notes if all(word in note for word in words)]) == 3
    # Each lies there, though there is no room for it.
    assert [each.stages[0].ball for each in plan.held if each.part.yarn != "F"] == [1] * 5


def test_a_ball_that_lies_there_by_choice_feeds_nothing_else():
    """One ball of B, and no place for it in rows 1 to 10: by choice it feeds the first stripe all
    the same, so the second, begun in row 21 where there is place, cannot have it."""
    rows = ["B" * 20 + "A" * 20 + "B" * 20] * 20 + ["B" * 20 + "A" * 40] * 20
    yarns = {"B": Yarn("B", metres_per_ball=500, balls_in_hand=1)}
    habits = Habits(elsewhere="1-10 train")
    own = (OwnChoice("supply", "B", 1, 41, "whole", BALL),)
    plan = plan_of(rows, yarns, habits=habits, choices=own)
    assert [supplies_of(plan)[strand] for strand in ("B1", "B2")] == [BALL, BUTTERFLY]
    assert any("B1" in note and "there is no place to lay a ball" in note for note in plan.notes)
    assert "every ball of B in hand or to be bought is in use" in why(plan, "B2")


def test_own_choice_of_more_balls_than_there_are_is_kept_and_noted():
    own = tuple(OwnChoice("supply", "A", 1, stitch, "whole", "from the ball") for stitch in (1, 9))
    plan = plan_of(["AAAABBBBAAAA"] * 6, choices=own)
    assert (plan.supplies.supply[plan.supplies.yarn == "A"] == "from the ball").all()
    words = "every ball of A in hand or to be bought is in use in those rows. It is kept."
    assert any(words in note for note in plan.notes)
    (without,) = [each for each in plan.held if each.part.yarn == "A" and not each.stages[0].ball]
    assert without.against == "no ball or no place for it"


# Joined balls, by hand


def in_row_3(lengths_cm):
    """Each of these pieces runs out in row 3."""
    return [3] * len(lengths_cm)


def test_joined_balls_lie_one_after_the_other():
    """Two balls need no more room than one, for the first is used up when the second is joined;
    three do where two of them are joined in one row."""
    for balls, length_cm, room, gives in (
        ([100, 60], 140, 1, [100, 50]),
        ([100, 60], 140, 0, []),
        ([60, 100, 80], 200, 1, []),
        ([60, 100, 80], 200, 2, [100, 80, 40]),
    ):
        table = Table(WIDE_TABLE, {"A": balls}, np.full(10, room))
        wish = Feeding(0, "A", 0, 9, length_cm)
        assert table.feed_joined(wish, 5, most_joins=9, runs_out=in_row_3) == gives
    # What begins before the join or after it finds its ball free again.
    table = Table(WIDE_TABLE, {"A": [120, 60]}, np.full(10, 2))
    assert table.feed_joined(Feeding(0, "A", 0, 9, 140), 5, most_joins=9, runs_out=in_row_3)
    assert table.feed(Feeding(1, "A", 0, 2, 15)) == ""
    assert table.balls_of("A", 1) == [2]


def joined(balls, length_cm, tail_cm, most_joins=9):
    """What each of these balls gives, one after the other."""
    table = Table(WIDE_TABLE, {"A": balls}, np.full(10, 50))
    wish = Feeding(0, "A", 0, 9, length_cm)
    return table.feed_joined(wish, tail_cm, most_joins=most_joins, runs_out=in_row_3)


def test_what_joined_balls_give():
    """Each gives all it holds, the fullest first, the last what is missing; two tails a join."""
    assert joined([100, 60], 140, 5) == [100, 50]
    assert joined([60, 100, 80], 200, 5) == [100, 80, 40]
    # Two joins, where one is the most; 155 cm takes one tail too many.
    assert joined([60, 100, 80], 200, 5, most_joins=1) == []
    assert joined([100, 60], 150, 5) == [100, 60]
    assert joined([100, 60], 155, 5) == []
    # What is left of a ball is little more than the two tails of a join.
    assert joined([100, 15], 104, 4) == []


def test_a_strand_longer_than_a_ball_is_joined_and_that_is_said():
    """By hand: 80 rows of 40 stitches take 64.30 m, 80 cm a row. Balls of 36 m: one more is joined
    in the row in which the first runs out, after 35.70 m: row 45. Both hold two tails."""
    yarns = {"A": Yarn("A", metres_per_ball=36)}
    plan = plan_of(stripes(40, rows=80), yarns, allow=EXACT)
    (held,) = plan.held
    assert [stage.length_cm for stage in held.stages] == pytest.approx([3600, 2860])
    assert [stage.row + 1 for stage in held.stages] == [1, 45]
    assert [stage.ball for stage in held.stages] == [1, 2]
    assert held.in_words == BALL
    assert (held.refills, held.refill_ends) == (1, 2)
    assert plan.winding_list.line.tolist() == [
        "A1: from ball 1 (to be bought), 36.00 m",
        "A1 refill 1: from ball 2 (to be bought), 28.60 m",
    ]
    ready = "Ready: ball 2 for A1: when 20 cm of A1 are left in this row, change over at a border"
    assert ready in str(plan.cards[44])
    assert plan.ends_in_all == 4


# Against every way to share them out


def random_wishes(rng, letter="A"):
    """A few strands of a yarn in twelve rows."""
    wishes = []
    for part in range(int(rng.integers(3, 7))):
        first, last = sorted(rng.integers(12, size=2).tolist())
        wishes.append(Feeding(part, letter, first, last, float(rng.integers(5, 60))))
    return wishes


@pytest.mark.parametrize("both_ends", [False, True])
@pytest.mark.parametrize("number", range(100))
def test_all_that_can_be_fed_is_fed(number, both_ends):
    """One strand after the other: it is fed if there is any way to feed it beside those that are,
    and only then."""
    rng = np.random.default_rng([number, both_ends])
    habits = Habits(both_ends=both_ends)
    balls = rng.choice([30.0, 50.0, 80.0, 100.0], size=rng.integers(1, 4)).tolist()
    table = Table(habits, {"A": balls}, np.full(12, 50))
    ends = 2 if both_ends else 1
    fed = []
    for wish in random_wishes(rng):
        refused = table.feed(wish)
        assert (not refused) == can_be_fed([*fed, wish], balls, ends)
        fed += [] if refused else [wish]
        assert is_beyond(table.fed.get("A", []), balls, ends) == ""
        assert [each.part for each in table.fed.get("A", [])] == [each.part for each in fed]


def test_the_random_strands_try_everything():
    """Some fit at once, some after all are shared out anew, some not at all."""
    at_once, anew, refused = 0, 0, 0
    for number in range(100):
        rng = np.random.default_rng([number, False])
        balls = rng.choice([30.0, 50.0, 80.0, 100.0], size=rng.integers(1, 4)).tolist()
        table = Table(Habits(), {"A": balls}, np.full(12, 50))
        for wish in random_wishes(rng):
            before = [each.ball for each in table.fed.get("A", [])]
            if table.feed(wish):
                refused += 1
            elif [each.ball for each in table.fed["A"]][:-1] == before:
                at_once += 1
            else:
                anew += 1
    assert at_once > 100
    assert anew > 3
    assert refused > 100


def test_shared_out_anew_by_hand():
    """Balls of 60 and 100 cm; 30 cm come from the shorter, then 40 from the longer, then 62: the
    first go to the longer, the second to the shorter, so that it holds the third."""
    table = Table(WIDE_TABLE, {"A": (60, 100)}, np.full(30, 50))
    wishes = [Feeding(0, "A", 0, 9, 30), Feeding(1, "A", 10, 19, 40), Feeding(2, "A", 20, 29, 62)]
    assert [table.feed(wish) for wish in wishes[:2]] == ["", ""]
    assert [each.ball for each in table.fed["A"]] == [0, 1]
    assert table.feed(wishes[2]) == ""
    assert [each.ball for each in table.fed["A"]] == [1, 0, 1]
    # As they are named for the knitter: by their place among the balls.
    assert [table.balls_of("A", part) for part in range(3)] == [[2], [1], [2]]


@pytest.mark.parametrize("both_ends", [False, True])
@pytest.mark.parametrize("number", range(60))
def test_never_more_lie_than_there_is_room_for(number, both_ends):
    """Two yarns and a table that is now wide, now small, now none: never more balls, however they
    are shared out; and where one ball is one strand, a strand is refused only if it must be."""
    rng = np.random.default_rng([number, both_ends])
    balls = {letter: rng.choice([50.0, 100.0], size=rng.integers(1, 4)).tolist() for letter in "AB"}
    room = np.repeat(rng.integers(0, 4, size=3), 4)
    table = Table(Habits(both_ends=both_ends), balls, room)
    fed = defaultdict(list)
    wishes = [*random_wishes(rng, "A"), *random_wishes(rng, "B")]
    for wish in rng.permutation(np.array(wishes, dtype=object)).tolist():
        refused = table.feed(wish)
        laid = [each for of_yarn in table.fed.values() for each in of_yarn]
        for row in range(12):
            assert len(lying_in(laid, row)) <= room[row]
        if not both_ends:
            at_once = np.zeros(12, dtype=int)
            for each in [*fed["A"], *fed["B"], wish]:
                at_once[each.first : each.last + 1] += 1
            is_room = (at_once <= room).all()
            letter = wish.letter
            can_be = is_room and can_be_fed([*fed[letter], wish], balls[letter], ends=1)
            assert (not refused) == can_be
        if not refused:
            fed[wish.letter].append(wish)


# In random plans


@every_random_plan
def test_nothing_is_fed_beyond_a_ball(number):
    """Of each ball never more than it holds, nor in any row for more strands than it has ends."""
    plan = random_plan(number)
    ends = 2 if plan.project.habits.both_ends else 1
    for letter, balls in plan.balls.items():
        of_yarn = [each for each in fed_by(plan) if each.letter == letter]
        assert is_beyond(of_yarn, balls, ends) == ""


@every_random_plan
def test_balls_by_a_plain_count(number):
    """No more lie beside the work than there is room for, but for those that the knitter chose."""
    plan = random_plan(number)
    feedings = fed_by(plan)
    by_hand = {held.part.number for held in plan.held if held.by_hand}
    chosen = [each for each in feedings if each.part in by_hand]
    for row, room in enumerate(plan.project.habits.room(len(plan.rows))):
        lying = len(lying_in(feedings, row))
        assert lying <= max(room, len(lying_in(chosen, row)))


@every_random_plan
def test_longest_first(number):
    """A part that was refused a ball finds none beside the balls of those alone that asked before
    it: what the knitter chose, what must not be cut, what no bobbin holds, then the longest."""
    plan = random_plan(number)
    habits, yarns = plan.project.habits, plan.project.yarns
    feedings = fed_by(plan)
    strand_cm = defaultdict(float)
    for held in plan.held:
        strand_cm[held.part.label] += held.part.wound_cm

    def turn(held):
        part = held.part
        fits = part.wound_cm <= habits.bobbin_up_to_cm
        return not held.by_hand, yarns[part.yarn].may_be_cut, fits, -part.wound_cm, part.number

    of_part = {held.part.number: held for held in plan.held}
    for held in plan.held:
        if "not from the ball" not in held.why or "other half" in held.why:
            continue
        part = held.part
        before = [each for each in feedings if turn(of_part[each.part]) < turn(held)]
        rows = range(part.hangs_from, part.last_row + 1)
        room = habits.room(len(plan.rows))
        is_full = any(len(lying_in(before, row)) >= room[row] for row in rows)
        wish = Feeding(part.number, part.yarn, rows[0], rows[-1], strand_cm[part.label])
        of_yarn = [each for each in before if each.letter == part.yarn]
        ends = 2 if habits.both_ends else 1
        assert is_full or not can_be_fed([*of_yarn, wish], plan.balls[part.yarn], ends), part.title
