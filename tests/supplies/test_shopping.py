"""The shopping list: its arithmetic, sums by eye, and balls as they were weighed."""

import math
from dataclasses import replace

import pandas as pd
import pytest

from planner import Chart, Gauge, Multiplier, Project, Yarn, make_plan
from planner.piece import BALL, Allowances, Habits, MultiplierChoice
from planner.supplies import TO_EMBROIDER, YarnNeeded, shopping_list, yarn_needed
from tests.helpers.parts import pieces_of, supplies_of
from tests.helpers.plans import GAUGE, every_random_plan, plan_of, random_plan, stripes


@every_random_plan
def test_shopping_list_arithmetic(number):
    """Each length is what is measured off, and the total the sum of the figures shown."""
    plan = random_plan(number)
    allow, units = plan.project.allow, plan.project.units
    unit, unit_cm = ("m", 100) if units == "cm" else ("yd", 91.44)
    pieces = pieces_of(plan).groupby("yarn").to_measure_cm.sum()
    assert plan.shopping_list.yarn.tolist() == list(plan.traced.chart.letters)
    for line in plan.shopping_list.itertuples():
        yarn = plan.project.yarns[line.yarn]
        piece, swatch, spare, total = (
            getattr(line, f"{name}_{unit}") * unit_cm
            for name in ("piece", "swatch", "spare", "total")
        )
        # Sums are shown to a tenth, and to a tenth swatch and spare are rounded up. Where a swatch
        # would take more than the piece there is none.
        in_all = pieces[line.yarn]
        swatch_cm = 12 / GAUGE.row_cm * 12 * 3.7
        assert piece == pytest.approx(in_all, abs=0.0501 * unit_cm)
        tenths_up = [math.ceil(cm / unit_cm * 10 - 1e-9) for cm in (swatch_cm, 0.05 * in_all)]
        assert swatch / unit_cm * 10 == pytest.approx(tenths_up[0] if swatch_cm <= in_all else 0)
        assert spare / unit_cm * 10 == pytest.approx(tenths_up[1])
        assert total == pytest.approx(piece + swatch + spare)
        total = in_all + swatch + spare
        # A whole gram never short.
        grams = total / 100 * yarn.grams_per_ball / yarn.metres_per_ball
        assert grams - 1e-6 <= line.grams < grams + 1
        balls = total / (100 * yarn.metres_per_ball * (1 - allow.label_error))
        assert line.balls_used == pytest.approx(balls, abs=0.006)
        in_hand = yarn.balls_in_hand + sum(yarn.part_balls_g) / yarn.grams_per_ball
        assert line.balls_in_hand == pytest.approx(in_hand, abs=0.0051)
        assert in_hand + line.balls_to_buy >= balls - 0.001
        assert line.balls_to_buy == 0 or in_hand + line.balls_to_buy - 1 < balls + 0.001


def test_shopping_list_by_eye():
    """100 stitches × 50 rows of 2 cm are 100 m; tails 0.30 m; spare a tenth of that, 10.03 m, and
    7 cm to the next tenth; a swatch of 10 cm is 28 rows of 40 cm."""
    allow = Allowances(tail_cm=15, cast_on=0, bind_off=0, swatch_cm=10, spare=0.1, label_error=0.2)
    yarn = Yarn(
        "A",
        "Rust",
        metres_per_ball=50,
        grams_per_ball=25,
        balls_in_hand=0.5,
        dye_lot="007",
        feltable=True,
    )
    one_bobbin = Habits(place="train", bobbin_up_to_cm=20_000)
    plan = plan_of(stripes(100, rows=50), {"A": yarn}, allow=allow, habits=one_bobbin)
    line = plan.shopping_list.iloc[0]
    assert line[["yarn", "name", "dye_lot"]].tolist() == ["A", "Rust", "007"]
    assert line[["piece_m", "swatch_m", "spare_m", "total_m"]].tolist() == pytest.approx(
        [100.3, 11.2, 10.1, 121.6]
    )
    assert line.grams == 61  # 121.6 m at half a gram a metre
    assert line.balls_used == 3.04  # of 40 m, a fifth short of what the band says
    assert line.balls_to_buy == 3  # beside the half ball in hand
    bare = replace(allow, swatch_cm=0, spare=0, label_error=0)
    plan = plan_of(stripes(100, rows=50), {"A": yarn}, allow=bare, habits=one_bobbin)
    assert plan.shopping_list.balls_used[0] == 2.01


def test_balls_in_hand_are_enough():
    plan = plan_of(["AAAA"] * 4, {"A": Yarn("A", metres_per_ball=100, balls_in_hand=3)})
    assert plan.shopping_list.balls_to_buy.tolist() == [0]


def test_unknown_metres():
    """The band is lost: lengths are planned all the same, balls and grams are left open, one ball
    is taken to be there."""
    yarns = {"A": Yarn("A", grams_per_ball=50), "B": Yarn("B", metres_per_ball=100)}
    plan = plan_of(stripes(40, 40, rows=60), yarns)
    table = plan.shopping_list.set_index("yarn")
    assert pd.isna(table.loc["A", ["grams", "balls_used", "balls_to_buy"]]).all()
    assert pd.isna(table.grams["B"])
    assert table.balls_to_buy["B"] == 1
    assert table.total_m["A"] == table.total_m["B"]
    assert supplies_of(plan) == {"A1": BALL, "B1": BALL}
    assert plan.winding_list.weight_g.isna().all()
    assert plan_of(["AA"]).shopping_list.balls_to_buy.isna().all()


def test_a_light_ball_is_allowed_for():
    """Balls labelled 100 g weighed 119 and 91 g (published, tracykm.blogspot.com/2008/01): the
    balls asked for are enough though each be as light as the lighter one."""
    yarn = Yarn("A", metres_per_ball=50, grams_per_ball=100)
    piece = Project(
        "piece",
        Chart.from_rows(["A" * 60] * 80),
        {"A": yarn},
        Gauge(20, 28),
        multiplier=MultiplierChoice(),
    )
    need = make_plan(piece).shopping_list.iloc[0]
    assert need.balls_to_buy * 50 * 0.91 >= need.total_m
    assert need.balls_to_buy == math.ceil(need.total_m / (50 * (1 - Allowances().label_error)))


def test_what_is_embroidered_comes_on_top():
    """By hand: 10 m are wound of A and 2 m embroidered, B is embroidered only; no swatch, and a
    tenth to spare, of B 5 cm, so 10 cm. The column stands only where something is embroidered."""
    multipliers = {letter: Multiplier(4, 0) for letter in "AB"}
    allow = Allowances(swatch_cm=0, spare=0.1)
    project = Project("two", Chart.from_rows(["AB"]), gauge=GAUGE, allow=allow)
    knitted = [("A", "bobbin", 600.0), ("A", "from the ball", 400.0)]
    embroidered = [("A", TO_EMBROIDER, 200.0), ("B", TO_EMBROIDER, 50.0)]
    both = yarn_needed(project, multipliers, knitted + embroidered)
    table = shopping_list(both).set_index("yarn")
    assert table.piece_cm.to_dict() == {"A": 1200, "B": 50}
    assert table.of_it_embroidered_cm.to_dict() == {"A": 200, "B": 50}
    assert table.total_cm.to_dict() == pytest.approx({"A": 1320, "B": 60})
    assert "of_it_embroidered_cm" not in shopping_list(yarn_needed(project, multipliers, knitted))


@pytest.mark.parametrize(
    ("metres", "in_hand", "to_buy", "balls_cm"),
    [
        (100, 0, 1, (10_000,)),  # exactly one ball
        (99, 0, 2, (9_900, 9_900)),
        (99, 0.5, 1, (4_950, 9_900)),  # the half ball is one to feed from, and half as long
        (99, 1.5, 0, (9_900, 4_950)),
        (99, 3, 0, (9_900, 9_900, 9_900)),
        # The band is lost: nothing can be counted, but something is fed from.
        (None, 0, None, (math.inf,)),
        (None, 2.5, None, (math.inf, math.inf, math.inf)),
    ],
)
def test_balls_to_buy_by_hand(metres, in_hand, to_buy, balls_cm):
    """100 m of yarn, bands that are right."""
    yarn = Yarn("A", metres_per_ball=metres, balls_in_hand=in_hand)
    needed = YarnNeeded(yarn, 9000, 0, 600, 400, label_error=0)
    assert (needed.to_buy, needed.balls_cm) == (to_buy, balls_cm)


def test_part_balls_are_in_hand():
    """By hand: a ball of 50 g and 100 m, and 20 g and 30 g of two begun: 200 m, and a tenth less if
    bands may say so much too much. Of 240 m one more is bought."""
    yarn = Yarn("A", metres_per_ball=100, grams_per_ball=50, balls_in_hand=1, part_balls_g=(20, 30))
    needed = YarnNeeded(yarn, 20_000, 0, 0, 0, label_error=0)
    assert needed.to_buy == 0
    assert needed.balls_cm == pytest.approx((10_000, 4_000, 6_000))
    light = YarnNeeded(yarn, 20_000, 0, 0, 0, label_error=0.1)
    assert light.to_buy == 1
    assert light.balls_cm == pytest.approx((9_000, 3_600, 5_400, 9_000))
    assert YarnNeeded(yarn, 24_000, 0, 0, 0, label_error=0).to_buy == 1
    assert shopping_list([needed]).balls_in_hand.tolist() == [2]
    third = replace(yarn, part_balls_g=(16.6667,))
    needed = YarnNeeded(third, 20_000, 0, 0, 0, label_error=0)
    assert shopping_list([needed]).balls_in_hand.tolist() == [1.33]
