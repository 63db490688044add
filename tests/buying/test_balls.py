"""Chances of balls against a simulation, odd metres against planning again."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from planner import Chart, Gauge, PlanError, Project, Yarn, make_plan
from planner.buying.balls import balls_table, copies, copies_table, mirrored, odd_metres, shop_for
from planner.piece.settings import BALL, Allowances, MultiplierChoice, OwnChoice
from planner.supplies import hanging_pieces
from planner.units import rounded_up
from tests.helpers.plans import demo, random_plan


def test_the_list_for_one_piece_is_the_plan_s():
    assert shop_for([demo()]).balls_to_buy.tolist() == demo().shopping_list.balls_to_buy.tolist()
    two = shop_for([demo()] * 2)
    assert two.piece_cm.tolist() == pytest.approx((2 * shop_for([demo()]).piece_cm).tolist())
    # Of two pieces more yarns take as much as a swatch of 15 m does, and there is one for both.
    for shopping in (shop_for([demo()]), two):
        swatches = [1500 if piece_cm > 1498 else 0 for piece_cm in shopping.piece_cm]
        assert shopping.swatch_cm.tolist() == swatches
    assert two.swatch_cm.sum() > shop_for([demo()]).swatch_cm.sum()


# The chance that so many balls suffice


def lines_to_embroider():
    """Eight upright lines of 30 single stitches, K on W, all of them embroidered afterwards.

    Without any error each takes 4 × 1.1 times 30 stitches of 0.5 cm and two tails, 96 cm, so 1.00 m
    is measured off.
    """
    choices = [OwnChoice("embroider", "K", 1, 2 * i, "whole", "by itself") for i in range(1, 9)]
    yarns = {"K": Yarn("K", metres_per_ball=8), "W": Yarn("W", metres_per_ball=20)}
    chart = Chart.from_rows(["WK" * 8 + "W"] * 30)
    return Project("lines", chart, yarns, Gauge(20, 28), choices=tuple(choices))


PLANS = {
    "estimate": demo,
    "measured": lambda: demo("measured"),
    "embroidered": lambda: make_plan(lines_to_embroider()),
    "many short ones": lambda: random_plan(5),
}


def measured_off(plan):
    """What is measured off for each part, its refills included, each piece rounded up."""
    lengths = dict.fromkeys((held.part.title for held in plan.held), 0.0)
    for piece in hanging_pieces(plan.traced, plan.held):
        lengths[piece.part] += rounded_up(piece.length_cm, plan.project.units)
    return lengths


def simulated_chance(plan, letter, balls, pieces=1, draws=40_000):
    """The share of knitters for whom so many balls do, drawn piece by piece and ball by ball.

    One multiplier for the yarn, each length's own noise (4 % of a metre, 2 % of a piece), and a
    wound length uses what was measured off or more. A band is off by ±10 % (published,
    tracykm.blogspot.com/2008/01), half of the variance common to all balls.
    """
    rng = np.random.default_rng(7)
    multiplier, allow, gauge = plan.multipliers[letter], plan.project.allow, plan.project.gauge
    m = rng.normal(multiplier.value, multiplier.spread, draws)

    def in_stitches(width_cm):
        length = multiplier.value * width_cm
        noise = math.hypot(0.4 * math.sqrt(length), 0.02 * length)
        return m * width_cm + rng.normal(size=draws) * noise

    cut, need = measured_off(plan), np.zeros(draws)
    # A swatch that takes more than the pieces is not knitted.
    pieces_cm = plan.shopping_list.set_index("yarn").piece_m[letter] * 100 * pieces
    swatch_widths_cm = allow.swatch_cm**2 / gauge.row_cm
    if multiplier.value * swatch_widths_cm <= pieces_cm:
        need = m * swatch_widths_cm
    embroidery = plan.embroidery[plan.embroidery.yarn == letter]
    for _ in range(pieces):
        for held in (held for held in plan.held if held.part.yarn == letter):
            part = held.part
            used = in_stitches(part.width_cm) + 2 * allow.tail_cm * held.refills
            used += part.carried_cm + part.cast_on_cm + part.bind_off_cm + part.tails_cm
            need += used if held.supply == BALL else np.maximum(used, cut[part.title])
        for length_m, stitches in zip(embroidery.length_m, embroidery.stitches, strict=True):
            used = in_stitches(1.1 * stitches * gauge.stitch_cm) + 2 * allow.tail_cm
            need += np.maximum(used, 100 * length_m)
    ball = 100 * plan.project.yarns[letter].metres_per_ball
    sd = 0.1 / math.sqrt(3) * math.sqrt(0.5)
    have = ball * balls * (1 + rng.normal(size=draws) * sd)
    for part_of in [1.0] * int(balls) + ([balls % 1] if balls % 1 else []):
        have += ball * part_of * sd * rng.normal(size=draws)
    return (need <= have).mean()


@pytest.mark.parametrize(
    ("name", "letter", "pieces"),
    [
        ("estimate", "N", 1),
        ("estimate", "N", 2),
        ("many short ones", "C", 4),
        ("measured", "N", 1),
        ("embroidered", "K", 2),
        ("embroidered", "K", 3),
    ],
)
def test_chance_by_simulation(name, letter, pieces):
    plan, checked = PLANS[name](), 0
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
    # Tails of 10 cm save 16 × 20 cm and 5 % of them, 3.36 m; the spare is of whole tenths.
    assert row.enough == "no"
    assert row.saves_at_most_m == pytest.approx(3.4)
    wide = replace(allow, spare=0.01)
    plan = make_plan(replace(plan.project, allow=wide))
    row = odd_metres([plan]).set_index("change").loc["shorter tails"]
    tail = float(row.what_would_do.split()[2])
    assert to_buy("N", allow=replace(wide, tail_cm=tail - 0.05)) == 0
    assert to_buy("N", allow=replace(wide, tail_cm=tail + 0.1)) == 1


ALLOWED = {
    "shorter tails": lambda figure: {"tail_cm": figure},
    "a smaller swatch": lambda figure: {"swatch_cm": figure},
    "less to spare": lambda figure: {"spare": figure / 100},
}


@pytest.mark.parametrize(
    ("way", "metres", "tail_cm"),
    [
        ("estimate", 42, 15),
        ("estimate", 44, 20),
        ("measured", 52, 20),
        ("estimate", 56, 15),
        ("measured", 50, 15),
        ("estimate", 62, 20),
    ],
)
def test_what_is_said_to_do_does_when_planned_again(way, metres, tail_cm):
    """Each length is rounded up, and so are swatch and spare: what would do is found among these
    sums, and a tenth more of it does not do."""
    plan, checked = demo(way), 0
    allow = replace(plan.project.allow, tail_cm=tail_cm)
    yarns = plan.project.yarns.items()
    others = {letter: replace(yarn, metres_per_ball=metres) for letter, yarn in yarns}
    project = replace(plan.project, yarns=others, allow=allow)

    def balls_to_buy(**changed):
        other = make_plan(replace(project, allow=replace(allow, **changed)))
        return shop_for([other]).set_index("yarn").balls_to_buy

    now = balls_to_buy()
    table = odd_metres([make_plan(project)])
    for row in table[(table.enough == "yes") & table.change.isin(ALLOWED)].itertuples():
        figure = float(re.search(r"-?[\d.]+", row.what_would_do).group())
        less = ALLOWED[row.change](max(0, figure - 0.05))
        more = ALLOWED[row.change](figure + 0.1)
        assert figure >= 0
        assert balls_to_buy(**less)[row.yarn] == now[row.yarn] - 1, (row.yarn, row.what_would_do)
        assert balls_to_buy(**more)[row.yarn] == now[row.yarn], (row.yarn, row.what_would_do)
        checked += 1
    assert checked


def test_what_you_measured_is_among_the_changes():
    table = odd_metres([demo()]).set_index("change")
    by_estimate, by_log = (
        shop_for([demo(way)]).set_index("yarn").total_cm["N"] for way in ("estimate", "measured")
    )
    saved_m = (by_estimate - by_log) / 100
    found = table.saves_at_most_m["plan by what you measured"]
    assert found == pytest.approx(saved_m, abs=0.006)


def test_a_yarn_without_a_swatch_has_none_to_make_smaller():
    """T of the demo, with a swatch and without, in balls of which it hardly uses the last."""
    for wanted, said in (("every yarn", True), ("the ground yarn", False), ("no yarn", False)):
        project = demo("measured").project
        allow = replace(project.allow, swatch_in=wanted)
        need = shop_for([demo("measured")]).set_index("yarn").loc["T"]
        assert need.swatch_cm
        without_cm = need.total_cm - (0 if said else need.swatch_cm)
        metres = (without_cm - 20) / 100 / (1 - allow.label_error)
        yarn = replace(project.yarns["T"], metres_per_ball=metres, balls_in_hand=0)
        yarns = {**project.yarns, "T": yarn}
        plan = make_plan(replace(project, yarns=yarns, allow=allow))
        table = odd_metres([plan])
        changes = table.change[table.yarn == "T"].tolist()
        assert "shorter tails" in changes
        assert ("a smaller swatch" in changes) is said


# Copies


def test_what_is_embroidered_is_bought_and_copied():
    """By hand, see `lines_to_embroider`: eight times 1.00 m of K, and W is one strand of 30 rows.

    A row of 17 stitches of 2 cm takes 34 cm; with two tails the strand is 10.50 m. A swatch of
    5 × 5 cm is 14 rows of 20 cm, 2.80 m. Spare is 5 %: 0.40 m and 52.5 cm, so 0.60 m; of two pieces
    0.80 m and 1.05 m, so 1.10 m.
    """
    allow = Allowances(cast_on=0, bind_off=0, swatch_cm=5, spare=0.05)
    four = MultiplierChoice("own", 4, 0)
    plan = make_plan(replace(lines_to_embroider(), allow=allow, multiplier=four))
    lengths = ["piece_cm", "of_it_embroidered_cm", "swatch_cm", "spare_cm", "total_cm"]
    one, two = (shop_for([plan] * times).set_index("yarn")[lengths] for times in (1, 2))
    assert one.loc["K"].tolist() == [800, 800, 280, 40, 1120]
    assert one.loc["W"].tolist() == pytest.approx([1050, 0, 280, 60, 1390])
    assert two.loc["K"].tolist() == [1600, 1600, 280, 80, 1960]
    assert two.loc["W"].tolist() == pytest.approx([2100, 0, 280, 110, 2490])
    assert (plan.shopping_list.total_m * 100).tolist() == pytest.approx(one.total_cm.tolist())
    assert plan.yarn_cm == 1850
    table = copies_table([plan, plan]).set_index("piece").loc["lines"]
    # One strand of W, and beside its ends two of each of the eight lines.
    # W comes from its ball.
    assert (table.strands, table.ends, table.lengths_to_wind, table.yarn_m) == (2, 36, 16, 37.0)


def test_copies_add_up():
    plans = copies(demo(), 3, mirrored_count=1)
    table = copies_table(plans).set_index("piece")
    assert table.copies.tolist() == [2, 1, 3]
    for name in ("strands", "ends", "lengths_to_wind", "copies"):
        assert table.loc["in all", name] == table[name][:-1].sum()
    assert table.strands["Harbour cushion"] == 66
    assert table.ends["Harbour cushion"] == 2 * len(demo().ends)
    winding = demo().winding_list
    assert (
        table.lengths_to_wind["Harbour cushion"] == 2 * winding.pieces[winding.supply != BALL].sum()
    )
    lengths_m = (winding.length_m * winding.pieces).sum()
    assert table.yarn_m["Harbour cushion"] == pytest.approx(2 * lengths_m)
    assert table.yarn_m["in all"] == pytest.approx(table.yarn_m[:-1].sum())
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
