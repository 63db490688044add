"""The mix and its best alternative in each section, against counts made row by row."""

import math
import re
from collections import Counter

import pytest

from planner import CarryLimits, Yarn
from planner.choices.ways import MIX, find_ways
from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, Habits, OwnChoice
from planner.supplies import TO_EMBROIDER, Feeding
from tests.helpers.feeding import can_be_fed, fed_by
from tests.helpers.parts import exact_parts
from tests.helpers.plans import (
    RANDOM_PLANS,
    SIX_AT_WORK,
    V,
    every_random_plan,
    plan_of,
    random_plan,
    stripes,
)


def sections_of(plan):
    """First and last row, from 1, of each section, with its lines in the table of ways."""
    for rows, ways in plan.ways.groupby("rows", sort=False):
        first, last = map(int, rows.split("–"))
        yield first, last, ways


@every_random_plan
def test_sections_cover_all_rows_once(number):
    plan = random_plan(number)
    rows = [row for first, last, _ in sections_of(plan) for row in range(first, last + 1)]
    assert rows == plan.rows.row.tolist()
    for _, _, ways in sections_of(plan):
        assert len(ways) in (1, 2)
        assert ways.way.iloc[0] == MIX
        assert all(way.startswith("or ") for way in ways.way[1:])
        assert ways.load.nunique() == 1
        # What is the same would be no choice.
        assert not ways.held.duplicated().any()


def counted_up(plan, first, last):
    """What the mix takes in rows `first` to `last`, from 1: counted part by part, row by row."""
    ends = 2 if plan.project.habits.both_ends else 1
    parts = exact_parts(plan)
    parts = parts[(parts.hangs_from <= last) & (parts.last_row >= first)]
    until = parts.last_row + 1
    until = until.where(parts.measured_off_before.isna(), parts.measured_off_before)
    until = until.where(parts.supply.str.startswith(BALL), parts.hangs_from)
    balls = []
    for row in range(first, last + 1):
        lives = (parts.hangs_from <= row) & (row <= parts.last_row)
        on_ball = lives & (row < until)
        fed = parts.yarn[on_ball].value_counts()
        balls.append(sum(math.ceil(strands / ends) for strands in fed))
    # What hangs at the end is wound, though it may have been wound in a section before.
    wound = until <= parts.last_row.clip(upper=last)
    supplies = parts.supply.str.split(", then ").str[-1].where(wound, BALL)
    wound_here = [
        piece
        for piece in plan.pieces
        if piece.supply not in (BALL, TO_EMBROIDER) and first <= piece.row + 1 <= last
    ]
    return {
        "lengths_to_wind": len(wound_here),
        "most_at_once": plan.rows.live[first - 1 : last].max(),
        "balls_on_table": max(balls),
        "refills": parts.refills.sum(),
        "held": Counter(supplies),
    }


def kinds(held):
    """How many parts are held each way: "3 × bobbin, 1 × from the ball"."""
    return Counter({kind: int(n) for n, kind in re.findall(r"(\d+) × ([^,]+)", held)})


@every_random_plan
def test_the_mix_by_a_plain_count(number):
    plan = random_plan(number)
    for first, last, ways in sections_of(plan):
        mix = ways.iloc[0]
        plain = counted_up(plan, first, last)
        assert kinds(mix.held) == plain.pop("held")
        assert mix[list(plain)].to_dict() == plain


def ways_of(plan):
    """The records that the table is made from: each section, its mix and its alternative."""
    found = find_ways(plan.traced, plan.held, plan.project, balls=plan.balls)
    for number, (section, mix) in enumerate(found):
        if mix.name == MIX:
            following = found[number + 1 : number + 2]
            others = [way for of, way in following if of is section]
            yield section, mix, others[0] if others else None


@every_random_plan
def test_the_alternative_by_a_plain_count(number):
    """Row by row, from the way in which each part would be held."""
    plan = random_plan(number)
    ends = 2 if plan.project.habits.both_ends else 1
    for section, _, other in ways_of(plan):
        if other is None:
            continue
        balls, hanging = [], []
        for row in range(section.first, section.last + 1):
            live = [
                each
                for each in other.parts
                if each.held.part.hangs_from <= row <= each.held.part.last_row
            ]
            fed = Counter(each.held.part.yarn for each in live if row < each.ball_until)
            balls.append(sum(math.ceil(strands / ends) for strands in fed.values()))
            hanging.append(sum(row >= each.ball_until for each in live))
        assert (other.balls_by_row.max(), other.most_hanging) == (max(balls), max(hanging))
        assert other.most_at_once == plan.rows.live[section.first : section.last + 1].max()
        assert sum(kinds(other.in_words).values()) == len(other.parts)


@every_random_plan
def test_no_alternative_is_absurd(number):
    """Never more refills than the mix, a loose strand of more than 5 yd, a butterfly or a bobbin
    that holds more than it can, a yarn that does not suit its supply, one of the knitter's own
    choices turned round."""
    plan = random_plan(number)
    habits = plan.project.habits
    holds = {
        LOOSE: 457,
        BUTTERFLY: habits.butterfly_up_to_cm,
        BOBBIN: habits.bobbin_up_to_cm,
    }
    for _, mix, other in ways_of(plan):
        if other is None:
            continue
        assert other.refills <= mix.refills
        as_planned = {each.held: each for each in mix.parts}
        exchanged = [each for each in other.parts if each != as_planned[each.held]]
        assert exchanged
        for each in exchanged:
            part, yarn = each.held.part, plan.project.yarns[each.held.part.yarn]
            assert not each.held.by_hand
            assert yarn.may_be_cut
            if each.supply != BALL:
                assert each.last_cm <= holds[each.supply] + 1e-6
                assert (each.supply, yarn.surface) not in (
                    (LOOSE, "hairy"),
                    (BUTTERFLY, "slippery"),
                )
                assert each.supply != BUTTERFLY or each.last_cm >= 100
            else:
                assert each.ball_until == part.last_row + 1


@every_random_plan
def test_an_alternative_has_the_balls_and_the_room(number):
    """All that would be fed from balls, here and in other sections: by every way to share them."""
    plan = random_plan(number)
    habits = plan.project.habits
    room = habits.room(len(plan.rows))
    ends = 2 if habits.both_ends else 1
    planned = {each.part: each for each in fed_by(plan)}
    for section, mix, other in ways_of(plan):
        if other is None:
            continue
        mixed = {each.held.part.number: each for each in mix.parts}
        fed = dict(planned)
        added = False
        for each in other.parts:
            part = each.held.part
            if each == mixed[part.number]:
                continue
            if each.ball_until == part.hangs_from:
                fed.pop(part.number, None)
            elif each.supply == BALL:
                added = True
                rows = (part.hangs_from, part.last_row)
                fed[part.number] = Feeding(part.number, part.yarn, *rows, part.wound_cm)
        if added:
            assert (other.balls_by_row <= room[section.first : section.last + 1]).all()
            for letter, balls in plan.balls.items():
                wishes = [each for each in fed.values() if each.letter == letter]
                assert can_be_fed(wishes, balls, ends)


def test_the_random_plans_try_everything():
    names = Counter(way for number in range(RANDOM_PLANS) for way in random_plan(number).ways.way)
    assert set(names) >= {
        MIX,
        "or fewer balls",
        "or more from the ball",
        "or butterflies loose",
        "or butterflies on bobbins",
        "or loose strands as butterflies",
    }


# By hand


def test_lengths_to_wind_are_those_of_the_winding_list():
    """One section, so the mix winds what the list winds: the ground comes from its ball, the V is
    one length from its middle."""
    plan = plan_of(V, limits=CarryLimits(across=1))
    assert plan.winding_list.supply.tolist() == [BALL, LOOSE]
    mix = plan.ways[plan.ways.way == MIX]
    assert mix.lengths_to_wind.tolist() == [1]
    assert (mix.most_at_once.tolist(), mix.balls_on_table.tolist()) == ([3], [1])


def test_both_ends_are_one_ball_on_the_table():
    """Two strands from both ends of one ball are one ball, and there is room for it."""
    rows = ["A" * 40 + "B" * 5 + "A" * 50] * 60
    yarns = {"A": Yarn("A", metres_per_ball=500, balls_in_hand=1)}
    mix = plan_of(rows, yarns, habits=Habits(both_ends=True, balls_on_table=1)).ways.iloc[0]
    assert mix.way == MIX
    assert mix.balls_on_table == 1
    assert "you have room for" not in mix.against


@pytest.mark.parametrize(
    ("elsewhere", "words"),
    [("", ""), ("21-40 train", "2 balls at once where you have room for 0")],
)
def test_two_balls_where_there_is_no_room_for_them(elsewhere, words):
    """Rows 21 to 40 are knitted in the train, but the knitter wants both from balls."""
    rows = ["A" * 40 + "B" * 40] * 40
    own = tuple(
        OwnChoice("supply", yarn, 1, stitch, "whole", BALL)
        for yarn, stitch in (("A", 41), ("B", 1))
    )
    habits = Habits(balls_on_table=2, elsewhere=elsewhere)
    mix = plan_of(rows, habits=habits, choices=own).ways.iloc[0]
    assert (mix.rows, mix.balls_on_table, mix.against) == ("1–40", 2, words)


def test_room_is_that_of_the_row():
    """One section, of which the last rows are knitted in the train: the two balls of the rows
    before are no balls too many."""
    rows = ["C" * 80] * 20 + ["A" * 40 + "B" * 40] * 20
    plan = plan_of(rows, habits=Habits(elsewhere="21-40 train"))
    assert plan.ways.rows.tolist() == ["1–40"] * len(plan.ways)
    assert plan.ways.balls_on_table.iloc[0] == 2
    assert not plan.ways.against.str.contains("room for").any()


def test_a_yarn_measured_off_is_wound_where_it_hangs():
    """A and B come from balls in the first section, where C is wound; they are wound in the second,
    and there C is not wound again."""
    rows = ["CC" + SIX_AT_WORK] * 20 + ["CC" + "A" * 50 + "B" * 10] * 30
    plan = plan_of(rows, limits=CarryLimits(sideways=60))
    mixes = plan.ways[plan.ways.way == MIX]
    assert plan.winding_list.labels.str.contains("from row 31").sum() == 2
    # C is another strand in the rows above; D, E and F begin with the second section.
    wound = plan.winding_list[plan.winding_list.supply != BALL]
    assert mixes.lengths_to_wind.sum() == wound.pieces.sum()
    first = wound[wound.first_row <= 30]
    assert mixes.lengths_to_wind.tolist() == [first.pieces.sum(), len(plan.pieces) - 2 - len(first)]


def test_few_and_wide_from_balls_or_wound():
    """By hand: two stripes of 20 rows, 8.30 and 4.30 m. From balls nothing is wound; the other way
    two butterflies are, and hang."""
    plan = plan_of(stripes(20, 10, rows=20))
    mix, other = plan.ways.to_dict("records")
    assert (mix["rows"], mix["load"], mix["held"]) == ("1–20", "easy", "2 × from the ball")
    assert (mix["lengths_to_wind"], mix["most_at_once"], mix["balls_on_table"]) == (0, 2, 2)
    assert mix["for"] == "from the ball: no winding, nothing runs short"
    assert mix["against"] == ""
    assert (other["way"], other["held"]) == ("or fewer balls", "2 × butterfly")
    assert (other["lengths_to_wind"], other["most_at_once"], other["balls_on_table"]) == (2, 2, 0)
    assert other["for"] == "what hangs is dropped through, a ball is not"
    assert other["against"] == "2 more to wind; 2 more hang"


def test_what_is_measured_off_stands_in_both_its_sections():
    """From the ball while two are at work, then a butterfly among six."""
    rows = [SIX_AT_WORK] * 20 + ["A" * 50 + "B" * 10] * 30
    plan = plan_of(rows, limits=CarryLimits(sideways=60))
    mixes = plan.ways[plan.ways.way == MIX]
    assert mixes.rows.tolist() == ["1–30", "31–50"]
    assert mixes.load.tolist() == ["easy", "busy"]
    assert mixes.held.tolist() == ["2 × from the ball", "6 × butterfly"]
    assert mixes.most_at_once.tolist() == [2, 6]
    assert mixes.balls_on_table.tolist() == [2, 0]
    # In the second section two butterflies come off the balls of the first: that stays so when
    # they are wound another way.
    other = plan.ways.iloc[-1]
    assert (other.way, other.held) == ("or butterflies on bobbins", "6 × bobbin")
    assert (other.lengths_to_wind, other.balls_on_table) == (6, 0)


@pytest.mark.parametrize(
    ("balls", "place", "other"),
    [
        (2, "table", ["or more from the ball"]),
        # One ball is not two; and in the train none lies still.
        (1, "table", []),
        (2, "train", []),
    ],
)
def test_more_from_the_ball_only_where_there_are_balls_and_room(balls, place, other):
    """Two stripes of 24.30 m beside a narrow one, all of it busy to this knitter: two bobbins, for
    which there is nothing else but balls."""
    rows = ["A" * 30 + "B" * 4 + "A" * 30] * 40
    yarns = {"A": Yarn("A", metres_per_ball=500, balls_in_hand=balls), "B": Yarn("B")}
    habits = Habits(comfortable=1, place=place, butterfly_up_to_cm=300, loose_up_to_cm=100)
    plan = plan_of(rows, yarns, habits=habits)
    assert plan.ways.held.iloc[0] == "3 × bobbin"
    assert plan.ways.way.tolist() == [MIX, *other]


def test_reasons_by_eye():
    """Many hang, two of them on bobbins at three stitches, and the knitter would rather not
    rewind."""
    habits = Habits(comfortable=1, crowded=2, rewinding=False, place="train", drop="long")
    plan = plan_of(stripes(3, 40, 3, 8, rows=250), habits=habits)
    mix = plan.ways.iloc[0]
    refills = int(plan.supplies.refills.sum())
    assert mix.against == (
        f"{refills} refills; 4 hang at once; 2 bobbins swing on a narrow area; "
        "you would rather not rewind"
    )
    loose = plan_of(stripes(3, 8, rows=20), habits=Habits(comfortable=1, crowded=1)).ways.iloc[0]
    assert loose.held == "2 × loose strand"
    assert loose.against == "2 hang at once; 1 loose strand longer than you like"
