"""The ways of holding side by side, against counts made row by row."""

import numpy as np

from planner import CarryLimits, Yarn
from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, SUPPLIES, Habits
from tests.helpers.parts import exact_parts, fewest_pieces
from tests.helpers.plans import V, every_random_plan, plan_of, random_plan, stripes


@every_random_plan
def test_stretches_cover_all_rows_once(number):
    plan = random_plan(number)
    stretches = list(dict.fromkeys(plan.ways.rows))
    rows = []
    for text in stretches:
        first, last = map(int, text.split("–"))
        rows += range(first, last + 1)
    assert rows == plan.rows.row.tolist()
    ways = [
        "each a loose strand",
        "each a butterfly",
        "each a bobbin",
        "all from the ball",
        "suggested mix",
    ]
    assert plan.ways.way.tolist() == ways * len(stretches)
    habits = plan.project.habits
    for text, some in plan.ways.groupby("rows"):
        first, last = map(int, text.split("–"))
        most = plan.rows.live[first - 1 : last].max()
        assert set(some.load) == {habits.word(int(most))}


@every_random_plan
def test_ways_by_a_plain_count(number):
    """Most hanging, balls and narrowest areas, by going through the rows of each stretch; refills
    by the fewest pieces."""
    plan = random_plan(number)
    habits, yarns, tail = plan.project.habits, plan.project.yarns, plan.project.allow.tail_cm
    parts = exact_parts(plan)
    holds = {
        LOOSE: habits.loose_up_to_cm,
        BUTTERFLY: habits.butterfly_up_to_cm,
        BOBBIN: habits.bobbin_up_to_cm,
    }
    for way in plan.ways.itertuples():
        first, last = map(int, way.rows.split("–"))
        some = parts[(parts.hangs_from <= last) & (parts.last_row >= first)]
        kind = next((supply for supply in SUPPLIES if way.way.endswith(supply)), None)
        if kind is not None:
            some = some.assign(supply=kind)
        balls, hanging = [], []
        for row in range(first, last + 1):
            live = some[(some.hangs_from <= row) & (row <= some.last_row)]
            fed = live[live.supply == BALL].yarn.value_counts()
            balls.append(np.ceil(fed / (2 if habits.both_ends else 1)).sum())
            hanging.append((live.supply != BALL).sum())
        assert way.balls_on_table == max(balls)
        assert way.most_hanging == max(hanging)
        assert way.narrowest_stitches == some.narrowest_stitches.min()
        refills = some.refills
        if kind is not None:
            refills = [
                fewest_pieces(p.cm, holds.get(kind, 100 * yarns[p.yarn].metres_per_ball), tail) - 1
                for p in some.itertuples()
            ]
        assert way.refills == sum(refills)
        # The halves of a strand begun from its middle are wound as one.
        if not plan.traced.has_middle.any():
            wound = [n + 1 for n, k in zip(refills, some.supply, strict=True) if k != BALL]
            assert way.pieces_to_wind == sum(wound)


def test_pieces_to_wind_are_those_of_the_winding_list():
    """One stretch, so the suggested mix winds what the list winds: the A ground, and the V as one
    length from its middle."""
    plan = plan_of(V, limits=CarryLimits(across=1))
    assert plan.winding_list.pieces.sum() == 2
    mix = plan.ways[plan.ways.way == "suggested mix"]
    assert mix.pieces_to_wind.tolist() == [2]


def test_both_ends_are_one_ball_on_the_table():
    """Side by side with the other ways, two strands from both ends of one ball are one ball, and
    there is room for it."""
    rows = ["A" * 40 + "B" * 5 + "A" * 50] * 60
    yarns = {"A": Yarn("A", metres_per_ball=500, balls_in_hand=1)}
    mix = plan_of(rows, yarns, habits=Habits(both_ends=True, balls_on_table=1)).ways.iloc[-1]
    assert mix.way == "suggested mix"
    assert mix.balls_on_table == 1
    assert "you have room for" not in mix.against


def test_reasons_by_eye():
    """Three stripes of A and B, one ball of each, a table for one: what speaks for and against each
    way."""
    rows = stripes(30, 2, 30, rows=60, letters="ABA")
    yarns = {y: Yarn(y, metres_per_ball=500, balls_in_hand=1) for y in "AB"}
    ways = plan_of(rows, yarns, habits=Habits(balls_on_table=1, rewinding=False)).ways.set_index(
        "way"
    )
    assert ways.rows.tolist() == ["1–60"] * 5
    loose, butterfly, bobbin, ball, mix = (ways.loc[way] for way in ways.index)
    assert (loose.pieces_to_wind, loose.most_hanging, loose.balls_on_table) == (
        loose.refills + 3,
        3,
        0,
    )
    assert "refill" in loose.against
    assert "good at 2 stitches" in butterfly["for"]
    assert "cannot be rewound" in butterfly.against
    assert "swings on areas of 2 stitches" in bobbin.against
    assert "rather not rewind" in bobbin.against
    assert (ball.pieces_to_wind, ball.most_hanging, ball.balls_on_table, ball.refills) == (
        0,
        0,
        3,
        0,
    )
    assert "3 balls at once, you have room for 1" in ball.against
    assert "not enough balls: 2 of A at once, 1 to be had" in ball.against
    assert (mix.balls_on_table, mix.most_hanging) == (1, 2)
    assert "room" not in mix.against
    assert "balls" not in mix.against
