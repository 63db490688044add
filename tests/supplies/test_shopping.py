"""The shopping list, against balls as they were weighed."""

import math

from planner import Chart, Gauge, Project, Yarn, make_plan
from planner.piece.settings import Allowances, MultiplierChoice


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
