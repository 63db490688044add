"""Chances of balls against a simulation, odd metres against planning again."""

import math
from dataclasses import replace

import numpy as np
import pytest

from planner import Chart, Gauge, PlanError, Project, Yarn, make_plan
from planner.buying.balls import balls_table, copies, copies_table, mirrored, odd_metres, shop_for
from planner.piece.settings import BALL, Allowances, MultiplierChoice, OwnChoice
from tests.helpers.parts import parts_table
from tests.helpers.plans import demo


def test_the_list_for_one_piece_is_the_plan_s():
    assert shop_for([demo()]).balls_to_buy.tolist() == demo().shopping_list.balls_to_buy.tolist()
    two = shop_for([demo()] * 2)
    assert two.piece_cm.tolist() == pytest.approx((2 * shop_for([demo()]).piece_cm).tolist())
    assert two.swatch_cm.tolist() == shop_for([demo()]).swatch_cm.tolist()


# The chance that so many balls suffice


def simulated_chance(plan, letter, balls, pieces=1, draws=40_000):
    """The share of knitters for whom so many balls do, drawn piece by piece and ball by ball.

    One multiplier for the yarn, each strand's own noise (4 % of a metre, 2 % of a piece), and a
    wound strand uses what was cut or more. A band is off by ±10 % (published,
    tracykm.blogspot.com/2008/01), half of the variance common to all balls.
    """
    rng = np.random.default_rng(7)
    parts = parts_table(plan.traced, plan.multipliers, plan.project.allow)
    parts, held = parts[parts.yarn == letter], plan.supplies[plan.supplies.yarn == letter]
    multiplier, allow, gauge = plan.multipliers[letter], plan.project.allow, plan.project.gauge
    m = rng.normal(multiplier.value, multiplier.spread, draws)
    need = m * allow.swatch_cm**2 / gauge.row_cm
    for _ in range(pieces):
        for part, supply in zip(parts.itertuples(), held.supply, strict=True):
            length = multiplier.value * part.width_cm
            noise = math.hypot(0.4 * math.sqrt(length), 0.02 * length)
            used = m * part.width_cm + rng.normal(size=draws) * noise
            cut = part.worked_cm + part.margin_cm
            need += used if supply == BALL else np.maximum(used, cut)
            need += part.carried_cm + part.cast_on_cm + part.bind_off_cm + part.tails_cm
    ball = 100 * plan.project.yarns[letter].metres_per_ball
    sd = 0.1 / math.sqrt(3) * math.sqrt(0.5)
    have = ball * balls * (1 + rng.normal(size=draws) * sd)
    for part_of in [1.0] * int(balls) + ([balls % 1] if balls % 1 else []):
        have += ball * part_of * sd * rng.normal(size=draws)
    return (need <= have).mean()


@pytest.mark.parametrize(
    ("way", "letter", "pieces"),
    [("estimate", "N", 1), ("estimate", "N", 2), ("estimate", "Y", 2), ("measured", "N", 1)],
)
def test_chance_by_simulation(way, letter, pieces):
    plan, checked = demo(way), 0
    table = balls_table([plan] * pieces)
    for row in table[table.yarn == letter].itertuples():
        chance = simulated_chance(plan, letter, row.balls_in_hand + row.balls_to_buy, pieces)
        assert row.chance_percent == pytest.approx(100 * chance, abs=2.5)
        checked += 5 < 100 * chance < 98
    assert checked


def test_chance_without_any_error_is_yes_or_no():
    """40 stitches of 2 cm a row, 20 rows: 16 m, 15 cm tails, no margin: a ball of 16.30 m does, one
    of 16.29 m does not."""
    for metres, balls in ((16.3, 1), (16.29, 2), (8.15, 2), (8.149, 3)):
        allow = Allowances(15, 0, 0, swatch_cm=0, label_error=0)
        project = Project(
            "piece",
            Chart.from_rows(["A" * 40] * 20),
            {"A": Yarn("A", metres_per_ball=metres)},
            Gauge(20, 28),
        )
        plan = make_plan(replace(project, allow=allow, multiplier=MultiplierChoice("own", 4, 0)))
        joins = 0.3 * int(plan.supplies.refills.sum())
        table = balls_table([plan])
        needed = math.ceil((16.3 + joins) / metres - 1e-9)
        assert needed >= balls
        assert table[["balls_to_buy", "chance_percent", "enough"]].to_numpy().tolist() == [
            [needed, 100, "yes"]
        ]


def test_more_balls_more_chance():
    table = balls_table([demo()] * 3)
    for _, of_yarn in table.groupby("yarn"):
        chances = of_yarn.chance_percent
        assert chances.is_monotonic_increasing
        assert (chances <= of_yarn.reusing_left_overs_percent).all()
        # The fewest that are enough are marked once, with the chance that is wanted.
        assert chances[of_yarn.enough == "yes"].item() >= 95


def test_a_yarn_without_a_band_is_left_out():
    yarns = demo().project.yarns | {"N": Yarn("N")}
    assert "N" not in balls_table([make_plan(replace(demo().project, yarns=yarns))]).yarn.tolist()


# The odd metre


def to_buy(letter, **asked):
    """How many balls to buy of a yarn for the demo, planned again with these settings."""
    plan = make_plan(replace(demo("measured").project, **asked))
    return shop_for([plan]).set_index("yarn").balls_to_buy[letter]


def test_odd_metres_are_what_planning_again_says():
    """N is 3.23 m into its second ball. Each change that is said to be enough brings one ball less,
    and a little less of it does not."""
    table = odd_metres([demo("measured")]).set_index("change")
    assert set(table.yarn) == {"N"}
    assert to_buy("N") == 1
    allow = demo("measured").project.allow
    side = float(table.what_would_do["a smaller swatch"].split()[3])
    spare = float(table.what_would_do["less to spare"].split()[0]) / 100
    assert to_buy("N", allow=replace(allow, swatch_cm=side - 0.05)) == 0
    assert to_buy("N", allow=replace(allow, swatch_cm=side + 0.1)) == 1
    assert to_buy("N", allow=replace(allow, spare=spare - 0.0005)) == 0
    assert to_buy("N", allow=replace(allow, spare=spare + 0.001)) == 1
    assert table.enough.to_dict() == {
        "shorter tails": "no",
        "a smaller swatch": "yes",
        "less to spare": "yes",
        "fewer strands": "no",
    }
    assert to_buy("N", allow=replace(allow, tail_cm=10)) == 1


def test_tails_that_would_do_are_what_planning_again_says():
    """With long tails the same yarn is over by them."""
    allow = replace(demo("measured").project.allow, tail_cm=30)
    plan = make_plan(replace(demo("measured").project, allow=allow))
    row = odd_metres([plan]).set_index("change").loc["shorter tails"]
    assert row.enough == "no"  # tails of 10 cm save 3.36 m of 5.75 m
    assert row.saves_at_most_m == pytest.approx(16 * 0.20 * 1.05, abs=0.01)
    wide = replace(allow, spare=0.015)
    plan = make_plan(replace(plan.project, allow=wide))
    row = odd_metres([plan]).set_index("change").loc["shorter tails"]
    tail = float(row.what_would_do.split()[2])
    assert to_buy("N", allow=replace(wide, tail_cm=tail - 0.05)) == 0
    assert to_buy("N", allow=replace(wide, tail_cm=tail + 0.1)) == 1


def test_what_you_measured_is_among_the_changes():
    table = odd_metres([demo()]).set_index("change")
    by_estimate, by_log = (
        shop_for([demo(way)]).set_index("yarn").total_cm["N"] for way in ("estimate", "measured")
    )
    saved_m = (by_estimate - by_log) / 100
    found = table.saves_at_most_m["plan by what you measured"]
    assert found == pytest.approx(saved_m, abs=0.006)


# Copies


def test_copies_add_up():
    plans = copies(demo(), 3, mirrored_count=1)
    table = copies_table(plans).set_index("piece")
    assert table.copies.tolist() == [2, 1, 3]
    for name in ("strands", "ends", "pieces_to_wind", "copies"):
        assert table.loc["in all", name] == table[name][:-1].sum()
    assert table.strands["Harbour cushion"] == 66
    assert table.ends["Harbour cushion"] == 2 * len(demo().ends)
    wound = demo().winding_list.pieces[demo().winding_list.supply != BALL].sum()
    assert table.pieces_to_wind["Harbour cushion"] == 2 * wound
    with pytest.raises(PlanError, match="mirrored"):
        copies(demo(), 1, mirrored_count=2)


def test_mirrored_twice_is_the_piece():
    twice = mirrored(mirrored(demo()))
    assert twice.traced.chart == demo().traced.chart
    assert twice.strands.equals(demo().strands)


def test_mirrored_and_by_the_other_hand():
    """A mirrored chart worked by the other hand is the same work seen in a mirror, so it takes as
    many strands."""
    turned = mirrored(demo())
    how = replace(turned.project.how, hand="left")
    by_other_hand = make_plan(replace(turned.project, how=how))
    assert by_other_hand.traced.count == demo().traced.count == 33
    assert turned.traced.count == 35

    def strands_by_yarn(plan):
        return plan.traced.table().yarn.value_counts().to_dict()

    assert strands_by_yarn(by_other_hand) == strands_by_yarn(demo())
    assert (strands_by_yarn(demo())["K"], strands_by_yarn(turned)["K"]) == (3, 4)


def test_choices_are_mirrored():
    choice = OwnChoice("supply", "K", 12, 1, "whole", BALL)
    turned = mirrored(make_plan(replace(demo().project, choices=(choice,))))
    assert [chosen.stitch for chosen in turned.project.choices] == [72]
