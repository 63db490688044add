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
    """Piece by piece and ball by ball: one multiplier for the yarn, each strand's own noise (4 % of
    a metre, 2 % of a piece), a wound strand uses what was cut or more; a band is off by ±10 %
    (published, tracykm.blogspot.com/2008/01), half of the variance common to all balls."""
    rng = np.random.default_rng(7)
    parts = parts_table(plan.traced, plan.multipliers, plan.project.allow)
    parts, held = parts[parts.yarn == letter], plan.supplies[plan.supplies.yarn == letter]
    multiplier, allow, gauge = plan.multipliers[letter], plan.project.allow, plan.project.gauge
    m = rng.normal(multiplier.value, multiplier.spread, draws)
    need = m * allow.swatch_cm**2 / gauge.row_cm
    for _ in range(pieces):
        for part, supply in zip(parts.itertuples(), held.supply, strict=True):
            length = multiplier.value * part.width_cm
            used = m * part.width_cm + rng.normal(size=draws) * math.hypot(
                0.4 * math.sqrt(length), 0.02 * length
            )
            cut = part.worked_cm + part.margin_cm
            need += (
                (used if supply == BALL else np.maximum(used, cut))
                + part.carried_cm
                + part.cast_on_cm
                + part.bind_off_cm
            )
            need += part.tails_cm
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
    for _, some in table.groupby("yarn"):
        assert some.chance_percent.is_monotonic_increasing
        assert (some.chance_percent <= some.reusing_left_overs_percent).all()
        assert (some.enough == "yes").sum() == 1
        assert some.chance_percent[some.enough == "yes"].item() >= 95


def test_a_yarn_without_a_band_is_left_out():
    yarns = demo().project.yarns | {"N": Yarn("N")}
    assert "N" not in balls_table([make_plan(replace(demo().project, yarns=yarns))]).yarn.tolist()


# The odd metre


def to_buy(letter, **asked):
    return (
        shop_for([make_plan(replace(demo("measured").project, **asked))])
        .set_index("yarn")
        .balls_to_buy[letter]
    )


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
    row = (
        odd_metres([make_plan(replace(plan.project, allow=wide))])
        .set_index("change")
        .loc["shorter tails"]
    )
    tail = float(row.what_would_do.split()[2])
    assert to_buy("N", allow=replace(wide, tail_cm=tail - 0.05)) == 0
    assert to_buy("N", allow=replace(wide, tail_cm=tail + 0.1)) == 1


def test_what_you_measured_is_among_the_changes():
    table = odd_metres([demo()]).set_index("change")
    saved = (
        shop_for([demo()]).set_index("yarn").total_cm["N"]
        - shop_for([demo("measured")]).set_index("yarn").total_cm["N"]
    )
    assert table.saves_at_most_m["plan by what you measured"] == pytest.approx(
        saved / 100, abs=0.006
    )


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
    other = mirrored(demo())
    left = make_plan(replace(other.project, how=replace(other.project.how, hand="left")))
    assert left.traced.count == demo().traced.count == 33
    assert other.traced.count == 35
    by_yarn = [plan.traced.table().yarn.value_counts().to_dict() for plan in (demo(), left, other)]
    assert by_yarn[0] == by_yarn[1]
    assert (by_yarn[0]["K"], by_yarn[2]["K"]) == (3, 4)


def test_choices_are_mirrored():
    choice = OwnChoice("supply", "K", 12, 1, "whole", BALL)
    assert (
        mirrored(make_plan(replace(demo().project, choices=(choice,)))).project.choices[0].stitch
        == 72
    )


@pytest.mark.parametrize(
    ("lot", "balls", "lots"),
    [
        ("", 2, {"": 2}),
        ("041", 1.5, {"041": 1.5}),
        ("2 of 114, 1 of 131", 3, {"114": 2, "131": 1}),
        ("1.5 of lot 114; 1 of lot 131", 2.5, {"114": 1.5, "131": 1}),
        ("lot of 9", 1, {"lot of 9": 1}),
    ],
)
def test_lots_of_a_yarn(lot, balls, lots):
    assert Yarn("A", dye_lot=lot, balls_in_hand=balls).lots == lots


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (
            lambda: Yarn("A", dye_lot="2 of 114, 1 of 131", balls_in_hand=4),
            ["Yarn A", "3 balls", "4"],
        ),
        (lambda: Yarn("A", dye_lot="1.2.3 of 114", balls_in_hand=4), ["Yarn A", "114", "1.2.3"]),
    ],
)
def test_wrong_arguments(make, words):
    with pytest.raises(PlanError) as caught:
        make()
    assert [word for word in words if word not in str(caught.value)] == [], str(caught.value)
